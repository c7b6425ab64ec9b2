"""Readings that look like a wrong sign, face, mode or unit: asked about, never corrected."""

from shared.angles import difference_deg

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
