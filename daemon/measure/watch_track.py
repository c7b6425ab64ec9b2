"""Where a watched blade stands: a mean that forgets as fast as a level may drift.

One state, its variance, a step of time and one new mean: a scalar Kalman filter (Kalman, 1960).
Times are seconds of samples, angles in degrees.
"""

import math
from dataclasses import dataclass


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
    """Where things stand at one time: the blade's own level, and against the witness.

    against: blade minus witness; None while no witness was ever heard.
    """

    own: Stand
    against: Stand | None

    @property
    def t(self) -> float:
        """Time of the newest part."""
        return self.own.t


@dataclass(frozen=True, slots=True)
class Block:
    """The means of one stretch of samples: blade, and blade minus witness where it was heard."""

    t: float
    own: float
    own_variance: float
    against: float | None
    against_variance: float

    @property
    def best(self) -> float:
        """Against the witness where there is one."""
        return self.own if self.against is None else self.against

    @property
    def best_variance(self) -> float:
        """Variance of `best`."""
        return self.own_variance if self.against is None else self.against_variance


def taken_in(place: Place | None, block: Block, drift: Drift, drift_pair: Drift) -> Place:
    """Return the place with one more block of rest in it."""
    own = Stand(block.t, block.own, block.own_variance)
    against = place.against if place else None
    if block.against is not None:
        newest = Stand(block.t, block.against, block.against_variance)
        against = against.merged(newest, drift_pair) if against else newest
    return Place(place.own.merged(own, drift) if place else own, against)


def slope(values: list[float]) -> float:
    """Return the least-squares slope per step."""
    n = len(values)
    middle = 0.5 * (n - 1)
    top = math.fsum((place - middle) * value for place, value in enumerate(values))
    return 12.0 * top / (n * (n * n - 1.0))


def creep(blocks: list[Block], least_per_step: float, least: float, kept: float = 0.0) -> float:
    """Return the slope per block where the blocks creep steadily, else 0.

    kept: correlation of neighbouring blocks, for which all errors are stretched.

    Steadily: over the whole and in both halves alike, five standard errors from none, and
    with nothing left about the line but the noise. A step fails in at least one half.
    """
    n = len(blocks)
    values = [block.best for block in blocks]
    u = math.sqrt(max(block.best_variance for block in blocks) * (1.0 + kept) / (1.0 - kept))
    whole = slope(values)
    error = u * math.sqrt(12.0 / (n * (n * n - 1.0)))
    if abs(whole) < max(least_per_step, 5.0 * error) or abs(whole) * n < max(least, 4.0 * u):
        return 0.0
    m = n // 2
    least_half = max(0.4 * abs(whole), 2.5 * u * math.sqrt(12.0 / (m * (m * m - 1.0))))
    halves = (slope(values[:m]), slope(values[n - m :]))
    if any(half * whole <= 0.0 or abs(half) < least_half for half in halves):
        return 0.0
    centre, mean = 0.5 * (n - 1), math.fsum(values) / n
    left = math.fsum((v - mean - whole * (k - centre)) ** 2 for k, v in enumerate(values))
    return whole if left <= 4.0 * u * u * n else 0.0
