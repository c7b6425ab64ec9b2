"""What to look at before a reading is believed: a wrong sign, face, mode, side or blade.

Asked and never corrected: each returns the question in words, or None when the reading is plausible.
"""

import math

from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import seat_angle_deg
from daemon.measure.angle.reference import Reference
from daemon.measure.angle.suspicion import question
from daemon.measure.stream.reading import Reading
from daemon.workflow.agreement import own_u
from shared.angles import difference_deg
from shared.events import Sense
from shared.profile import LevelProfile

STEEPEST_SHAFT_DEG = 25.0
"""No parked aircraft has its shaft further from level; more is a wrong face or mode."""
TIPPED_DEG = 5.0
"""No aircraft tilts so far while its blades are set, unless somebody raises its tail."""
FLIP_WITHIN_DEG = 0.7
"""So near minus the reference in force a tilt looks like a level put on end for end."""
APART_US = 4.0
"""Standard uncertainties from which on two tilts are another; of a small tilt turned round."""


def of_blade(
    reading: Reading,
    profile: LevelProfile,
    sense: Sense,
    angle: BladeAngle,
    target_deg: float,
    reference: Reference | None,
) -> str | None:
    """Of a blade angle.

    A level turned round, in another mode or on another face changes what it shows, so its
    reading is compared with what it ought to show, the shaft's tilt left in.
    """
    if profile.convention == "projection":
        return question(angle.angle_deg, target_deg)
    theta = reference.theta_deg if reference else 0.0
    return question(seat_angle_deg(reading.mean_deg, profile, sense), target_deg - theta)


def of_side(angle: BladeAngle, target_deg: float, first: BladeAngle | None) -> str | None:
    """Of one side of a blade that is read as a reference.

    first: the mean of the first side, when this is the second.
    """
    if first is None:
        return question(angle.angle_deg, target_deg)
    if abs(difference_deg(angle.angle_deg, first.angle_deg)) <= 2.0 * STEEPEST_SHAFT_DEG:
        return None
    return (
        f"this side reads {angle.angle_deg:.2f}, the first {first.angle_deg:.2f}: no shaft "
        "tilts that far. Look: is it the same blade, and the level on the same end of it?"
    )


def _flipped(angle: BladeAngle, before_deg: float) -> bool:
    """Whether a tilt is another than before, and much nearer to minus that.

    Of a small tilt what the level's zero leaves in both, once each way, is not small beside it.
    """
    to_minus, away = abs(angle.angle_deg + before_deg), abs(angle.angle_deg - before_deg)
    if to_minus < FLIP_WITHIN_DEG < abs(before_deg):
        return True
    another = APART_US * math.sqrt(2.0) * own_u(angle.budget)
    return away > another and to_minus < min(
        FLIP_WITHIN_DEG, 2.0 * angle.budget.u95_deg, away / 2.0
    )


def of_reference(angle: BladeAngle, reference: Reference | None) -> str | None:
    """Of a tilt of the shaft. reference: the one in force."""
    before = reference.theta_deg if reference else 0.0
    flipped = reference is not None and _flipped(angle, before)
    far = reference is not None and abs(angle.angle_deg - before) > TIPPED_DEG
    if abs(angle.angle_deg) <= STEEPEST_SHAFT_DEG and not flipped and not far:
        return None
    if flipped:
        return (
            f"the shaft's tilt reads {angle.angle_deg:.2f}, before it was {before:.2f}: the "
            "same with its sign turned. Look: does the level point the way it did?"
        )
    was = f", before it was {before:.2f}" if far else ""
    return (
        f"the shaft's tilt reads {angle.angle_deg:.2f}{was}. Look: is the level on the hub face, "
        "in the plane of rotation, in degrees, in its normal mode?"
    )
