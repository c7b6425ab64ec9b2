"""The shaft's tilt: the reference that every blade angle hangs on."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from daemon.measure.angle import BladeAngle, mean_deg, mean_of
from daemon.measure.budget import Budget, Line
from daemon.measure.reading import Reading, placing_lines, seat_angle_deg
from shared.angles import wrap_deg
from shared.events import Sense
from shared.profile import LevelProfile

SQRT3 = math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Reference:
    """The shaft's tilt, nose-up positive.

    Attributes:
        theta_deg: the tilt.
        u_deg: standard uncertainty without the level's zero error, which may cancel.
        dof: degrees of freedom of `u_deg`.
        sense: which way the level pointed.
        n: placements behind it.
        zero: how much of the level's zero error is in `theta_deg`: -1 from a surface in
            normal sense, +1 reversed, 0 from both sides of one blade.
        reading_deg: mean reading of the level, for its gain error.
    """

    theta_deg: float
    u_deg: float
    dof: float
    sense: Sense
    n: int
    zero: float = -1.0
    reading_deg: float = 0.0


def reference_angle(
    readings: Sequence[Reading],
    profile: LevelProfile,
    sense: Sense,
    wobble_deg: float = 0.0,
    nose_up: bool = True,
) -> Reference:
    """Shaft's tilt from placements on a surface in the plane of rotation.

    Args:
        readings: one a placement, at least one, all in the same sense.
        profile: the level.
        sense: which way it pointed.
        wobble_deg: half difference between two hub positions half a turn apart; enter their
            readings together and the mean is free of it; from one position it is an error.
        nose_up: for a projection level only, which cannot tell nose-up from nose-down.

    Raises:
        ValueError: no readings.
    """
    if not readings:
        raise ValueError("a reference needs at least one reading")
    angles = [seat_angle_deg(reading.mean_deg, profile, sense) for reading in readings]
    mean = mean_deg(angles)
    placed = [BladeAngle(0.0, Budget(placing_lines(reading, profile))) for reading in readings]
    lines = (*mean_of(placed).budget.lines, Line("wobble", "B", wobble_deg / SQRT3))
    budget = Budget(lines)
    zero = -1.0 if sense == "normal" else 1.0
    theta = -mean
    if profile.convention == "projection":
        side = 1.0 if nose_up else -1.0
        theta, zero = side * (90.0 - abs(mean)), side * zero * math.copysign(1.0, mean)
    return Reference(theta, budget.u_deg, budget.dof, sense, len(readings), zero, angles[0])


def reference_from_both_sides(
    up: BladeAngle, down: BladeAngle, sense: Sense, n: int = 1
) -> Reference:
    """Shaft's tilt from one blade read on both sides of the aircraft with theta taken as 0.

    Leading edge up it reads beta - theta, on the other side beta + theta; the level in the
    same sense both times, so its zero is in beta and not in theta.
    """
    theta = wrap_deg(down.angle_deg - up.angle_deg) / 2.0
    lines = [line for each in (up, down) for line in each.budget.lines if line.common == "none"]
    budget = Budget(tuple(replace(line, u_deg=line.u_deg / 2.0) for line in lines))
    return Reference(theta, budget.u_deg, budget.dof, sense, n, 0.0, up.angle_deg)


def closure_deg(first: Reference, last: Reference) -> tuple[float, float]:
    """Last reference minus the first, and the standard uncertainty of that difference."""
    return last.theta_deg - first.theta_deg, math.hypot(first.u_deg, last.u_deg)
