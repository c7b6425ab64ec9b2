"""Is the stream still what it was? The mixture of CUSUMs on whitened samples of a level."""

import math

from daemon.measure.watch.cusums import Cusums, mixture
from daemon.measure.watch.rest import START, Rest, independent
from shared.profile import Noise

PAID = 5.0
"""Limits learned from n samples are 1 + PAID / n times as wide."""


def widening(n: float) -> float:
    """Return the factor on all limits that pays for a baseline of n independent samples.

    So chosen that the median over baselines of the conditional false-alarm run length is not
    below the nominal one (by simulation: benchmarks.detectors). It is 1.17 at 30 samples and
    1.008 at 600.
    """
    return 1.0 + PAID / max(n, 1.0)


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
        self._before = 0.0
        self._until = START
        self._scale = self._first_scale = self._slope = 0.0
        self._first = True
        if self._mean is not None:
            self.rest.recentre(self._mean, 0)
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
