"""What a level teaches about itself while it is used: its noise, and how well it seats."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from daemon.measure.stream.average import LEARNED, STEEPEST, inflation, inliers, median
from daemon.measure.stream.reading import Reading
from shared.angles import difference_deg
from shared.profile import LevelProfile, Noise, Seating

ENOUGH_SAMPLES = 60
"""Samples from which on a noise is worth saying."""
LITTLE = 0.3
"""Autocorrelation up to which an error of it hardly changes what an average states."""
SURELY = 1.5
"""By so many standard errors it is raised first: the stretches are those that seemed still."""
SOLVING = 60
"""Rounds of the fixed point; by then it stands still to the digits kept."""
ENOUGH_PLACEMENTS = 5
"""Degrees of freedom from which on a learned seating is better than an assumed one."""


LEAST_SHARE = 0.25
"""A seating's variance is not believed to be less than this share of the averages' own."""

FEWEST_STRETCHES = 4
"""Fewer stretches cannot show which of them moved."""
SURELY_MOVED = 5.0
"""A variance that so many standard deviations of a normal are beyond, seen from the middle of
the stretches, is one of a stretch that moved."""


@dataclass(frozen=True, slots=True)
class Sums:
    """What one stretch adds: values, squares about its mean, products of neighbours."""

    n: int
    squares: float
    products: float

    @property
    def variance(self) -> float:
        """The stretch's own."""
        return self.squares / (self.n - 1)

    @property
    def lag1(self) -> float:
        """The stretch's own, freed of its bias (Kendall 1954)."""
        if self.squares <= 0.0:
            return 0.0
        own = (self.n * self.products / self.squares + 1.0) / (self.n - 3.0)
        return min(max(own, 0.0), STEEPEST)


def at_rest(stretches: Sequence[Sums], floor: float) -> list[Sums]:
    """Return the stretches that vary no more than one at rest may, beside the middle one.

    As long as most are at rest the others are found, however far they moved. The quantiles of
    a variance are Wilson and Hilferty's (1931); floor: the least variance to assume.
    """
    middle = max(median(sorted([one.variance for one in stretches])), floor)
    lag1 = median(sorted([one.lag1 for one in stretches]))
    kept = []
    for one in stretches:
        dof = max((one.n - 1) * (1.0 - lag1) / (1.0 + lag1), 1.0)
        cube = 1.0 - 2.0 / (9.0 * dof)
        far = (1.0 + SURELY_MOVED * math.sqrt(2.0 / (9.0 * dof)) / cube) ** 3
        if one.variance <= far * middle:
            kept.append(one)
    return kept


