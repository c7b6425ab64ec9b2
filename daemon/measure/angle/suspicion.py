"""Readings that look like a wrong sign, face, mode or unit: asked about, never corrected."""

import math
from collections.abc import Sequence
from typing import Literal

from shared.angles import difference_deg
from shared.job import Setup
from shared.profile import LevelProfile

NEAR_DEG = 5.0
"""A reading this near the target is plausible, one this near a look-alike is suspicious."""


def _look_alikes(target_deg: float) -> list[tuple[float, str]]:
    return [
        (-target_deg, "a wrong sign. Look: leading edge up? flat face where it should be?"),
        (
            90.0 - target_deg,
            "the complement. Look: from the vertical or from the horizontal? its normal mode?",
        ),
        (
            target_deg - 90.0,
            "the complement with its sign turned. Look: level's mode, and which way it points?",
        ),
        (
            180.0 - target_deg,
            "180 minus the angle. Look: is the level the right way round, not end for end?",
        ),
        (
            target_deg - 180.0,
            "the angle upside down. Look: leading edge up? level on the right face?",
        ),
    ]


def question(angle_deg: float, target_deg: float) -> str | None:
    """Return what to look at before this blade angle is believed, or None when plausible.

    An angle and its complement cannot be told apart within 5 degrees of 45: that is said for
    every reading there, even one at the target.
    """
    if abs(target_deg - 45.0) <= NEAR_DEG and abs(angle_deg - 45.0) <= NEAR_DEG:
        return (
            f"{angle_deg:.2f} is so near 45 that an angle and its complement cannot be told "
            "apart. Look: does the level show the angle it should?"
        )
    off = abs(difference_deg(angle_deg, target_deg))
    if off <= NEAR_DEG:
        return None
    near = [
        (abs(difference_deg(angle_deg, alike)), words) for alike, words in _look_alikes(target_deg)
    ]
    distance, words = min(near)
    if distance <= min(NEAR_DEG, off / 2):
        return f"{angle_deg:.2f} for {target_deg:.2f} looks like {words}"
    if off > 30.0:
        return (
            f"{angle_deg:.2f} is far from {target_deg:.2f}. Look: is the level on the blade, "
            "in degrees, in its normal mode?"
        )
    return None


STEEPEST_SHAFT_DEG = 25.0
"""No parked aircraft has its shaft further from level; more is a wrong face or mode."""
FOLD_DEG = 4.0
"""A projection level this near its fold is insensitive and cannot tell one side from the other."""
TILT_FOLD_DEG = 2.5
"""The same on the hub face: no aircraft tilts by twice as much while its blades are set, so a
shaft that points further up or down than this does not go through level unseen."""
ASKEW_U = 3.0
"""Azimuth and skew act at the fold as the angle itself: so many of their standard uncertainties
are not known to be an angle."""
UNSET_DEG = 15.0
"""A blade that is being set may be this far from its target; further it is no rival."""


def fold_deg(setup: Setup, u_psi_deg: float | None = None) -> float:
    """How near its fold a projection level on a blade cannot tell one side from the other.

    setup: how squarely blade and level stand.
    u_psi_deg: standard uncertainty of the azimuth where a hub witness gave it.
    """
    u_psi = setup.psi_u_deg if u_psi_deg is None else u_psi_deg
    return max(FOLD_DEG, ASKEW_U * math.hypot(u_psi, setup.skew_u_deg))


def folded(angles: Sequence[float], needed: float) -> str | None:
    """Return why a projection level cannot tell what angle it lies at, else None.

    Args:
        angles: every blade angle that gives its reading; one from a level without a fold.
        needed: so far from its fold it has to stand, from `fold_deg`.
    """
    off = abs(difference_deg(angles[0], angles[-1])) / 2.0
    if len(angles) == 1 or off >= needed:
        return None
    return (
        f"this level stands {off:.2f} from its fold, and within {needed:.2f} of it the blade "
        "could be on either side: it cannot tell, and nothing is taken. Use a level that counts "
        "a full circle, or bring blade and level squarer and say so in the job (psi_u_deg, "
        "skew_u_deg)."
    )


