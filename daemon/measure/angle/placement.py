"""One placement of a level: what it shows on its seat, and what every placement leaves open."""

import math

from daemon.measure.angle.budget import Line
from daemon.measure.stream.reading import Reading
from shared.angles import wrap_deg
from shared.events import Sense
from shared.profile import LevelProfile


def seat_angle_deg(
    reading_deg: float, profile: LevelProfile, sense: Sense, *, beyond: bool = False
) -> float:
    """Return the reading as it would be in normal sense.

    beyond: on a blade that stands on the other side of the aircraft, leading edge down, where
    a level that counts the full circle shows half a turn more.
    """
    if sense == "normal":
        return reading_deg
    if profile.convention == "projection":
        return -reading_deg
    folded = wrap_deg(-2.0 * reading_deg) / 2.0
    if beyond:
        return wrap_deg(folded + 180.0)
    return 0.0 if folded == 0.0 else folded


ASSUMED_DOF = 4.0
"""Degrees of freedom of a seating that nobody measured: an assumption is not knowledge."""
LEAST_SEATING_DEG = 1e-6
"""A seating is not believed to be better than the millionth to which angles are stated."""


SWAY = "sway"


def _rounding(reading: Reading) -> float:
    if reading.u_rounding_deg is not None:
        return reading.u_rounding_deg
    return reading.resolution_deg / math.sqrt(12.0)


def placing_lines(reading: Reading, profile: LevelProfile) -> tuple[Line, ...]:
    """What every placement draws anew, in the level's own reading."""
    seating, u_sway = profile.seating, reading.u_sway_deg
    return (
        Line("averaging", "A", reading.u_deg, reading.dof),
        Line(
            "resolution",
            "B",
            _rounding(reading),
            # placements that differ by less than a step are rounded alike
            common="none" if seating.u_deg >= 0.3 * reading.resolution_deg else "blade",
            shape="rectangular",
        ),
        Line(
            "seating",
            "A" if seating.n > 1 else "B",
            max(seating.u_deg, LEAST_SEATING_DEG),
            seating.n - 1.0 if seating.n > 1 else ASSUMED_DOF,
        ),
        *((Line(SWAY, "B", u_sway),) if u_sway else ()),
    )
