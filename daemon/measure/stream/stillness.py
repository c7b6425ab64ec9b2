"""Is this stretch still? A level's own noise is; a creep and the tail of a movement are not.

What lies in the stretch and in the calm time just before it is fitted with each of a few
shapes a movement may have left: exponential tails from quick to slow, and a straight creep.
Where a shape stands out of the noise, and fits about as well as the best one, what it puts
into the mean of the stretch must be small against the uncertainty of a placement. After a
sharp stop only a quick tail fits, and it leaves nothing; a slow tail is refused until it has
died away; a creep shows as soon as the time looked back on is long enough.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from operator import mul

from daemon.measure.stream.average import Prior, inflation, median, robust_sd

SHARE_OF_U = 0.15
"""The part of an expanded uncertainty that a movement may seem to leave in an average; what it
really leaves is known only roughly, and is to stay under a fifth."""
NOISIER = 3.0
"""A learned level may shake this much more than it was learned to and still be at rest."""
CERTAINLY = 1.7
"""A second of samples from a level at rest hardly ever seems noisier by this factor."""
RAGGED = 2.0
"""A stretch at rest hardly ever spreads by this factor more than its noise."""
REACH = 16.0
"""Samples this many standard deviations from a stretch's middle do not belong to its calm."""
TAILS_S = (0.06, 0.08, 0.105, 0.135, 0.175, 0.23, 0.3, 0.39, 0.5, 0.65, 0.85, 1.2)
"""Time constants of the tails that are looked for."""
CREEP = math.inf
TAIL_BLOCK = 64
"""Tails are kept in multiples of so many points, so that few are worked out anew."""
DOUBT = 0.7
"""Added to a shape's size, in its own standard deviations."""
AS_GOOD = 2.0
"""Shapes within this much of the best in squared standard deviations fit about as well."""
CREEP_AS_GOOD = 6.0
"""A creep does not die away, so it is given the benefit of more doubt."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One shape, ready to be laid on n values of which the last `stretch` are averaged.

    Attributes:
        weights: dot product with the values gives the shape's size.
        u: standard deviation of that size for unit noise.
        part: what unit size puts into the mean of the stretch.
    """

    weights: tuple[float, ...]
    u: float
    part: float


@lru_cache(maxsize=512)
def shapes(n: int, stretch: int, rate_hz: float, every: int, lag1: float) -> tuple[Shape, ...]:
    """Return every tail and the creep for n points of `every` samples, in the order looked for."""
    return tuple(shape(n, stretch, tau_s * rate_hz / every, lag1) for tau_s in (*TAILS_S, CREEP))


