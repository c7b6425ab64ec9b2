"""The uncertainty budget of a blade angle, line by line (JCGM 100:2008)."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from daemon.measure.quantiles import Z95, box_and_normal_95, t95

Common = Literal[
    "none",  # every placement draws it anew
    "blade",  # placements of one blade share it, blades do not
    "zero",
    "reference",
    "gain",
    "cross-axis",
    "temperature",
    "face",
]
"""The cause that a line shares with other angles."""


@dataclass(frozen=True, slots=True)
class Line:
    """One cause.

    Attributes:
        name: the cause, as in `verdict.REMEDY`.
        kind: A (from observations) or B (from elsewhere).
        u_deg: standard uncertainty it puts into the blade angle.
        dof: degrees of freedom of `u_deg`; inf where it is not in doubt.
        common: what it shares with other blade angles.
        sign: which way the shared cause moves this angle; opposite signs add in a difference.
        shape: distribution the cause was drawn from.
    """

    name: str
    kind: Literal["A", "B"]
    u_deg: float
    dof: float = math.inf
    common: Common = "none"
    sign: int = 1
    shape: Literal["normal", "rectangular"] = "normal"


@dataclass(frozen=True, slots=True)
class Budget:
    """The lines, and what they come to together."""

    lines: tuple[Line, ...]

    @property
    def u_deg(self) -> float:
        """Combined standard uncertainty: root sum of squares (JCGM 100, 5.1.2)."""
        return math.sqrt(math.fsum(line.u_deg**2 for line in self.lines))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom: Welch-Satterthwaite (JCGM 100, G.4.1)."""
        return _effective(self.lines)

    @property
    def u95_deg(self) -> float:
        """Half-width of the 95 % interval.

        Student's t with the effective degrees of freedom; where one rectangular line stands
        out, the exact sum of that rectangle and a normal instead, because a rectangle has no
        tails and two standard uncertainties of it would be more than all of it.
        """
        return _half_width_95(self.lines)


def _effective(lines: Sequence[Line]) -> float:
    total = math.fsum(line.u_deg**2 for line in lines)
    below = math.fsum(line.u_deg**4 / line.dof for line in lines if math.isfinite(line.dof))
    return math.inf if below <= 0.0 else max(1.0, total * total / below)


def _half_width_95(lines: Sequence[Line]) -> float:
    boxes = [line for line in lines if line.shape == "rectangular"]
    largest = max(boxes, key=lambda line: line.u_deg, default=None)
    total = math.sqrt(math.fsum(line.u_deg**2 for line in lines))
    if largest is None or largest.u_deg < 0.3 * total:
        return t95(_effective(lines)) * total
    rest = [line for line in lines if line is not largest]
    spread = math.sqrt(math.fsum(line.u_deg**2 for line in rest))
    widened = spread * t95(_effective(rest)) / Z95 if rest else 0.0
    return box_and_normal_95(largest.u_deg * math.sqrt(3.0), widened)


def difference(a: Budget, b: Budget) -> Budget:
    """Budget of (angle a - angle b): what both share cancels as far as sign and size agree.

    Lines with the same name and the same common cause are fully correlated; all others are
    independent and add.
    """
    lines: list[Line] = []
    unmatched = list(b.lines)
    for line in a.lines:
        twin = _twin(line, unmatched)
        if twin is None:
            lines.append(line)
            continue
        unmatched.remove(twin)
        left = line.sign * line.u_deg - twin.sign * twin.u_deg
        lines.append(replace(line, u_deg=abs(left), sign=-1 if left < 0.0 else 1))
    lines.extend(unmatched)
    return Budget(tuple(line for line in lines if line.u_deg > 1e-9))


def _twin(line: Line, among: Sequence[Line]) -> Line | None:
    if line.common in {"none", "blade"}:
        return None
    for other in among:
        if other.common == line.common and other.name == line.name:
            return other
    return None
