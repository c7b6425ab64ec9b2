"""Spans of time as counts of samples: a level's stream is counted and never timed."""

import math
from dataclasses import dataclass

FEWEST = 8
"""A second has at least so many samples, however slow the level."""
LONGEST_S = 10.0
LOOKS_HZ = 12.5
"""Stillness is judged this often at most; faster samples are taken together."""


@dataclass(frozen=True, slots=True)
class Pace:
    """A level's rate in counts.

    Attributes:
        rate_hz: samples a second.
        second: samples that count as a second.
        limit: the most that are averaged.
        every: samples between two looks, taken together in each.
        calmly: samples between two looks at an average that was ready, a quarter of a second.
        seldom: the same of a level whose noise is known, half a second.
        idly: and once it has lain for the longest average, a second.
    """

    rate_hz: float
    second: int
    limit: int
    every: int
    calmly: int
    seldom: int
    idly: int


def pace_of(rate_hz: float) -> Pace:
    """Return the counts of a level with so many samples a second."""
    second = max(FEWEST, math.ceil(rate_hz))
    every = max(1, math.ceil(rate_hz / LOOKS_HZ))
    return Pace(
        rate_hz=rate_hz,
        second=second,
        limit=max(second, math.ceil(rate_hz * LONGEST_S)),
        every=every,
        calmly=max(every, math.floor(rate_hz / 4.0)),
        seldom=max(every, math.floor(rate_hz / 2.0)),
        idly=max(every, math.floor(rate_hz)),
    )