def shape(n: int, stretch: int, tau: float, lag1: float) -> Shape:
    """Prepare a tail with a time constant of `tau` samples, or a creep where tau is CREEP.

    Generalised least squares for AR(1) noise, with a constant beside the shape: both are
    whitened first. A creep's part is its way over half the stretch.
    """
    if math.isinf(tau):
        raw = [float(i) for i in range(n)]
        part = stretch / 2.0
    else:
        raw = _tail(tau, -(-n // TAIL_BLOCK) * TAIL_BLOCK)[:n]
        part = math.fsum(raw[n - stretch :]) / stretch
    level, level_square = _flat(n, lag1)
    bent = _whitened(raw, lag1)
    share = _dot(bent, level) / level_square
    own = [x - share * one for x, one in zip(bent, level, strict=True)]
    square = _dot(own, own)
    fresh = math.sqrt(1.0 - lag1 * lag1)
    later = [x / fresh for x in own[1:]]
    now = [own[0], *later]
    weights = [(a - lag1 * b) / square for a, b in zip(now, [*later, 0.0], strict=True)]
    return Shape(tuple(weights), 1.0 / math.sqrt(square), part)


@lru_cache(maxsize=256)
def _tail(tau: float, n: int) -> list[float]:
    """Return n values of a tail; whoever wants fewer takes the first of them."""
    return [math.exp(-i / tau) for i in range(n)]


@lru_cache(maxsize=64)
def _flat(n: int, lag1: float) -> tuple[list[float], float]:
    """Return the whitened constant, which is the same beside every shape, and its square."""
    level = _whitened([1.0] * n, lag1)
    return level, _dot(level, level)


def _whitened(values: Sequence[float], r: float) -> list[float]:
    """Return what makes unit AR(1) noise white and of unit variance."""
    fresh = math.sqrt(1.0 - r * r)
    return [values[0], *[(b - r * a) / fresh for a, b in pairwise(values)]]


def _dot(a: Sequence[float], b: Sequence[float]) -> float:
    return math.fsum(map(mul, a, b))


def shown_noise(values: Sequence[float], prior: Prior) -> float:
    """Noise to judge by: what is known, or more where the stretch surely shows more.

    Two looks, at the steps between neighbours and at what is left of a straight line, and
    the smaller counts: a movement enlarges one or the other.
    """
    steps = [abs(b - a) for a, b in pairwise(values)]
    smooth = math.sqrt(2.0 * (1.0 - prior.lag1))
    shown = 1.4826 * median(sorted(steps)) / smooth if steps else 0.0
    if not prior.learned:
        return max(prior.sd, min(shown, max(10.0 * prior.sd, 0.3)))
    if shown <= CERTAINLY * prior.sd:
        return prior.sd
    shown = min(shown, _off_line(values))
    return min(shown, NOISIER * prior.sd) if shown > CERTAINLY * prior.sd else prior.sd


def _off_line(values: Sequence[float]) -> float:
    """Standard deviation about the best straight line."""
    n = len(values)
    middle, mean = (n - 1) / 2.0, math.fsum(values) / n
    tilt = math.fsum([(i - middle) * x for i, x in enumerate(values)])
    tilt /= n * (n * n - 1.0) / 12.0
    off = [x - mean - tilt * (i - middle) for i, x in enumerate(values)]
    return math.sqrt(_dot(off, off) / max(n - 2, 1))


def ragged(values: Sequence[float], noise: float) -> bool:
    """Whether the stretch spreads more than the noise, or is full of outliers."""
    middle = median(sorted(values))
    if robust_sd(values, middle) > RAGGED * noise:
        return True
    return sum([abs(value - middle) <= 4.5 * noise for value in values]) < 0.7 * len(values)


def with_calm(before: Sequence[float], values: Sequence[float], noise: float) -> list[float]:
    """Return the stretch together with what came just before it and is not yet a movement."""
    middle, reach = median(sorted(values)), REACH * noise
    far = [abs(value - middle) > reach for value in before]
    if not any(far):
        return [*before, *values]
    start = len(before)
    while start > 0 and not (far[start - 1] and far[max(start - 2, 0)]):
        start -= 1
    return [*before[start:], *values]


def without_spikes(values: Sequence[float], noise: float) -> list[float]:
    """Return the values with lone ones and pairs put to the median of the five around them.

    A slope is its own median, so nothing is taken off a tail; the two oldest stay.
    """
    reach, calm = 5.0 * noise, list(values)
    last = len(values) - 5
    if last < 0:
        return calm
    lowest, highest = min(values), max(values)
    if highest - lowest <= reach:
        return calm
    for i in range(2, len(values)):
        if highest - values[i] <= reach and values[i] - lowest <= reach:
            continue
        first = min(i - 2, last)
        middle = sorted(values[first : first + 5])[2]
        if abs(values[i] - middle) > reach:
            calm[i] = middle
    return calm


def thinned(values: Sequence[float], every: int) -> list[float]:
    """Return means of blocks of `every` values, the last block ending with the last value."""
    if every <= 1:
        return list(values)
    start = len(values) % every
    return [math.fsum(values[i : i + every]) / every for i in range(start, len(values), every)]


@dataclass(frozen=True, slots=True)
class Looking:
    """How a stretch is looked at.

    Attributes:
        noise: standard deviation of a sample.
        lag1: its autocorrelation.
        rate_hz: samples a second.
        every: samples that are taken together.
    """

    noise: float
    lag1: float
    rate_hz: float
    every: int


def left_in(
    before: Sequence[float], values: Sequence[float], how: Looking, limit: float
) -> tuple[float, bool]:
    """Return what movement has put into the mean of `values`, and whether it is a creep.

    Args:
        before: what came just before the stretch, as much as there is.
        values: the stretch.
        how: noise and rate.
        limit: a shape counts when it stands out by so many standard deviations.

    Returns:
        Degrees, the worst of the shapes that fit about as well as the best one; 0 where none
        stands out. The flag is true when the creep is among them.
    """
    belonging = without_spikes(with_calm(before, values, how.noise), how.noise)
    points = thinned(belonging, how.every)
    stretch = min(len(values) // how.every, len(points))
    noise = how.noise * math.sqrt(inflation(how.lag1, how.every) / how.every)
    lag1 = how.lag1**how.every
    prepared = shapes(len(points), stretch, how.rate_hz, how.every, lag1)
    laid = [(abs(math.fsum(map(mul, one.weights, points))), one.u * noise) for one in prepared]
    best = max([size / u for size, u in laid])
    if best <= limit:
        return 0.0, False
    found = [
        (size / u, (size + DOUBT * u) * one.part, tau_s)
        for (size, u), one, tau_s in zip(laid, prepared, (*TAILS_S, CREEP), strict=True)
    ]
    good = [
        one
        for at, one in enumerate(found)
        if one[0] ** 2 > best**2 - (AS_GOOD if one[2] < CREEP else CREEP_AS_GOOD)
        or (at and found[at - 1][0] == best)
    ]
    return max(left for _, left, _ in good), any(math.isinf(tau) for _, _, tau in good)
