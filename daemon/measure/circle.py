"""Means of directions."""

import math
from collections.abc import Sequence

from shared.angles import wrap_deg

LEAST_RESULTANT = 1e-3
"""Directions that cancel to less than this have no mean worth the name."""


def circular_mean(angles_deg: Sequence[float]) -> tuple[float, float]:
    """Return the mean direction in (-180, 180] and the mean resultant length R, 0..1.

    Mardia and Jupp, Directional Statistics, 2.2.

    Raises:
        ValueError: no angles, or they cancel (0 and 180 have no mean).
    """
    if not angles_deg:
        raise ValueError("a mean needs at least one angle")
    n = len(angles_deg)
    east = math.fsum([math.cos(math.radians(angle)) for angle in angles_deg]) / n
    north = math.fsum([math.sin(math.radians(angle)) for angle in angles_deg]) / n
    length = math.hypot(east, north)
    if length < LEAST_RESULTANT:
        raise ValueError("these angles cancel: they have no mean direction")
    return wrap_deg(math.degrees(math.atan2(north, east))) + 0.0, length
