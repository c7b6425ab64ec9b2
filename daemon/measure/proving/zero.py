"""Finding a level's zero error, and proof by a standard of known angle."""

import math
from dataclasses import dataclass

from shared.angles import difference_deg, wrap_deg


def reversal(first_deg: float, second_deg: float) -> tuple[float, float]:
    """Zero error and angle of a surface from readings with the level turned end for end.

    first = angle + zero, second = -angle + zero (or half a turn more, for a level that
    counts a full circle). The zero error must be under 45.

    Returns:
        (zero, angle), degrees.
    """
    zero = wrap_deg(2.0 * wrap_deg(first_deg + second_deg)) / 4.0
    return zero, wrap_deg(first_deg - zero)


@dataclass(frozen=True, slots=True)
class Standard:
    """A wedge or sine bar of known length (along the slope) and height, any one unit.

    The uncertainties are standard uncertainties.
    """

    length: float
    u_length: float
    height: float
    u_height: float

    @property
    def angle_deg(self) -> float:
        """Angle of the slope: asin(height / length)."""
        return math.degrees(math.asin(self.height / self.length))

    @property
    def u_deg(self) -> float:
        """Its standard uncertainty, first order."""
        ratio = self.height / self.length
        slope = 1.0 / math.sqrt(1.0 - ratio * ratio)
        parts = math.hypot(self.u_height / self.length, ratio * self.u_length / self.length)
        return math.degrees(slope * parts)


def proven(reading_deg: float, u_reading_deg: float, standard: Standard) -> tuple[float, str]:
    """Compare a reading of the standard with what it should be.

    Returns:
        (reading - standard, words); the words are "" when the difference is within twice its
        uncertainty. A reading that looks like another unit or mode is said to look like one.
    """
    off = difference_deg(reading_deg, standard.angle_deg)
    reach = 2.0 * math.hypot(u_reading_deg, standard.u_deg)
    if abs(off) <= reach:
        return off, ""
    true = standard.angle_deg
    looks = {
        "the complement: the level counts from the other axis": 90.0 - true,
        "a wrong sign: the level is end for end": -true,
        "percent, not degrees": 100.0 * math.tan(math.radians(true)),
        "millimetres a metre, not degrees": 1000.0 * math.tan(math.radians(true)),
        "radians, not degrees": math.radians(true),
    }
    for words, value in looks.items():
        if abs(reading_deg - value) <= max(reach, 0.02 * abs(value)):
            return off, f"{reading_deg:.2f} on a standard of {true:.2f} looks like {words}"
    return off, f"off by {off:+.2f} on a standard of {true:.2f} (could be {reach:.2f} by itself)"
