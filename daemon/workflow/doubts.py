"""What to look at before a reading is believed: a wrong sign, face, mode, side or blade.

Asked and never corrected: each returns the question in words, or None when the reading is plausible.
"""

import math
from collections.abc import Sequence

from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import seat_angle_deg
from daemon.measure.angle.reference import Reference
from daemon.measure.angle.suspicion import (
    STEEPEST_SHAFT_DEG,
    either_side,
    either_tilt,
    question,
)
from daemon.measure.stream.reading import Reading
from daemon.workflow.agreement import own_u
from shared.angles import difference_deg
from shared.events import Sense
from shared.profile import LevelProfile

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
    either: Sequence[float] = (),
) -> str | None:
    """Of a blade angle.

    A level turned round, in another mode or on another face changes what it shows, so its
    reading is compared with what it ought to show, the shaft's tilt left in.
    either: every blade angle that gives this reading, where that has to be looked at.
    """
    if profile.convention == "projection":
        asked = question(angle.angle_deg, target_deg)
        return asked or (either_side(either, target_deg) if either else None)
    theta = reference.theta_deg if reference else 0.0
    return question(seat_angle_deg(reading.mean_deg, profile, sense), target_deg - theta)


def of_side(
    angle: BladeAngle, profile: LevelProfile, target_deg: float, first: BladeAngle | None
) -> str | None:
    """Of one side of a blade that is read as a reference.

    first: the mean of the first side, when this is the second.
    """
    if first is None:
        return question(angle.angle_deg, target_deg)
    if abs(difference_deg(angle.angle_deg, first.angle_deg)) <= 2.0 * STEEPEST_SHAFT_DEG:
        folds = profile.convention == "projection"
        return either_tilt(first.angle_deg, angle.angle_deg, target_deg) if folds else None
    return (
        f"this side reads {angle.angle_deg:.2f}, the first {first.angle_deg:.2f}: no shaft "
        "tilts that far. Look: is it the same blade, and the level on the same end of it?"
    )


def of_nose(angle: BladeAngle) -> str:
    """Of a tilt that a level of one axis read on the hub face, while nobody knows its sign."""
    return (
        f"the shaft is tilted by {abs(angle.angle_deg):.2f}, and this level cannot tell which "
        "way. Look at the aircraft from the side: say nose up or nose down. (The job can say so "
        'too: nose = "up" or "down" under [setup].)'
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
