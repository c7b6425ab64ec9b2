"""An angle with its budget: of one placement, or the mean of several."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from daemon.measure.angle.budget import Budget, Common, Line
from shared.angles import mean_deg

NEGLIGIBLE_DEG = 1e-9


@dataclass(frozen=True, slots=True)
class BladeAngle:
    """A blade angle and what is known about its errors, degrees."""

    angle_deg: float
    budget: Budget


def mean_of(placements: Sequence[BladeAngle]) -> BladeAngle:
    """Mean of several placements of the same blade.

    What every placement draws anew (seating, averaging, skew) shrinks; what they share
    stays, with its sign, so that two placements in opposite senses lose the zero error.

    Raises:
        ValueError: no placements.
    """
    if not placements:
        raise ValueError("a mean needs at least one placement")
    n = len(placements)
    groups: dict[tuple[str, Common], list[Line]] = {}
    for placement in placements:
        for line in placement.budget.lines:
            groups.setdefault((line.name, line.common), []).append(line)
    lines = [_merged(group, n) for group in groups.values()]
    angle = mean_deg([placement.angle_deg for placement in placements])
    return BladeAngle(angle, Budget(tuple(line for line in lines if line.u_deg > NEGLIGIBLE_DEG)))


def _merged(group: Sequence[Line], n: int) -> Line:
    first = group[0]
    if first.common != "none":
        signed = math.fsum(line.sign * line.u_deg for line in group) / n
        return replace(first, u_deg=abs(signed), sign=-1 if signed < 0.0 else 1)
    squares = math.fsum(line.u_deg**2 for line in group)
    if first.kind == "A" and first.name == "averaging":
        below = math.fsum(line.u_deg**4 / line.dof for line in group if math.isfinite(line.dof))
        dof = squares * squares / below if below > 0.0 else math.inf
    else:
        dof = first.dof
    shape = first.shape if len(group) == 1 else "normal"
    return replace(first, u_deg=math.sqrt(squares) / n, dof=dof, shape=shape)