class NoiseStudy:
    """Pools still stretches into standard deviation and lag-1 autocorrelation.

    A stretch's own mean takes variance away and makes neighbours look less alike than they
    are; both are put back, by what an AR(1) series of that length loses on average. Stretches
    that moved are left out.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._step = profile.resolution_deg
        self._all: list[Sums] = []

    def add(self, values: Sequence[float]) -> None:
        """Take one still stretch, at least 8 samples, in order; outliers are left out."""
        if len(values) < 8:
            return
        kept = inliers(values, max(self._step / math.sqrt(12.0), 1e-6))
        mean = math.fsum([values[i] for i in kept]) / len(kept)
        # an outlier is a hole: it adds nothing, so that neighbours stay neighbours
        inside = set(kept)
        off = [value - mean if i in inside else 0.0 for i, value in enumerate(values)]
        squares = math.fsum([x * x for x in off])
        self._all.append(Sums(len(kept), squares, math.fsum([a * b for a, b in pairwise(off)])))

    def noise(self) -> Noise | None:
        """Return what was learned, its sd before rounding; None while it is too little."""
        pool = self._pool()
        return pool.noise(0.0) if pool.samples >= LEARNED else None

    def careful(self) -> Noise | None:
        """Return what averages of later sessions may be judged by; None while it is too little.

        Few samples do not show well how they hang together, and too small an autocorrelation
        makes an average look better than it is: what the stretches show is raised by one
        standard error (Bartlett's) before it is freed of what they lose.
        """
        pool = self._pool()
        return pool.noise(1.0) if pool.enough else None

    def usable(self) -> Noise | None:
        """Return what may be used already in the session that taught it, else None.

        Only noise whose samples surely hang together little. Of the other kind a session's
        short stretches show too little: each average goes on finding out for itself.
        """
        pool = self._pool()
        if not pool.enough or pool.noise(SURELY).lag1 > LITTLE:
            return None
        return pool.noise(0.0)

    def _pool(self) -> "Pool":
        floor = max(self._step**2 / 12.0, 1e-12)
        return Pool(at_rest(self._all, floor) if self._all else [], self._step)


class Pool:
    """Stretches that are taken together.

    Attributes:
        samples, stretches: how many.
    """

    def __init__(self, kept: Sequence[Sums], step: float) -> None:
        self.samples, self.stretches = sum([one.n for one in kept]), len(kept)
        self._step = step
        self._sizes = Counter(one.n for one in kept)
        self._squares = math.fsum([one.squares for one in kept])
        self._products = math.fsum([one.products for one in kept])

    @property
    def enough(self) -> bool:
        """Whether it is worth saying."""
        return self.samples >= ENOUGH_SAMPLES and self.stretches >= FEWEST_STRETCHES

    def noise(self, errors: float) -> Noise:
        """Return the noise, its autocorrelation raised by so many standard errors."""
        variance, lag1 = self._solved(errors)
        clean = math.sqrt(max(variance - self._step**2 / 12.0, 0.0))
        return Noise(sd_deg=round(clean, 6), lag1=round(lag1, 3), n=self.samples)

    def _solved(self, errors: float) -> tuple[float, float]:
        """Variance and lag-1 autocorrelation that the sums are expected from.

        For a stretch of k values with the variance V of its mean and the covariance C of its
        mean with its first value, both over the variance of a value, squares about the mean
        add up to k (1 - V) and products of neighbours to (k - 1) r - (k + 1) V + 2 C.
        """
        n, products, pairs = self.samples, self._products, self.samples - self.stretches
        if self._squares <= 0.0:
            return 0.0, 0.0
        raw = products / self._squares
        products += errors * self._squares * math.sqrt(max(1.0 - raw * raw, 0.0) / n)
        variance, lag1 = self._squares / max(pairs, 1), 0.0
        for _ in range(SOLVING):
            of_mean = [(k, size, inflation(lag1, size) / size) for size, k in self._sizes.items()]
            lost = math.fsum([k * size * v for k, size, v in of_mean])
            variance = self._squares / max(n - lost, 0.05 * n)
            side = math.fsum(
                [k * ((size + 1) * v - 2.0 * _first(lag1, size)) for k, size, v in of_mean]
            )
            found = (products / variance + side) / max(pairs, 1)
            lag1 = min(max(found, 0.0), STEEPEST)
        return variance, lag1


def _first(lag1: float, size: int) -> float:
    """Covariance of the mean of AR(1) values with the first, over the variance of a value."""
    return (1.0 - lag1**size) / (size * (1.0 - lag1))


class PlacementStudy:
    """Takes one stretch of every placement of a level for the study of its noise."""

    def __init__(self, profile: LevelProfile) -> None:
        self._noise = NoiseStudy(profile)
        self._assumed = profile.noise.n < LEARNED
        self._studied = 0
        """The last placement that gave its stretch."""

    def look(self, placement: int, lain: Sequence[float]) -> None:
        """Take the samples that a placement has lain for, unless there are none yet."""
        if placement != self._studied and lain:
            self._studied = placement
            self._noise.add(lain)

    def usable(self) -> Noise | None:
        """Return the noise to go on with, where nobody knew it; else None."""
        return self._noise.usable() if self._assumed else None

    def careful(self) -> Noise | None:
        """Return what later sessions may use; see `NoiseStudy.careful`."""
        return self._noise.careful()


class SeatingStudy:
    """Pools fresh placements on untouched seats into the standard uncertainty of one."""

    def __init__(self) -> None:
        self._squares = 0.0
        self._averaging = 0.0
        self._dof = 0

    def add(self, placements: Sequence[Reading]) -> None:
        """Take two or more placements on the same seat, nothing moved between."""
        if len(placements) < 2:
            return
        first, n = placements[0].mean_deg, len(placements)
        off = [difference_deg(each.mean_deg, first) for each in placements]
        mean = math.fsum(off) / n
        self._squares += math.fsum([(x - mean) ** 2 for x in off])
        self._averaging += math.fsum([each.u_deg**2 for each in placements]) * (n - 1) / n
        self._dof += n - 1

    def seating(self, date: str = "", *, fewest: int = ENOUGH_PLACEMENTS) -> Seating | None:
        """Return what was learned, freed of the averages' own noise; None while too little.

        fewest: degrees of freedom wanted; less where several sessions are to be pooled.
        """
        if self._dof < fewest:
            return None
        square = (self._squares - self._averaging) / self._dof
        # what the averages' noise explains alone cannot be told from a perfect seat
        floor = LEAST_SHARE * self._averaging / self._dof
        return Seating(u_deg=round(math.sqrt(max(square, floor)), 6), n=self._dof + 1, date=date)
