"""Angles in degrees, and the few ways every room needs to handle them."""

import math
from collections.abc import Sequence


def wrap_deg(angle_deg: float) -> float:
    """Return the same direction in (-180, 180]."""
    if -180.0 < angle_deg <= 180.0:
        return angle_deg
    wrapped = math.fmod(angle_deg, 360.0)
    if wrapped > 180.0:
        return wrapped - 360.0
    if wrapped <= -180.0:
        return wrapped + 360.0
    return wrapped


def difference_deg(a_deg: float, b_deg: float) -> float:
    """Return a - b along the shorter way round, in (-180, 180]."""
    return wrap_deg(a_deg - b_deg)


def differences_deg(angles_deg: Sequence[float], from_deg: float) -> list[float]:
    """Return each angle minus `from_deg` along the shorter way round, in (-180, 180]."""
    return [wrap_deg(angle - from_deg) for angle in angles_deg]


def apart_deg(angles_deg: Sequence[float]) -> float:
    """Return the largest difference between any two, along the shorter way round."""
    most = max(angles_deg) - min(angles_deg)
    if most <= 180.0:
        return most  # no two of them lie nearer the other way round
    return max(wrap_deg(a - b) for a in angles_deg for b in angles_deg)


def mean_deg(angles_deg: Sequence[float]) -> float:
    """Return the mean of angles that lie near one another, in (-180, 180].

    Raises:
        IndexError: no angles.
    """
    first = angles_deg[0]
    apart = math.fsum(differences_deg(angles_deg, first))
    return wrap_deg(first + apart / len(angles_deg))


def stated(value: float) -> float:
    """Round a number that leaves the engine to a millionth.

    Far below any level's resolution, and coarse enough that the last bit of a
    processor's arithmetic does not show in a record (negative zero included).
    """
    return round(value, 6) + 0.0
