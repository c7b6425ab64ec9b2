"""What the stream does at rest: its mean, spread and autocorrelation, learned and followed."""

import math

from daemon.measure.detect import Cusums, mixture
from shared.profile import Noise

START = 30
"""Samples before anything is judged."""
PAID = 5.0
"""Limits learned from n samples are 1 + PAID / n times as wide."""
_SIGNIFICANT = 2.0
"""An autocorrelation under this many of its standard errors is taken as none."""


def widening(n: float) -> float:
    """Return the factor on all limits that pays for a baseline of n independent samples.

    So chosen that the median over baselines of the conditional false-alarm run length is not
    below the nominal one (by simulation: benchmarks.detectors). It is 1.17 at 30 samples and
    1.008 at 600.
    """
    return 1.0 + PAID / max(n, 1.0)


def independent(n: float, lag1: float) -> float:
    """Return how many independent samples n autocorrelated ones are worth (first order)."""
    return n * (1.0 - lag1) / (1.0 + lag1)


class Rest:
    """Mean, variance and lag-1 autocorrelation of a stream, each sample with weight 1 / n.

    The counts stop at `follow`: from there old samples fade and the stream is followed. The
    mean has a count of its own, because a stream that moved keeps its noise. With a `known`
    noise only the mean is learned.
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
        self.forget()

    def forget(self) -> None:
        """Start again from nothing but what was known at first."""
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
        return min(r + (1.0 + 3.0 * r) / self.n, 0.98)


class Detector:
    """The mixture of CUSUMs on a stream in its own unit, with the noise known or learned.

    Autocorrelated noise is whitened first: of each sample, what the one before it predicts is
    taken off. Until START samples are in, it learns and signals nothing.

    Args:
        run_length: mean samples between false alarms.
        noise: the level's noise; where its n is 0 it is learned from the stream.
        floor: smallest believable standard deviation (the resolution's).
        follow: samples after which old ones fade.
        mean: the baseline where it is known; then judging starts at once.
    """

    __slots__ = (
        "_before",
        "_cusums",
        "_first",
        "_first_scale",
        "_mean",
        "_noise_n",
        "_scale",
        "_slope",
        "_until",
        "rest",
    )

    def __init__(
        self,
        *,
        run_length: float = 36_000.0,
        noise: Noise | None = None,
        floor: float = 0.0,
        follow: int = 6000,
        mean: float | None = None,
    ) -> None:
        known = (noise.sd_deg, noise.lag1) if noise is not None and noise.n > 0 else None
        self._noise_n = noise.n if noise is not None and noise.n > 0 else 0
        self.rest = Rest(floor=floor, follow=follow, known=known)
        self._cusums: Cusums = mixture(run_length)
        self._mean = mean
        self.restart()

    def restart(self) -> None:
        """Forget where the stream was; with a known mean, that stays."""
        self._cusums.reset()
        self.rest.forget()
        self._before = 0.0
        self._until = START
        self._scale = self._first_scale = self._slope = 0.0
        self._first = True
        if self._mean is not None:
            self.rest.mean = self._mean
            self._measure(math.inf)

    def recentre(self, mean: float, samples: int) -> None:
        """Judge against a new mean, itself the mean of so many samples; the noise is kept."""
        self._cusums.reset()
        self.rest.recentre(mean, samples)
        self._first = True
        if self.rest.n >= START:
            self._measure(self.rest.mean_n)
            self._until = self.rest.mean_n + 1

    @property
    def ready(self) -> bool:
        """Whether samples are being judged."""
        return self._scale > 0.0

    @property
    def since(self) -> int:
        """After a signal: how many samples ago the change seems to have begun."""
        return self._cusums.since

    def learn(self, x: float) -> None:
        """Take one sample that is known to be of the stream at rest; nothing is judged."""
        self._before = x - self.rest.mean
        self._first = False
        self._take(x)

    def push(self, x: float) -> bool:
        """Take one sample; say whether the stream has changed. A signalling sample is not learned."""
        if not self._scale:
            self.learn(x)
            return False
        off = x - self.rest.mean
        if self._first:
            self._first, z = False, off * self._first_scale
        else:
            z = (off - self._slope * self._before) * self._scale
        self._before = off
        found = self._cusums.push(z)
        if not found and self._mean is None:
            self._take(x)
        return found

    def _take(self, x: float) -> None:
        rest = self.rest
        rest.learn(x)
        if rest.mean_n >= self._until:
            self._measure(rest.mean_n)
            self._until = rest.mean_n + max(rest.mean_n // 8, 1)

    def _measure(self, n: float) -> None:
        """Work out the scale anew: one over the widened deviation of what cannot be predicted.

        Done after each eighth more samples rather than after every one, for its cost.
        """
        rest = self.rest
        sd, self._slope = rest.sd, rest.lag1
        worth = independent(min(n, self._noise_n or n), self._slope)
        unforeseen = math.sqrt(1.0 - self._slope * self._slope)
        self._first_scale = 1.0 / (sd * widening(worth)) if sd > 0.0 else 0.0
        self._scale = self._first_scale / unforeseen
