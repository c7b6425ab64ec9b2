"""Looks at the newest samples of a level that lies somewhere: its noise, and what moves in it."""

import math
from collections.abc import Sequence

from daemon.measure.stream.average import Prior, likely_lag1, median, robust_sd
from daemon.measure.stream.pace import Pace
from daemon.measure.stream.stillness import Looking, left_in, ragged, shown_noise
from daemon.measure.stream.stretch import Stretch

ARRIVES, TAKES, LEAVES = 2.0, 2.0, 3.0
"""Traces of movement, in their own standard deviations, over which a stretch is not yet still,
not yet taken, and not still any more; the last is looked at again with every look."""
WARY = 1.4
"""The same for a level that has just been seen to creep, until it moves or is lifted."""


class Looks:
    """The judgement of one level's newest samples.

    Args:
        stretch: the samples.
        prior: what is known of the noise.
        pace: counts of samples.
        may_leave_deg: what a movement may put into an average at most.

    Attributes:
        creeps: whether the last look for traces of movement found a creep. A stretch too
            ragged to be looked at says nothing new.
        wary: the level was just seen to creep away from its rest.
    """

    def __init__(self, stretch: Stretch, prior: Prior, pace: Pace, may_leave_deg: float) -> None:
        self.prior = prior
        self.pace = pace
        self.creeps = self.wary = False
        self._stretch = stretch
        self._may_leave_deg = may_leave_deg

    def set_rate(self, pace: Pace) -> None:
        """Take other counts of samples."""
        self.pace = pace

    def set_noise(self, prior: Prior) -> None:
        """Take what else is known of the noise."""
        self.prior = prior

    def crept(self) -> None:
        """It has left its rest by creeping."""
        self.wary = True

    def trust(self) -> None:
        """It moved or was lifted: that it crept before says nothing of its next rest."""
        self.wary = False

    def noise(self) -> float:
        """Noise of the last second; of three where it was never learned, to be surer of it."""
        noise = shown_noise(self._stretch.tail(self.pace.second), self.prior)
        if self.prior.learned:
            return noise
        return max(noise, shown_noise(self._stretch.tail(3 * self.pace.second), self.prior))

    def swept(self, values: Sequence[float], noise: float) -> bool:
        """Whether the last half second is visibly on the move."""
        few = values[-max(5, self.pace.second // 2) :]
        swept = abs(median(sorted(few[-3:])) - median(sorted(few[:3])))
        return swept > 4.0 * noise or robust_sd(few, median(sorted(few))) > 3.0 * noise

    def still_size(self, values: Sequence[float], noise: float) -> int:
        """Samples at the end of the stream that are still: a second, or 0.

        values: the newest second. Where nobody learned how the level's noise hangs together,
        three seconds are looked at too: noise that wanders looks like a creep in one.
        """
        if self._still(values, noise, self.prior.lag1):
            return len(values)
        if self.prior.learned:
            return 0
        longer = self._stretch.tail(3 * self.pace.second)
        if len(longer) < 3 * self.pace.second or self.swept(longer, noise):
            return 0
        return len(longer) if self._still(longer, noise, self._wander(longer)) else 0

    def lag1(self, values: Sequence[float]) -> float:
        """Autocorrelation to judge an average of these newest values by."""
        return self.prior.lag1 if self.prior.learned else self._wander(values)

    def left_in(self, values: Sequence[float], noise: float, lag1: float, limit: float) -> float:
        """What a movement puts into the mean of these newest values; 0 when little enough."""
        before = self._stretch.before(len(values), 2 * self.pace.second)
        how = Looking(noise, lag1, self.pace.rate_hz, self.pace.every)
        left, self.creeps = left_in(before, values, how, min(limit, WARY) if self.wary else limit)
        return left if left > self._may_leave_deg else 0.0

    def _still(self, values: Sequence[float], noise: float, lag1: float) -> bool:
        return not ragged(values, noise) and self.left_in(values, noise, lag1, ARRIVES) == 0.0

    def _wander(self, values: Sequence[float]) -> float:
        """Autocorrelation of what is left when a straight line is taken out."""
        n = len(values)
        third = n // 3
        rise = (median(sorted(values[-third:])) - median(sorted(values[:third]))) / (n - third)
        flat = [value - rise * i for i, value in enumerate(values)]
        return likely_lag1(flat, math.fsum(flat) / n, self.prior)
