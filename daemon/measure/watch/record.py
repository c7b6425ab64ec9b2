"""The last few seconds of a watched stream: are they at rest, and where? And one block of it."""

import math
from collections import deque
from dataclasses import dataclass

from daemon.measure.watch.rest import Rest, independent

_BURST = 8.0
"""A quarter of the record with this many times the variance of another is a burst, not noise."""
_NO_BURST = 1e-12
"""A variance under this is no burst, however still the other quarters: it is rounding."""
_CAUTIOUS_LAG1 = 0.5
"""Assumed where the noise is not known yet."""
_HALVES = 3.5
"""Halves may differ by this many of their standard errors."""
_WILDER = 3.0
"""The variance may be larger by this many of its standard errors."""


@dataclass(frozen=True, slots=True)
class Means:
    """Means of some samples: blade, and blade minus witness where it was heard all along."""

    own: float
    against: float | None


class Record:
    """A short record of samples, the oldest dropped."""

    def __init__(self, length: int) -> None:
        self.length = length
        self.own: deque[float] = deque(maxlen=length)
        self.against: deque[float | None] = deque(maxlen=length)

    def clear(self) -> None:
        """Forget all."""
        self.own.clear()
        self.against.clear()

    def push(self, own: float, against: float | None) -> None:
        """Take one sample; `against` is None while the witness is not heard."""
        self.own.append(own)
        self.against.append(against)

    @property
    def full(self) -> bool:
        """Whether the record has its length."""
        return len(self.own) == self.length

    def last(self, length: int) -> "Record":
        """Return a record of the newest samples."""
        newest = Record(length)
        newest.own.extend(self.own)
        newest.against.extend(self.against)
        return newest

    def heard(self) -> list[float]:
        """Return the differences to the witness if it was heard all along, else nothing."""
        heard = [value for value in self.against if value is not None]
        return heard if len(heard) == len(self.own) else []

    def means(self) -> Means:
        """Return the means of what is in the record, which is not empty."""
        heard = self.heard()
        return Means(_mean(list(self.own)), _mean(heard) if heard else None)

    def own_at_rest(self, rest: Rest) -> bool:
        """Whether the blade's spread and drift are what the noise explains."""
        return self.full and _explained(list(self.own), rest)

    def pair_at_rest(self, rest: Rest) -> bool:
        """The same of the difference to the witness, where it was heard all along."""
        heard = self.heard()
        return self.full and bool(heard) and rest.n > 0 and _explained(heard, rest)

    def looks_quiet(self) -> bool:
        """Whether, with the noise unknown, this could be a stream at rest: even and level."""
        if not self.full:
            return False
        values = list(self.own)
        quarter = len(values) // 4
        quarters = [_variance(values[k * quarter : (k + 1) * quarter]) for k in range(4)]
        most, least = max(quarters), min(quarters)
        if most > _BURST * least and most > _NO_BURST:
            return False
        sd = math.sqrt(math.fsum(quarters) / 4.0)
        return _halves_agree(values, sd, independent(len(values), _CAUTIOUS_LAG1))


class Gathering:
    """One block in the making: a second of samples.

    Attributes:
        count: samples so far.
        pairs: the differences to the witness, in order.
    """

    def __init__(self) -> None:
        self.count = 0
        self.pairs: list[float] = []
        self._sum = 0.0
        self._low, self._high = math.inf, -math.inf

    def add(self, own: float, against: float | None) -> None:
        """Take one sample."""
        best = own
        if against is not None:
            self.pairs.append(against)
            best = against
        self._low = min(self._low, best)
        self._high = max(self._high, best)
        self.count += 1
        self._sum += own

    @property
    def span(self) -> float:
        """Largest minus smallest, against the witness where it was heard."""
        return self._high - self._low

    def means(self) -> Means:
        """Return the means of the samples, of which there is at least one."""
        against = None
        if len(self.pairs) == self.count:
            total = 0.0
            for pair in self.pairs:
                total += pair
            against = total / self.count
        return Means(self._sum / self.count, against)


def spread(values: list[float]) -> float:
    """Return the standard deviation of some samples."""
    return math.sqrt(_variance(values))


def _mean(values: list[float]) -> float:
    return math.fsum(values) / len(values)


def _variance(values: list[float]) -> float:
    mean = _mean(values)
    return math.fsum((value - mean) ** 2 for value in values) / max(len(values) - 1, 1)


def _halves_agree(values: list[float], sd: float, worth: float) -> bool:
    """Whether both halves have one mean; a half of `worth / 2` has an error of sd √(2 / worth)."""
    half = len(values) // 2
    apart = abs(_mean(values[-half:]) - _mean(values[:half]))
    return apart <= _HALVES * sd * 2.0 / math.sqrt(worth)


def _explained(values: list[float], rest: Rest) -> bool:
    """Whether variance and halves are within so many of their standard errors."""
    worth = max(independent(len(values), rest.lag1), 2.0)
    most = rest.sd * rest.sd * (1.0 + _WILDER * math.sqrt(2.0 / worth))
    return _variance(values) <= most and _halves_agree(values, rest.sd, worth)
