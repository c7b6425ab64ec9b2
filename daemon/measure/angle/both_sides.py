"""The shaft's tilt from one blade that is read on both sides of the aircraft.

A shaft that is nose-up by theta takes theta from the reading of a blade with its leading edge
up, and adds it half a turn further on, where the same blade has its leading edge down. Read as
if the shaft were level they differ by twice the tilt, and the blade's own angle drops out; so
do the face and, with the level on the same end both times, the zero of a level that counts the
full circle. (A projection level's zero stays in the tilt, and drops out of the blade angle.)
"""

import math
from dataclasses import replace

from daemon.measure.angle.blade import SQRT3, blade_reading
from daemon.measure.angle.budget import Budget, Line, difference
from daemon.measure.angle.geometry import azimuth_deg
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.reference import Reference
from daemon.measure.stream.reading import Reading
from shared.angles import wrap_deg
from shared.events import Sense
from shared.job import Job
from shared.profile import LevelProfile

HALF_A_TURN = 180.0


def on_a_level_shaft(
    reading: Reading, profile: LevelProfile, job: Job, sense: Sense, *, beyond: bool
) -> BladeAngle:
    """Return the blade angle as it would be were the shaft level: the true one -+ the tilt.

    Args:
        reading: the averaged reading.
        profile: the level it came from.
        job: propeller and set-up, as for `blade_reading`.
        sense: which way the level pointed, seen from the blade's leading edge.
        beyond: the blade stands on the other side, leading edge down.
    """
    psi, u = 0.0, job.setup.psi_u_deg
    if reading.psi_deg is not None:
        psi = azimuth_deg(reading.psi_deg, 0.0)
        u = math.hypot(reading.u_psi_deg or 0.0, profile.accuracy.zero_deg / SQRT3)
    side = HALF_A_TURN if beyond else 0.0
    level = Reference(0.0, 0.0, math.inf, sense, 0.0, -side)
    at = (wrap_deg(side - psi) if beyond else psi, u)
    angle = blade_reading(reading, profile, job, sense, level, at, play=False)
    lift = Line("lift", "B", job.setup.lift_u_deg)
    return BladeAngle(angle.angle_deg, Budget((*angle.budget.lines, lift)))


def tilt_of(up: BladeAngle, down: BladeAngle) -> BladeAngle:
    """Return the shaft's tilt, nose-up positive: half of what the second side reads more."""
    twice = difference(down.budget, up.budget).lines
    lines = tuple(replace(line, u_deg=line.u_deg / 2.0) for line in twice)
    return BladeAngle(wrap_deg(down.angle_deg - up.angle_deg) / 2.0, Budget(lines))
