"""An aircraft that sways on tail and tyres: is it so, how far, and where is the middle?

A swing is a constant and a sine wave of unknown phase and frequency, its two parts normal with
standard deviation `swing`. For each of a few plausible frequencies the constant follows by
linear algebra (Bayesian linear regression with a flat constant), and the frequencies are weighed
by how likely they make what was seen. A span that is short against the swing leaves the constant
as unsure as it is.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import mul

FREQUENCIES_HZ = (*(k / 50.0 for k in range(5, 10)), *(k / 25.0 for k in range(5, 21)))
"""Swings of a light aircraft on soft tyres or a tail spring, 0.1 to 0.8. The slow ones stand closer,
because an average holds so little of them: within six seconds the nearest runs away by less than
a tenth of a turn."""
SWINGS_DEG = (0.05, 0.1, 0.2)
"""Sizes that are looked for: standard deviations of a swing's two parts."""
SPAN_S = 6.0
"""An average of what sways spans at least so long: most of the slowest swing."""
BETWEEN = 0.1
"""A real swing lies between two frequencies: its middle is surer than so much of it never."""
BLOCK_S = 0.25
"""Samples are taken together over so long."""
SHORTEST_S = 1.5
"""A shorter span shows no swing."""
FAR_DEG = 1.0
"""A span that goes further holds a turned blade, not a swing."""
PLACEMENTS = 8
"""So many of the last placements are heard;"""
AT_MOST = 3.0
"""and none says more than this, so that a blade that creeps convicts no aircraft."""
SURE = 5.5
"""Natural logarithm of the odds from which on it sways; it goes on while they are over nothing."""
MISFIT = 3.5
"""What a swing leaves has a variance within so many standard errors of the noise's."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A swing laid through a span.

    Attributes:
        odds: natural logarithm of how much likelier the swing is than none.
        middle, u: the constant, and its standard uncertainty.
        left: what is left, in standard errors of its variance.
    """

    odds: float
    middle: float
    u: float
    left: float


@dataclass(frozen=True, slots=True)
class _Waves:
    """A cosine, its mean taken off, and a sine over n points, and the squares of both.

    The phase counts from the middle of the span: there the cosine is even and the sine odd, so
    the sine has no mean, and nothing of the one is in the other.
    """

    cosine: tuple[float, ...]
    sine: tuple[float, ...]
    mean: float
    squares: tuple[float, float]


@lru_cache(maxsize=4096)
def _waves(n: int, turns: float) -> _Waves:
    """turns: radians from point to point."""
    angles = [turns * (i - 0.5 * (n - 1)) for i in range(n)]
    cosine, sine = [math.cos(a) for a in angles], [math.sin(a) for a in angles]
    mean = math.fsum(cosine) / n
    cosine = [x - mean for x in cosine]
    return _Waves(tuple(cosine), tuple(sine), mean, (_dot(cosine, cosine), _dot(sine, sine)))


def _dot(a: Sequence[float], b: Sequence[float]) -> float:
    return math.fsum(map(mul, a, b))


def block_of(rate_hz: float) -> int:
    """Return how many samples are taken together, at least one."""
    return max(1, round(BLOCK_S * rate_hz))


def blocks(values: Sequence[float], rate_hz: float) -> tuple[list[float], int]:
    """Return means of blocks of a quarter of a second, the last ending with the last value."""
    every = block_of(rate_hz)
    start = len(values) % every
    return [
        math.fsum(values[i : i + every]) / every for i in range(start, len(values), every)
    ], every


@dataclass(frozen=True, slots=True)
class Laid:
    """What does not hang on the size of the swing: points beside the waves of every frequency.

    Attributes:
        mean: of the points.
        off: the points, their mean taken off.
        waves: of each frequency, with the dot products of its cosine and its sine with `off`.
    """

    mean: float
    off: list[float]
    waves: list[tuple[_Waves, float, float]]


def lay(points: Sequence[float], step_s: float) -> Laid:
    """Lay the waves of every frequency beside points at even spacing."""
    n, mean = len(points), math.fsum(points) / len(points)
    off = [x - mean for x in points]
    every = [_waves(n, 2.0 * math.pi * hz * step_s) for hz in FREQUENCIES_HZ]
    return Laid(mean, off, [(one, _dot(one.cosine, off), _dot(one.sine, off)) for one in every])


def fit(laid: Laid, noise: float, swing: float) -> Fit:
    """Fit a swing of this size; noise: standard deviation of one point."""
    found = [_one(laid.off, *one, noise, swing) for one in laid.waves]
    best = max(one.odds for one in found)
    weights = [math.exp(one.odds - best) for one in found]
    total = math.fsum(weights)
    middle = math.fsum([w * one.middle for w, one in zip(weights, found, strict=True)]) / total
    square = math.fsum(
        [w * (one.u**2 + (one.middle - middle) ** 2) for w, one in zip(weights, found, strict=True)]
    )
    left = min(one.left for one in found)
    odds = best + math.log(total / len(FREQUENCIES_HZ))
    u = math.hypot(math.sqrt(square / total), BETWEEN * swing)
    return Fit(odds, laid.mean + middle, u, left)


def _one(
    off: Sequence[float], waves: _Waves, on_c: float, on_s: float, noise: float, swing: float
) -> Fit:
    """Return the fit at one frequency of points whose mean is taken off; see `Laid`."""
    n, variance = len(off), noise * noise
    ridge = variance / (swing * swing)
    c_square, s_square = (square + ridge for square in waves.squares)
    by_c, by_s = on_c / c_square, on_s / s_square
    explained = on_c * by_c + on_s * by_s
    odds = 0.5 * (explained / variance - math.log(c_square / ridge * (s_square / ridge)))
    u2 = variance / n + variance * waves.mean**2 / c_square
    rest = [x - by_c * p - by_s * q for x, p, q in zip(off, waves.cosine, waves.sine, strict=True)]
    dof = max(n - 3, 1)
    left = (_dot(rest, rest) / variance - dof) / math.sqrt(2.0 * dof)
    return Fit(odds, -waves.mean * by_c, math.sqrt(u2), left)


class SwayStudy:
    """Hears what the last placements of one level say of a swing.

    Attributes:
        swing: standard deviation of each part of it, which is that of the swing itself; 0 while
            it does not sway.
    """

    def __init__(self) -> None:
        self.swing = 0.0
        self._heard: deque[tuple[float, ...]] = deque(maxlen=PLACEMENTS)

    def add(self, values: Sequence[float], rate_hz: float, noise: float) -> None:
        """Take the samples of one placement while it lay there; noise: of a block's mean."""
        points, every = blocks(values, rate_hz)
        if len(values) < SHORTEST_S * rate_hz or max(points) - min(points) > FAR_DEG:
            return
        laid = lay(points, every / rate_hz)
        fits = [fit(laid, noise, swing) for swing in SWINGS_DEG]
        if min(one.left for one in fits) > MISFIT:
            return
        self._heard.append(tuple(one.odds for one in fits))
        heard = list(zip(*self._heard, strict=True))
        sure = max(math.fsum([max(-AT_MOST, min(AT_MOST, one)) for one in size]) for size in heard)
        sways = sure > (0.0 if self.swing else SURE)
        self.swing = _likely_size([math.fsum(size) for size in heard]) if sways else 0.0


def _likely_size(odds: Sequence[float]) -> float:
    """Return the root mean square of the sizes, weighed by how likely they make what was seen."""
    weights = [math.exp(one - max(odds)) for one in odds]
    squares = [w * size * size for w, size in zip(weights, SWINGS_DEG, strict=True)]
    return math.sqrt(math.fsum(squares) / math.fsum(weights))
