"""A level turned over in the hand, and back: a press of somebody whose hands are full.

    held one way, then the other way up, then as before; each for a moment, all within three seconds

Whatever else is done with a level holds it no second time as before: turned end for end for the other
side of the aircraft it stays the right way up, put into its case it stays the other way up, and in a
swinging hand it is held nowhere. The bounds are those of a simulated hand; no real one has tried them.
"""

import math
from operator import mul
from typing import NamedTuple

from daemon.measure.stream.tilts import Tilt, Vector
from shared.inputs import NS
from shared.profile import LevelProfile

OVER = math.cos(math.radians(150.0))
"""The other way up: the vertical turned by so much, as the level has it."""
HELD = math.cos(math.radians(20.0))
"""A level that is held still in a hand stays within this."""
HELD_S = 0.3
"""Counted in samples: times of arrival are ragged."""
WITHIN_NS = 3 * NS


class Hold(NamedTuple):
    """It was held like this until then."""

    up: Vector
    until_ns: int


def feels(profile: LevelProfile) -> bool:
    """Whether such a level can tell that it is the other way up at all; one that folds can not."""
    limits = profile.limits
    folded = profile.convention == "planar" and max(-limits.low_deg, limits.high_deg) < 150.0
    return profile.convention != "projection" and not folded


class Turnover:
    """Watches a level while it is in a hand."""

    def __init__(self) -> None:
        self._lay: tuple[Tilt, int] | None = None
        self._holds: list[Hold] = []
        self._run: tuple[Vector, int] | None = None
        """How it is held now, and for how many samples."""

    def lie(self, tilt: Tilt, t_ns: int) -> None:
        """It lies somewhere."""
        self._lay, self._run = (tilt, t_ns), None

    def carry(self, tilt: Tilt, t_ns: int, rate_hz: float) -> bool:
        """It is in a hand; return whether that made it turned over, and back."""
        up = _up(tilt)
        if self._lay is not None:
            self._holds, self._lay = [Hold(_up(self._lay[0]), self._lay[1])], None
        if self._run is None or _cos(up, self._run[0]) < HELD:
            self._run = (up, 1)
            return False
        first, samples = self._run[0], self._run[1] + 1
        self._run = (first, samples)
        return samples > HELD_S * rate_hz and self._held(Hold(first, t_ns))

    def _held(self, hold: Hold) -> bool:
        """It is held still now: the third time of three?"""
        recent = [one for one in self._holds if hold.until_ns - one.until_ns <= WITHIN_NS]
        over = [at for at, one in enumerate(recent) if _cos(one.up, hold.up) <= OVER]
        if over and any(_cos(one.up, recent[over[-1]].up) <= OVER for one in recent[: over[-1]]):
            self._holds = []
            return True
        if recent and _cos(recent[-1].up, hold.up) >= HELD:
            recent.pop()
        self._holds = [*recent, hold]
        return False


def _up(tilt: Tilt) -> Vector:
    """Return the upward vertical as the level has it; one of a single plane knows no more than that."""
    if tilt.gravity is not None:
        return tilt.gravity
    angle = math.radians(tilt.angle_deg)
    return (math.cos(angle), 0.0, math.sin(angle))


def _cos(one: Vector, other: Vector) -> float:
    return math.fsum(map(mul, one, other))
