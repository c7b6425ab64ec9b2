"""What a level teaches about itself while it is used: its noise, and how well it seats."""

import math
from collections.abc import Sequence
from itertools import pairwise

from daemon.measure.average import LEARNED, inflation, inliers
from daemon.measure.reading import Reading
from shared.angles import difference_deg
from shared.profile import LevelProfile, Noise, Seating

ENOUGH_PLACEMENTS = 5
"""Degrees of freedom from which on a learned seating is better than an assumed one."""


class NoiseStudy:
    """Pools still stretches into standard deviation and lag-1 autocorrelation.

    A stretch's own mean takes variance away and makes neighbours look less alike than they
    are; both are put back, by what an AR(1) series of that length loses on average.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._step = profile.resolution_deg
        self._sizes: dict[int, int] = {}
        self._squares = 0.0
        self._products = 0.0
        self._samples = 0

    def add(self, values: Sequence[float]) -> None:
        """Take one still stretch, at least 8 samples, in order; outliers are left out."""
        if len(values) < 8:
            return
        kept = inliers(values, max(self._step / math.sqrt(12.0), 1e-6))
        mean = math.fsum([values[i] for i in kept]) / len(kept)
        # an outlier is a hole: it adds nothing, so that neighbours stay neighbours
        inside = set(kept)
        off = [value - mean if i in inside else 0.0 for i, value in enumerate(values)]
        self._squares += math.fsum([x * x for x in off])
        self._products += math.fsum([a * b for a, b in pairwise(off)])
        self._samples += len(kept)
        self._sizes[len(kept)] = self._sizes.get(len(kept), 0) + 1

    def noise(self, date: str = "") -> Noise | None:
        """Return what was learned, its sd before rounding; None while it is too little."""
        if self._samples < LEARNED:
            return None
        variance, lag1 = self._solved()
        clean = math.sqrt(max(variance - self._step**2 / 12.0, 0.0))
        lag1 = round(min(max(lag1, 0.0), 0.97), 3)
        return Noise(sd_deg=round(clean, 6), lag1=lag1, n=self._samples, date=date)

    def _solved(self) -> tuple[float, float]:
        n, stretches = self._samples, sum(self._sizes.values())
        variance, lag1 = self._squares / max(n - stretches, 1), 0.0
        for _ in range(40):
            lost = [(k * inflation(lag1, size), size) for size, k in self._sizes.items()]
            taken = math.fsum([one for one, _ in lost])
            variance = self._squares / max(n - taken, 0.05 * n)
            if variance <= 0.0:
                return 0.0, 0.0
            side = math.fsum([one * (size - 1) / size for one, size in lost])
            found = (self._products / variance + side) / max(n - stretches, 1)
            lag1 = min(max(found, 0.0), 0.97)
        return variance, lag1


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
        floor = 0.25 * self._averaging / self._dof
        return Seating(u_deg=round(math.sqrt(max(square, floor)), 6), n=self._dof + 1, date=date)
