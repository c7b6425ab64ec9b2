"""Where a watched blade stands: a mean that forgets as fast as a level may drift.

One state, its variance, a step of time and one new mean: a scalar Kalman filter (Kalman, 1960).
Times are seconds of samples, angles in degrees.
"""

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

_MEMORY = 40
"""Places of the past kept, so that what the change had already spoiled can be left out."""


@dataclass(frozen=True, slots=True)
class Drift:
    """How far a level's zero may wander while nothing moves.

    walk: random walk, degrees per root second. rate: fastest steady drift, degrees a second.
    span: farthest a steady drift goes (a warm-up ends), degrees.
    """

    walk: float
    rate: float
    span: float

    def variance(self, seconds: float) -> float:
        """Return the variance that may have come in since; a steady drift counts in full."""
        steady = min(self.rate * seconds, self.span)
        return self.walk * self.walk * seconds + steady * steady

    def of_two(self) -> "Drift":
        """Return how far the difference of two such levels may wander."""
        both = math.sqrt(2.0)
        return Drift(self.walk * both, self.rate * both, self.span * both)


@dataclass(frozen=True, slots=True)
class Stand:
    """A mean, its variance and its time."""

    t: float
    mean: float
    variance: float

    def later(self, t: float, drift: Drift) -> float:
        """Return the variance of this mean as a forecast for the time t."""
        return self.variance + drift.variance(max(t - self.t, 0.0))

    def merged(self, new: "Stand", drift: Drift) -> "Stand":
        """Return both means, weighed by their variances, at the time of the new one."""
        before = self.later(new.t, drift)
        gain = before / (before + new.variance)
        return Stand(new.t, self.mean + gain * (new.mean - self.mean), gain * new.variance)


@dataclass(frozen=True, slots=True)
class Place:
    """Where things stand: measured over one stretch of samples, or followed over many.

    own: the blade's own level. against: blade minus witness, older than `own` where the witness
    is no longer heard; None where it was not heard all along, or never.
    """

    own: Stand
    against: Stand | None

    @property
    def best(self) -> Stand:
        """Against the witness where there is one."""
        return self.own if self.against is None else self.against

    def merged(self, new: "Place", drift: Drift) -> "Place":
        """Return the place with one more stretch of rest in it; drift: of one level."""
        against = self.against
        if new.against is not None:
            against = against.merged(new.against, drift.of_two()) if against else new.against
        return Place(self.own.merged(new.own, drift), against)


class Standing:
    """Where a blade stands and stood, once learned.

    Attributes:
        home: where it stood at first, or after the last change that was told.
        past: the last places at rest, oldest first, never empty.
    """

    def __init__(self, home: Place, past: Iterable[Place]) -> None:
        self.home = home
        self.past = deque(past, maxlen=_MEMORY)

    @property
    def place(self) -> Place:
        """Where it stands."""
        return self.past[-1]

    def told(self) -> None:
        """How far it has come from home was told: it is at home where it stands."""
        self.home = self.place

    def follow(self, block: Place, drift: Drift) -> None:
        """Take in one more block of rest."""
        self.past.append(self.place.merged(block, drift))

    def before(self, onset: int, rate_hz: float) -> Place:
        """Return the newest place not later than this sample, or else the oldest that is kept."""
        earlier = [place for place in self.past if place.own.t * rate_hz <= onset]
        return earlier[-1] if earlier else self.past[0]
