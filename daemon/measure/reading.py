"""What comes out of a still stretch of a level's stream, and what a placement leaves open in it."""

import math
from dataclasses import dataclass

from daemon.measure.angle.budget import Line
from shared.angles import wrap_deg
from shared.events import Sense
from shared.profile import LevelProfile


@dataclass(slots=True)
class Reading:
    """A robust average of one still stretch, in the level's own convention, degrees.

    Attributes:
        mean_deg: the average, in (-180, 180].
        u_deg: standard uncertainty of the average: noise and its autocorrelation. What the
            resolution adds is not in here but in `resolution_deg`, so that it is counted once.
        dof: degrees of freedom of `u_deg`.
        n: samples that were averaged, outliers left out.
        sd_deg: standard deviation of one sample.
        lag1: lag-1 autocorrelation that was assumed in `u_deg`.
        reached: False when the longest time ended before the target was reached.
        psi_deg: elevation of the span (asin of its vertical part), where the level knows it.
        u_psi_deg: standard uncertainty of `psi_deg`.
        resolution_deg: the step of the level's own display.
        u_rounding_deg: standard uncertainty that rounding leaves in the average, where the
            noise is known to dither it; None: all of it, resolution / (2 sqrt 3).
    """

    mean_deg: float
    u_deg: float
    dof: float
    n: int
    sd_deg: float
    lag1: float
    reached: bool
    psi_deg: float | None
    u_psi_deg: float | None
    resolution_deg: float
    u_rounding_deg: float | None = None


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


def _rounding(reading: Reading) -> float:
    if reading.u_rounding_deg is not None:
        return reading.u_rounding_deg
    return reading.resolution_deg / math.sqrt(12.0)


def placing_lines(reading: Reading, profile: LevelProfile) -> tuple[Line, ...]:
    """What every placement draws anew, in the level's own reading."""
    seating = profile.seating
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
            seating.u_deg,
            seating.n - 1.0 if seating.n > 1 else math.inf,
        ),
    )
