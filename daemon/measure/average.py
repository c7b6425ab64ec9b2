"""A robust average of a short stretch of a level at rest, and how good it is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

MAD_TO_SD = 1.482602218505602
CUT = 4.0
"""Samples further than this many standard deviations from the median are outliers: on
Gaussian noise one in 16,000, so that the mean loses nothing."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a level's noise before a stretch is looked at.

    Attributes:
        sd: standard deviation of one sample.
        lag1: lag-1 autocorrelation, 0 <= lag1 < 1.
        n: samples it was learned from; 0 = assumed.
    """

    sd: float
    lag1: float
    n: int


@dataclass(frozen=True, slots=True)
class Average:
    """Mean of a stretch with its standard uncertainty and degrees of freedom."""

    mean: float
    u: float
    dof: float
    n: int
    sd: float
    lag1: float


def median(ordered: Sequence[float]) -> float:
    """Median of a sorted sequence."""
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else 0.5 * (ordered[half - 1] + ordered[half])


def robust_sd(values: Sequence[float], middle: float) -> float:
    """Median absolute deviation about `middle`, scaled to a standard deviation."""
    return MAD_TO_SD * median(sorted(abs(value - middle) for value in values))


def without_outliers(values: Sequence[float], floor: float) -> list[float]:
    """Return the values within CUT robust standard deviations of the median, in order.

    `floor` is the least standard deviation to assume: a quantised stretch may show none.
    """
    middle = median(sorted(values))
    reach = CUT * max(robust_sd(values, middle), floor)
    return [value for value in values if abs(value - middle) <= reach]


def inflation(lag1: float, n: int) -> float:
    """Return n var(mean) / var(sample) of an AR(1) series of n: exact, tends to (1 + r) / (1 - r)."""
    r = lag1
    return (1.0 + r) / (1.0 - r) - 2.0 * r * (1.0 - r**n) / (n * (1.0 - r) ** 2)


def lag1_of(values: Sequence[float], mean: float) -> float:
    """Lag-1 autocorrelation, as NIST StRD defines it; 0 for a constant series."""
    off = [value - mean for value in values]
    below = math.fsum(x * x for x in off)
    if below <= 0.0:
        return 0.0
    return math.fsum(x * y for x, y in pairwise(off)) / below


def variance_of(values: Sequence[float], mean: float) -> float:
    """Sample variance by the two-pass formula, which does not cancel."""
    return math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1)


def _known_lag1(values: Sequence[float], mean: float, prior: Prior) -> float:
    """Learned autocorrelation where there is one, else the estimate with its bias taken out.

    A short series' own lag-1 is low by about (1 + 3 r) / n (Kendall 1954).
    """
    n = len(values)
    if prior.n >= 30 or n < 8:
        return prior.lag1
    own = (n * lag1_of(values, mean) + 1.0) / (n - 3.0)
    return min(max(own, prior.lag1), 0.97)


def average(values: Sequence[float], prior: Prior, resolution: float) -> Average:
    """Average at least two values of a level at rest.

    The noise is pooled from what is known and what the stretch shows: the prior counts as up
    to 200 samples when learned, as 10 when assumed; where the stretch shows clearly more
    than the prior it is believed alone.
    """
    floor = max(prior.sd if prior.n else 0.0, resolution / math.sqrt(12.0))
    kept = without_outliers(values, floor)
    n = len(kept)
    mean = math.fsum(kept) / n
    lag1 = _known_lag1(kept, mean, prior)
    grown = inflation(lag1, n)
    own = variance_of(kept, mean) if n > 1 else prior.sd**2
    # the window's own spread misses what its mean took with it
    own /= max(1.0 - (grown - 1.0) / max(n - 1.0, 1.0), 0.05)
    seen = max((n - 1.0) / max(grown, 1.0), 1.0)
    known = float(min(prior.n, 200) if prior.n else 10)
    if own > 2.5 * prior.sd**2:
        known = 0.0
    variance = (seen * own + known * prior.sd**2) / (seen + known)
    return Average(
        mean, math.sqrt(variance * grown / n), seen + known, n, math.sqrt(variance), lag1
    )
