"""Readings that look like a wrong sign, face, mode or unit: asked about, never corrected."""

from typing import Literal

from shared.angles import difference_deg
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


FOLD_DEG = 4.0
"""A projection level this near 90 is insensitive and cannot tell one side from the other."""
WARN_PSI_DEG, REFUSE_PSI_DEG = 1.0, 3.0
"""Uncertainty of the azimuth that a projection level without a span axis can bear."""


def folded(reading_deg: float, profile: LevelProfile) -> str | None:
    """Return what to look at when a projection level stands at its fold, else None."""
    if profile.convention != "projection" or abs(reading_deg) < 90.0 - FOLD_DEG:
        return None
    return (
        f"{reading_deg:.2f} is at this level's fold at 90: the blade angle could be on either "
        "side of the shaft's tilt. Look: read the other way, or use a level that counts a "
        "full circle."
    )


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