def folded_tilt(off_deg: float, setup: Setup) -> str | None:
    """Return why a projection level on the hub face cannot tell the shaft's tilt, else None.

    off_deg: how far from 90 it stands.
    """
    askew = ASKEW_U * math.hypot(setup.psi_u_deg, setup.skew_u_deg)
    needed = max(TILT_FOLD_DEG, askew + setup.wobble_deg)
    if off_deg >= needed:
        return None
    return (
        f"this level stands {off_deg:.2f} from its fold on the hub face, and within {needed:.2f} "
        "of it a tilt of the shaft cannot be told from how squarely level and hub stand: nothing "
        "is taken. Read the reference on both sides of blade 1, use a level that counts a full "
        "circle, or lay it squarer and say so in the job (psi_u_deg, skew_u_deg)."
    )


def far_folded(angles: Sequence[float], target_deg: float) -> str | None:
    """Return why neither of two blade angles that give one reading can be believed, else None.

    Near the target only one of them is plausible; far from it nobody knows which it is.
    """
    nearest = min(angles, key=lambda angle: abs(difference_deg(angle, target_deg)))
    if len(angles) == 1 or abs(difference_deg(nearest, target_deg)) <= UNSET_DEG:
        return None
    return (
        f"this reading is {min(angles):.2f} or {max(angles):.2f}, both far from "
        f"{target_deg:.2f}: this level cannot tell which, and nothing is taken. Look: is it on "
        "the blade, leading edge up, in degrees? Bring the blade near its target by eye first."
    )


def target_folded(target_deg: float, phi_deg: float, needed: float) -> str | None:
    """Return why a projection level cannot be used for this target on this shaft, else None."""
    off = abs(difference_deg(target_deg, phi_deg))
    if off >= needed:
        return None
    return (
        f"blades at {target_deg:.2f} on a shaft tilted by {phi_deg:.2f} are within {needed:.2f} of "
        "the fold of a level that shows one axis of gravity: it cannot tell them, and no blade "
        "can be held with it. Use a level that counts a full circle."
    )


def either_side(angles: Sequence[float], target_deg: float) -> str | None:
    """Return what to look at when both blade angles of a projection reading are plausible."""
    chosen = min(angles, key=lambda angle: abs(difference_deg(angle, target_deg)))
    other = max(angles, key=lambda angle: abs(difference_deg(angle, target_deg)))
    if len(angles) == 1 or abs(difference_deg(other, target_deg)) > UNSET_DEG:
        return None
    return (
        f"this level cannot tell {chosen:.2f} from {other:.2f}. Look, with a plumb line: is the "
        f"leading edge {_edge(chosen > other)} of the trailing edge?"
    )


def either_tilt(up_deg: float, down_deg: float, target_deg: float) -> str | None:
    """Return what to look at when both sides of a blade could be read otherwise, else None.

    Each side of a projection level may have the other sign; the blade angle is half the sum
    and the shaft's tilt half the difference of the two.
    """
    for up, down in ((-up_deg, down_deg), (up_deg, -down_deg), (-up_deg, -down_deg)):
        beta, theta = (up + down) / 2.0, (down - up) / 2.0
        if abs(theta) <= STEEPEST_SHAFT_DEG and abs(beta - target_deg) <= UNSET_DEG:
            return (
                f"this level cannot tell {(up_deg + down_deg) / 2.0:.2f} on a shaft tilted by "
                f"{(down_deg - up_deg) / 2.0:.2f} from {beta:.2f} on one tilted by {theta:.2f}. "
                f"Look, with a plumb line: was the leading edge {_edge(up_deg > 0.0)} of the "
                f"trailing edge on the first side, and is it {_edge(down_deg > 0.0)} on this one?"
            )
    return None


def _edge(coarser: bool) -> str:
    return "forward" if coarser else "aft"


WARN_PSI_DEG, REFUSE_PSI_DEG = 1.0, 3.0
"""Uncertainty of the azimuth that a projection level without a span axis can bear."""


def azimuth_doubt(
    profile: LevelProfile, u_psi_deg: float
) -> tuple[Literal["", "warn", "refuse"], str]:
    """Whether the azimuth is known well enough for this level; words for the person."""
    if profile.convention != "projection" or u_psi_deg <= WARN_PSI_DEG:
        return "", ""
    words = (
        f"This level shows one axis of gravity, and the blade is horizontal only within "
        f"{u_psi_deg:.1f}: bring it nearer, or use a hub witness."
    )
    return ("refuse" if u_psi_deg > REFUSE_PSI_DEG else "warn"), words
