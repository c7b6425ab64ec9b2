"""The shaft's tilt: the reference that every blade angle hangs on."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import NEGLIGIBLE_DEG, BladeAngle, mean_of
from daemon.measure.angle.placement import placing_lines, seat_angle_deg
from daemon.measure.stream.reading import Reading
from shared.angles import difference_deg, mean_deg, wrap_deg
from shared.events import Sense
from shared.profile import LevelProfile

Askew = tuple[float, float]
"""Standard uncertainties of the hub's azimuth and of how squarely the level lies on it."""
SQUARE: Askew = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Reference:
    """The shaft's tilt, nose-up positive.

    Attributes:
        theta_deg: the tilt.
        u_deg: standard uncertainty without the level's zero error, which may cancel.
        dof: degrees of freedom of `u_deg`.
        sense: which way the level pointed.
        zero: how much of the level's zero error is in `theta_deg`: -1 from a surface in
            normal sense, +1 reversed, 0 from both sides of one blade.
        reading_deg: mean reading of the level, for its gain error.
    """

    theta_deg: float
    u_deg: float
    dof: float
    sense: Sense
    zero: float = -1.0
    reading_deg: float = 0.0


def reference_angle(
    readings: Sequence[Reading],
    profile: LevelProfile,
    sense: Sense,
    nose_up: bool = True,
    askew: Askew = SQUARE,
) -> Reference:
    """Shaft's tilt from placements on a surface in the plane of rotation.

    Args:
        readings: one a placement, at least one, all in the same sense.
        profile: the level.
        sense: which way it pointed.
        nose_up: for a projection level only, which cannot tell nose-up from nose-down.
        askew: for a projection level only, how squarely level and hub stood.

    Raises:
        ValueError: no readings.
    """
    if not readings:
        raise ValueError("a reference needs at least one reading")
    angles = [seat_angle_deg(reading.mean_deg, profile, sense) for reading in readings]
    mean = mean_deg(angles)
    theta, zero = -mean, -1.0 if sense == "normal" else 1.0
    lines: tuple[Line, ...] = ()
    if profile.convention == "projection":
        side, off = 1.0 if nose_up else -1.0, 90.0 - abs(mean)
        zero *= side * math.copysign(1.0, mean)
        too_much, lines = _askew(off, askew)
        theta = side * (off - too_much)
    placed = [BladeAngle(0.0, Budget((*placing_lines(r, profile), *lines))) for r in readings]
    budget = mean_of(placed).budget
    return Reference(theta, budget.u_deg, budget.dof, sense, zero, angles[0])


def _askew(off_deg: float, askew: Askew) -> tuple[float, tuple[Line, ...]]:
    """How much too much tilt a projection level shows on average, and what that leaves open.

    It shows asin(cos(theta) cos(e)), e = psi - skew: near its fold hypot(theta, e) below 90.
    To second order in e (JCGM 100, 5.1.2 note) the tilt is off - e^2 cot(off) / 2.
    """
    psi, skew = (math.radians(u) for u in askew)
    slope = math.degrees(1.0 / math.tan(math.radians(max(off_deg, NEGLIGIBLE_DEG))))
    own = math.hypot(skew**2 / math.sqrt(2.0), psi * skew)
    lines = (
        Line("skew", "B", slope * own),
        Line("psi", "B", slope * psi**2 / math.sqrt(2.0), common="reference"),
    )
    return 0.5 * slope * (psi**2 + skew**2), lines


def in_force(
    tilt: BladeAngle, profile: LevelProfile, sense: Sense, reading_deg: float
) -> Reference:
    """Return a tilt of the shaft as what blade angles are referred to.

    The level's zero is kept apart from its uncertainty, because it may cancel in a blade
    angle; all else hangs on every one of them.

    reading_deg: what the level showed, in normal sense.
    """
    zeros = [line for line in tilt.budget.lines if line.common == "zero"]
    rest = Budget(tuple(line for line in tilt.budget.lines if line.common != "zero"))
    stated = profile.accuracy.zero_deg / math.sqrt(3.0)
    zero = math.fsum(line.sign * line.u_deg for line in zeros) / stated if zeros else 0.0
    return Reference(tilt.angle_deg, rest.u_deg, rest.dof, sense, zero, reading_deg)


def lean_u_deg(wobble_deg: float) -> float:
    """Standard uncertainty that a surface leaning by so much leaves in one hub position.

    Nobody knows which way round it leans: wobble / sqrt(2), as of a sine of unknown phase
    (JCGM 101:2008, 6.4.6, the arc sine distribution).
    """
    return wobble_deg / math.sqrt(2.0)


def two_positions(first_deg: float, second_deg: float) -> tuple[float, float]:
    """Tilt and wobble of a surface read at two hub positions half a turn apart.

    The mean is the shaft's, half the difference is the surface's own error.
    """
    half = difference_deg(first_deg, second_deg) / 2.0
    return wrap_deg(second_deg + half), abs(half)


def turned_mean(
    first: BladeAngle, second: BladeAngle, u_psi_deg: float, wobble_deg: float = 0.0
) -> BladeAngle:
    """Return the shaft's tilt from a surface at two hub positions half a turn apart.

    The surface leans by some amount against the plane of rotation and goes round with the
    hub: the mean is free of what half the difference shows, the wobble. What leans across is
    not seen; it comes in as far as the turn was not a half, and is taken as large as the
    wobble, or as `wobble_deg` where the job states more.

    u_psi_deg: how well the hub was brought to each of the two positions.
    """
    mean = mean_of([first, second])
    _, wobble = two_positions(first.angle_deg, second.angle_deg)
    line = Line("wobble", "B", _missed(max(wobble, wobble_deg), u_psi_deg))
    return BladeAngle(mean.angle_deg, Budget((*mean.budget.lines, line)))


def _missed(lean_deg: float, u_psi_deg: float) -> float:
    """What a half turn that is not quite one lets in of a surface's lean."""
    return 0.5 * math.sin(math.radians(math.sqrt(2.0) * u_psi_deg)) * lean_deg
