"""Has the stream changed? A mixture of two-sided CUSUMs, each made for one size of change.

A CUSUM made for a shift of delta sums what exceeds k = delta / 2 and signals above h; for that
very shift no test of the same false-alarm run length is quicker on its worst day (Page,
Biometrika 41, 1954; Moustakides, Annals of Statistics 14, 1986). The size is not known here, so
five of them run side by side and the limits are drawn a little further out for it (Lorden and
Eisenberger, Technometrics 15, 1973, from memory). Everything is in standard deviations of the
noise; a run length is the mean number of samples between two false alarms.
"""

import itertools
import math
from collections.abc import Sequence

SIZES = (0.5, 1.0, 2.0, 3.0, 4.0)
"""Shifts the members are made for, in standard deviations."""
FAVOUR = (0.0, 0.0, 0.0, 0.0, 1.4)
"""How much less log-likelihood a member needs: the largest shift is worth haste, so that four
standard deviations are called at the first sample more often than not."""
LOG_LIKELIHOOD = (
    (500.0, 6.42),
    (1_000.0, 7.23),
    (2_000.0, 8.01),
    (5_000.0, 8.99),
    (10_000.0, 9.71),
    (36_000.0, 11.05),
    (100_000.0, 12.10),
    (288_000.0, 13.14),
)
"""Run length and the log-likelihood ratio that gives it, by simulation: benchmarks.detectors."""


def log_likelihood_limit(run_length: float) -> float:
    """Return the mixture's limit for a run length, interpolated in its logarithm.

    Beyond the table the limit grows as the logarithm itself, as it does for any CUSUM.

    Raises:
        ValueError: a run length under 100 samples is not a detector.
    """
    if not run_length >= 100.0:
        raise ValueError("a run length of at least 100 samples is needed")
    at = math.log(run_length)
    points = [(math.log(length), limit) for length, limit in LOG_LIKELIHOOD]
    if at <= points[0][0]:
        return points[0][1] + at - points[0][0]
    for (a, low), (b, high) in itertools.pairwise(points):
        if at <= b:
            return low + (high - low) * (at - a) / (b - a)
    return points[-1][1] + at - points[-1][0]


class Cusums:
    """Two-sided CUSUMs side by side; one alone is Page's chart with reference k and limit h.

    Attributes:
        high, low: the sums of each member, in standard deviations.
        since: after a signal, how many samples ago the change seems to have begun (at least 1).
    """

    __slots__ = (
        "_h",
        "_high_zero",
        "_k",
        "_low_zero",
        "_n",
        "_places",
        "high",
        "low",
        "since",
    )

    def __init__(self, k: Sequence[float], h: Sequence[float]) -> None:
        if len(k) != len(h) or not k:
            raise ValueError("one limit for each reference value, and at least one")
        self._k = tuple(k)
        self._h = tuple(h)
        self._places = range(len(self._k))
        self.reset()

    def reset(self) -> None:
        """Start again from nothing."""
        self.high = [0.0 for _ in self._k]
        self.low = [0.0 for _ in self._k]
        self._high_zero = [0 for _ in self._k]
        self._low_zero = [0 for _ in self._k]
        self._n = 0
        self.since = 0

    def push(self, z: float) -> bool:
        """Take one sample, in standard deviations from the baseline; say whether it signals.

        The sums go on after a signal; `reset` starts again.
        """
        self._n = n = self._n + 1
        high, low, h = self.high, self.low, self._h
        found = False
        for place, k in zip(self._places, self._k, strict=True):
            above, below = high[place] + z - k, low[place] - z - k
            if above <= 0.0:
                above, self._high_zero[place] = 0.0, n
            elif above > h[place] and not found:
                found, self.since = True, n - self._high_zero[place]
            if below <= 0.0:
                below, self._low_zero[place] = 0.0, n
            elif below > h[place] and not found:
                found, self.since = True, n - self._low_zero[place]
            high[place], low[place] = above, below
        return found


def mixture(run_length: float) -> Cusums:
    """Return the five CUSUMs whose joint false-alarm run length is this.

    A log-likelihood ratio for a shift of delta is delta times the sum with k = delta / 2.
    """
    limit = log_likelihood_limit(run_length)
    return Cusums(
        [size / 2.0 for size in SIZES],
        [(limit - favour) / size for size, favour in zip(SIZES, FAVOUR, strict=True)],
    )
