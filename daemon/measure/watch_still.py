"""The last few seconds of a watched stream: are they at rest, and where?"""

import math
from collections import deque
from dataclasses import dataclass

from daemon.measure.detect_noise import Rest, independent

_BURST = 8.0
"""A quarter of the record this many times as wild as another is a burst, not noise."""
_CAUTIOUS_LAG1 = 0.5
"""Assumed where the noise is not known yet."""


def mean_variance(rest: Rest, samples: int, resolution: float) -> float:
    """Return the variance of a mean of so many samples of this noise.

    A resolution coarse against the noise is not averaged away (JCGM 100, F.2.2.1); noise of
    half a resolution and more stirs it well enough to be.
    """
    variance = rest.sd * rest.sd / max(independent(samples, rest.lag1), 1.0)
    return variance + (resolution * resolution / 12.0 if rest.sd <= 0.5 * resolution else 0.0)


@dataclass(frozen=True, slots=True)
class Calm:
    """Means over the record: blade, and blade minus witness where it was heard all along."""

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

    def means(self) -> Calm:
        """Return the means of what is in the record."""
        heard = self.heard()
        against = math.fsum(heard) / len(heard) if heard else None
        return Calm(math.fsum(self.own) / len(self.own), against)

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
        spreads = [_spread(values[k * quarter : (k + 1) * quarter]) for k in range(4)]
        most, least = max(spreads), min(spreads)
        if most > _BURST * least and most > 1e-12:
            return False
        sd = math.sqrt(math.fsum(spreads) / 4.0)
        return abs(_halves(values)) <= 3.5 * sd * 2.0 / math.sqrt(
            independent(len(values), _CAUTIOUS_LAG1)
        )


def spread(values: list[float]) -> float:
    """Return the standard deviation of some samples."""
    return math.sqrt(_spread(values))


def _spread(values: list[float]) -> float:
    mean = math.fsum(values) / len(values)
    return math.fsum((value - mean) ** 2 for value in values) / max(len(values) - 1, 1)


def _halves(values: list[float]) -> float:
    half = len(values) // 2
    return math.fsum(values[-half:]) / half - math.fsum(values[:half]) / half


def _explained(values: list[float], rest: Rest) -> bool:
    """Variance within three, halves within three and a half of their standard errors."""
    worth = max(independent(len(values), rest.lag1), 2.0)
    most = rest.sd * rest.sd * (1.0 + 3.0 * math.sqrt(2.0 / worth))
    return _spread(values) <= most and abs(_halves(values)) <= 3.5 * rest.sd * 2.0 / math.sqrt(
        worth
    )
