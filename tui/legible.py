"""How high a letter has to be to be read from afar. Pure; the table of it is in docs/screens.md.

A letter is seven pixels high, and a pixel as high as a cell is wide: cells of a terminal are about
twice as high as wide, and hold two. The angle it subtends is 2 atan(height / 2 distance). ISO 9241-303
wants at least 16, better 20 to 22 minutes of arc for reading at ease (from memory).
"""

import math

from tui.bitmap import ROWS

DISTANCE_MM = 4000
"""From the nose, where the hands are, to the screen."""
SCREEN_MM = 310
"""Across: a laptop of 14 inches. A wider screen is legible from farther."""
LARGEST_ARCMIN, OTHERS_ARCMIN = 20.0, 8.0
"""What the largest line must subtend, and the second and third."""


def arcmin(scale: int, columns: int, screen_mm: float = SCREEN_MM) -> float:
    """Minutes of arc of a letter at a vertical scale, on a screen of so many columns."""
    high_mm = ROWS * scale * screen_mm / columns
    return 60.0 * math.degrees(2.0 * math.atan(high_mm / (2.0 * DISTANCE_MM)))


def scale_for_arcmin(wanted: float, columns: int) -> int:
    """The least vertical scale at which a letter subtends so much."""
    scale = 1
    while arcmin(scale, columns) < wanted:
        scale += 1
    return scale
