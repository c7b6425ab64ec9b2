"""A robust average of a short stretch of a level at rest, and how good it is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import mul

from shared.profile import LevelProfile, Noise

MAD_TO_SD = 1.482602218505602
CUT = 4.0
"""Samples further than this many standard deviations from the median are outliers: on
Gaussian noise one in 16,000, so that the mean loses nothing."""
LEARNED = 30
"""Noise learned from fewer samples than this is still an assumption."""
MOST_KNOWN = 400
"""A learned noise counts as at most so many samples, because levels age."""
ASSUMED = 8
"""What a noise that nobody measured counts as."""
STEEPEST = 0.97
_BEYOND = math.pi**2 / 6.0 - math.fsum(1.0 / (k * k) for k in range(1, 40))


@lru_cache(maxsize=4096)
def rounding_u(step: float, sd: float) -> float:
    """Standard uncertainty that rounding to `step` leaves in a long mean.

    Without noise step / sqrt(12), as a rectangle of that width has (JCGM 100, F.2.2.1). Noise
    before the rounding dithers it: the mean of the rounded values has a bias that is periodic
    in the angle; its Fourier coefficients are the noise's characteristic function at 2 pi k /
    step (Widrow's theory of quantisation), and this is their root mean square.
    """
    if step <= 0.0:
        return 0.0
    ratio = 2.0 * math.pi * sd / step
    total = math.fsum([math.exp(-((k * ratio) ** 2)) / (k * k) for k in range(1, 40)])
    if ratio < 1e-3:
        total += _BEYOND
    return step / (math.pi * math.sqrt(2.0)) * math.sqrt(total)


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of a level's noise before a stretch is looked at.

    Attributes:
        sd: standard deviation of one sample as it is shown, rounding included.
        lag1: lag-1 autocorrelation, 0 <= lag1 < 1.
        n: samples it was learned from; 0 = assumed.
        step: the level's resolution.
        clean_sd: standard deviation before rounding.
    """

    sd: float
    lag1: float
    n: int
    step: float = 0.0
    clean_sd: float = 0.0

    @property
    def learned(self) -> bool:
        """Whether it was measured well enough to be used as it is."""
        return self.n >= LEARNED

    @property
    def weight(self) -> float:
        """Degrees of freedom that it brings into a pooled variance."""
        if not self.learned:
            return float(ASSUMED)
        return min(self.n, MOST_KNOWN) * (1.0 - self.lag1) / (1.0 + self.lag1) + 2.0


def prior_of(profile: LevelProfile) -> Prior:
    """Return what a level's profile says of its noise."""
    return prior_from(profile.noise, profile.resolution_deg)


def prior_from(noise: Noise, step: float) -> Prior:
    """Return this noise, understood to be before rounding, as a level with this step shows it."""
    left = rounding_u(step, noise.sd_deg)
    shown = math.sqrt(noise.sd_deg**2 + max(step * step / 12.0 - left * left, 0.0))
    return Prior(max(shown, step / 20.0, 1e-6), noise.lag1, noise.n, step, noise.sd_deg)


@dataclass(frozen=True, slots=True)
class Average:
    """Mean of a stretch, standard uncertainties of noise and of rounding, degrees of freedom."""

    mean: float
    u: float
    dof: float
    n: int
    sd: float
    lag1: float
    u_rounding: float


def median(ordered: Sequence[float]) -> float:
    """Median of a sorted sequence."""
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else 0.5 * (ordered[half - 1] + ordered[half])


def robust_sd(values: Sequence[float], middle: float) -> float:
    """Median absolute deviation about `middle`, scaled to a standard deviation."""
    return MAD_TO_SD * median(sorted([abs(value - middle) for value in values]))


def inliers(values: Sequence[float], floor: float) -> list[int]:
    """Return the positions of the values within CUT robust deviations of the median.

    `floor` is the least standard deviation to assume: a quantised stretch may show none.
    """
    middle = median(sorted(values))
    reach = CUT * max(robust_sd(values, middle), floor)
    return [i for i, value in enumerate(values) if abs(value - middle) <= reach]


@lru_cache(maxsize=4096)
def inflation(lag1: float, n: int) -> float:
    """Return n var(mean) / var(sample) of n values of an AR(1) series; tends to (1+r)/(1-r)."""
    r = lag1
    return (1.0 + r) / (1.0 - r) - 2.0 * r * (1.0 - r**n) / (n * (1.0 - r) ** 2)


def lag1_of(values: Sequence[float], mean: float) -> float:
    """Lag-1 autocorrelation, as NIST StRD defines it; 0 for a constant series."""
    off = [value - mean for value in values]
    below = math.fsum(map(mul, off, off))
    if below <= 0.0:
        return 0.0
    return math.fsum(map(mul, off, off[1:])) / below


def variance_of(values: Sequence[float], mean: float) -> float:
    """Sample variance by the two-pass formula, which does not cancel."""
    return math.fsum([(value - mean) ** 2 for value in values]) / (len(values) - 1)


def likely_lag1(values: Sequence[float], mean: float, prior: Prior) -> float:
    """Learned autocorrelation where there is one, else a careful estimate.

    A short series' own lag-1 is low by about (1 + 3 r) / n (Kendall 1954); that is taken
    out, and one standard error is added, because too low a value makes the average look
    better than it is and too high a value only makes it longer.
    """
    n = len(values)
    if prior.learned or n < 8:
        return prior.lag1
    own = (n * lag1_of(values, mean) + 1.0) / (n - 3.0)
    own += math.sqrt(max(1.0 - own * own, 0.0) / n)
    return min(max(own, prior.lag1), STEEPEST)


def average(values: Sequence[float], prior: Prior) -> Average:
    """Average at least two values of a level at rest.

    Outliers are left out; at least half the values and two stay, because a median deviation
    is what they are measured by. The variance is pooled from what is known and what the stretch
    shows; where the stretch shows clearly more than was known it is believed alone.
    """
    floor = prior.sd if prior.learned else max(prior.step / math.sqrt(12.0), 0.1 * prior.sd)
    kept = [values[i] for i in inliers(values, floor)]
    n = len(kept)
    mean = math.fsum(kept) / n
    lag1 = likely_lag1(kept, mean, prior)
    grown = inflation(lag1, n)
    own = variance_of(kept, mean)
    rounding = _rounding(own, grown / n, prior)
    # the stretch's own spread misses what its mean took with it
    own /= max(1.0 - (grown - 1.0) / (n - 1.0), 0.05)
    seen, known = max((n - 1.0) / max(grown, 1.0), 0.5), prior.weight
    if own > (2.5 + 12.0 / max(seen, 1.0)) * prior.sd**2:
        known = 0.0
    variance = (seen * own + known * prior.sd**2) / (seen + known)
    u = math.sqrt(variance * grown / n)
    return Average(mean, u, max(seen + known, 1.0), n, math.sqrt(variance), lag1, rounding)


def _rounding(own: float, taken: float, prior: Prior) -> float:
    """What rounding leaves; only noise that acts within the stretch dithers it."""
    within = max(1.0 - taken, 0.0)
    if prior.learned:
        return rounding_u(prior.step, prior.clean_sd * math.sqrt(within))
    square = own - prior.step**2 / 12.0
    if own < 0.25 * prior.step**2 or square <= 0.0:
        return prior.step / math.sqrt(12.0)
    return rounding_u(prior.step, math.sqrt(square * within))
