"""Which blades to set again so that tolerance and spread are both met, touching the fewest.

Every set of blades is tried, for there are at most 2^6: those left alone must be in tolerance and
leave a window for the others, which are then set to one aim.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations


@dataclass(frozen=True, slots=True)
class Correction:
    """blades: numbers from 1, the fewest; aim_deg: what to set them to, so that all are met."""

    blades: tuple[int, ...]
    aim_deg: float


@dataclass(frozen=True, slots=True)
class Limits:
    """What a set of blades is held to, degrees."""

    target_deg: float
    tolerance_deg: float
    spread_deg: float


def correction(angles_deg: Mapping[int, float], limits: Limits) -> Correction:
    """Return the fewest blades to be set again, and where to; none where all limits are met.

    Of several equally small sets the one whose blades are farthest from their aim is taken: those
    stand out. The aim is the target where the blades left alone allow it, with a quarter of what
    they allow to spare on either side.

    angles_deg: by the blade's number.
    """
    for count in range(len(angles_deg) + 1):
        found = list(_possible(angles_deg, limits, combinations(angles_deg, count)))
        if found:
            return max(found, key=lambda one: _off(angles_deg, one))
    raise AssertionError("all blades together can be set to the target")


def _possible(
    angles_deg: Mapping[int, float], limits: Limits, sets: Iterator[tuple[int, ...]]
) -> Iterator[Correction]:
    """Yield what sets all limits right among these sets of blades."""
    for blades in sets:
        left = [angle for number, angle in angles_deg.items() if number not in blades]
        if window := _window(left, limits):
            low, high = window
            spare = (high - low) / 4.0
            yield Correction(blades, min(max(limits.target_deg, low + spare), high - spare))


def _window(left: Sequence[float], limits: Limits) -> tuple[float, float] | None:
    """Return from where to where a blade meets all limits beside those left alone; None: nowhere."""
    low = limits.target_deg - limits.tolerance_deg
    high = limits.target_deg + limits.tolerance_deg
    if not left:
        return low, high
    if min(left) < low or max(left) > high or max(left) - min(left) > limits.spread_deg:
        return None
    return max(low, max(left) - limits.spread_deg), min(high, min(left) + limits.spread_deg)


def _off(angles_deg: Mapping[int, float], one: Correction) -> float:
    """Return how far the nearest of its blades is from its aim."""
    return min((abs(angles_deg[blade] - one.aim_deg) for blade in one.blades), default=0.0)
