"""The noise of a stream at rest: its mean, spread and autocorrelation, learned and followed."""

import math

START = 30
"""Samples before anything is judged."""
_SIGNIFICANT = 2.0
"""An autocorrelation under this many of its standard errors is taken as none."""
_MOST_LAG1 = 0.98
"""No stream is believed to be more autocorrelated: a sample would be worth nothing."""


def independent(n: float, lag1: float) -> float:
    """Return how many independent samples n autocorrelated ones are worth (first order)."""
    return n * (1.0 - lag1) / (1.0 + lag1)


class Rest:
    """Mean, variance and lag-1 autocorrelation of a stream, each sample with weight 1 / n.

    The counts stop at `follow`: from there old samples fade and the stream is followed. The
    mean has a count of its own, because a stream that moved keeps its noise. With a `known`
    noise (standard deviation, autocorrelation) only the mean is learned.
    """

    __slots__ = (
        "_covariance",
        "_floor",
        "_follow",
        "_last",
        "_variance",
        "known",
        "mean",
        "mean_n",
        "n",
    )

    def __init__(
        self, *, floor: float = 0.0, follow: int = 6000, known: tuple[float, float] | None = None
    ) -> None:
        self._floor = floor
        self._follow = follow
        self.known = known
        self.n = 0
        self.mean_n = 0
        self.mean = 0.0
        self._variance = 0.0
        self._covariance = 0.0
        self._last = 0.0

    def recentre(self, mean: float, samples: int) -> None:
        """The stream now rests elsewhere, at a mean of so many samples; its noise stays."""
        self.mean = mean
        self.mean_n = min(samples, self._follow)
        self._last = 0.0

    def learn(self, x: float) -> None:
        """Take one sample of the stream at rest."""
        if self.n < self._follow:
            self.n += 1
        if self.mean_n < self._follow:
            self.mean_n += 1
        gain, off = 1.0 / self.n, x - self.mean
        self.mean += off / self.mean_n
        self._variance += gain * ((1.0 - gain) * off * off - self._variance)
        self._covariance += gain * ((1.0 - gain) * off * self._last - self._covariance)
        self._last = off if self.n > 1 else 0.0

    @property
    def sd(self) -> float:
        """Standard deviation of one sample, never below the floor."""
        if self.known:
            return max(self.known[0], self._floor)
        unbiased = self._variance * self.n / (self.n - 1) if self.n > 1 else 0.0
        return max(math.sqrt(unbiased), self._floor)

    @property
    def lag1(self) -> float:
        """Lag-1 autocorrelation, corrected for the bias of a short record, 0 where unclear.

        The estimate from n samples is low by about (1 + 3 r) / n (Marriott and Pope,
        Biometrika 41, 1954, from memory).
        """
        if self.known:
            return self.known[1]
        if self._variance <= 0.0 or self.n < START:
            return 0.0
        r = self._covariance / self._variance
        if r < _SIGNIFICANT / math.sqrt(self.n):
            return 0.0
        return min(r + (1.0 + 3.0 * r) / self.n, _MOST_LAG1)

    def mean_variance(self, samples: int, resolution: float) -> float:
        """Return the variance of a mean of so many samples of this noise.

        A resolution coarse against the noise is not averaged away (JCGM 100, F.2.2.1); noise
        of half a resolution and more stirs it well enough to be.
        """
        variance = self.sd * self.sd / max(independent(samples, self.lag1), 1.0)
        coarse = self.sd <= 0.5 * resolution
        return variance + (resolution * resolution / 12.0 if coarse else 0.0)
