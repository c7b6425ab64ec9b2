"""Does it creep? Blocks of a second, looked at over several spans."""

import math
from collections import deque
from dataclasses import dataclass

from daemon.measure.watch.track import Place

CREEP_DEG_PER_S = 0.003
"""No slope below this is called a creep."""
SPANS = (6, 10, 20)
"""Blocks over which a creep is looked for: the slower, the longer it takes."""
ENDED = 12
"""Blocks over which a creep is seen to have ended."""
_PLAIN = 5.0
"""A slope is plain at this many of its standard errors."""
_RISEN = 4.0
"""A creep has come this many standard uncertainties of a block over its whole span."""
_HALF = 0.4
"""Either half of a creep has at least this part of the slope of the whole,"""
_HALF_PLAIN = 2.5
"""and this many standard errors of its own."""
_LEFT = 4.0
"""What is left about the line has at most this many times the variance of a block."""
_GOES_ON = 0.5
"""A creep goes on while the last blocks rise by more than this part of it."""


@dataclass(frozen=True, slots=True)
class Creep:
    """A slope per block that was found over so many blocks."""

    step: float
    span: int


class Creeping:
    """The last blocks, and the creep found in them that has not ended yet.

    Args:
        block_s: seconds of one block.
        least: no creep over less than this is called.
    """

    def __init__(self, block_s: float, least: float) -> None:
        self._least_step = CREEP_DEG_PER_S * block_s
        self._least = least
        self._blocks: deque[Place] = deque(maxlen=SPANS[-1])
        self.going: Creep | None = None

    def shaken(self) -> None:
        """A block was no rest: what came before is not looked at."""
        self._blocks.clear()

    def forget(self) -> None:
        """It is no longer followed: a creep that was found has no end that could be seen."""
        self.going = None
        self._blocks.clear()

    def take(self, block: Place) -> None:
        """Take one calm block."""
        self._blocks.append(block)

    def look(self, kept: float) -> Creep | None:
        """Return the creep that has just been found; kept: correlation of neighbouring blocks."""
        if self.going is not None:
            if not self._goes_on(self.going):
                self.forget()
            return None
        self.going = self._found(kept)
        return self.going

    @property
    def newest(self) -> Place:
        """The newest calm block; there is one wherever a creep was found."""
        return self._blocks[-1]

    def _found(self, kept: float) -> Creep | None:
        for span in SPANS:
            last = self._last(span)
            step = creep(last, self._least_step, self._least, kept) if last else 0.0
            if step:
                return Creep(step, span)
        return None

    def _last(self, length: int) -> list[Place]:
        """Return the last blocks where there are enough, all with or all without the witness."""
        last = list(self._blocks)[-length:]
        heard = {one.against is None for one in last}
        return last if len(last) == length and len(heard) == 1 else []

    def _goes_on(self, found: Creep) -> bool:
        """A creep has ended when the last blocks rise by less than half of it."""
        last = self._last(ENDED)
        if not last:
            return len(self._blocks) >= SPANS[0]
        return slope([one.best.mean for one in last]) * found.step > _GOES_ON * found.step**2


def slope(values: list[float]) -> float:
    """Return the least-squares slope per step."""
    middle = 0.5 * (len(values) - 1)
    top = math.fsum((place - middle) * value for place, value in enumerate(values))
    return 12.0 * top / _steps(len(values))


def _steps(n: int) -> float:
    """Return twelve times the sum of squares of n steps about their middle."""
    return n * (n * n - 1.0)


def _slope_error(n: int) -> float:
    """Return the standard error of a slope over n values, in standard deviations of one."""
    return math.sqrt(12.0 / _steps(n))


def creep(blocks: list[Place], least_per_step: float, least: float, kept: float = 0.0) -> float:
    """Return the slope per block where the blocks creep steadily, else 0.

    kept: correlation of neighbouring blocks, for which all errors are stretched.

    Steadily: over the whole and in both halves alike, five standard errors from none, and
    with nothing left about the line but the noise. A step fails in at least one half.
    """
    n = len(blocks)
    values = [block.best.mean for block in blocks]
    variance = max(block.best.variance for block in blocks)
    u = math.sqrt(variance * (1.0 + kept) / (1.0 - kept))
    whole = slope(values)
    if abs(whole) < max(least_per_step, _PLAIN * (u * _slope_error(n))):
        return 0.0
    if abs(whole) * n < max(least, _RISEN * u):
        return 0.0
    return whole if _in_both_halves(values, whole, u) and _straight(values, whole, u) else 0.0


def _in_both_halves(values: list[float], whole: float, u: float) -> bool:
    half = len(values) // 2
    least = max(_HALF * abs(whole), _HALF_PLAIN * u * _slope_error(half))
    halves = (slope(values[:half]), slope(values[half:]))
    return all(one * whole > 0.0 and abs(one) >= least for one in halves)


def _straight(values: list[float], whole: float, u: float) -> bool:
    n = len(values)
    centre, mean = 0.5 * (n - 1), math.fsum(values) / n
    left = math.fsum((v - mean - whole * (k - centre)) ** 2 for k, v in enumerate(values))
    return left <= _LEFT * u * u * n
