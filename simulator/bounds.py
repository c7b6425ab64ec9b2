"""Exact bounds of a proportion (Clopper and Pearson 1934), without scipy."""

import math
from collections.abc import Callable


def exact_bounds(count: int, of: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return lower and upper bound of a proportion seen `count` times in `of`.

    Each bound is the probability at which seeing so many, or so few, would be as unlikely as
    half of what the confidence leaves (Clopper and Pearson, Biometrika 26, 1934).

    Raises:
        ValueError: count is not between 0 and `of`, or confidence not between 0 and 1.
    """
    if not 0 <= count <= of or not 0.0 < confidence < 1.0:
        raise ValueError(f"{count} of {of} at confidence {confidence}")
    tail = (1.0 - confidence) / 2.0
    lower = 0.0 if count == 0 else _solve(lambda p: at_least(count, of, p) - tail)
    upper = 1.0 if count == of else _solve(lambda p: tail - at_most(count, of, p))
    return lower, upper


def at_most(count: int, of: int, p: float) -> float:
    """Return the binomial probability of at most `count` of `of`."""
    return math.fsum(_probability(k, of, p) for k in range(count + 1))


def at_least(count: int, of: int, p: float) -> float:
    """Return the binomial probability of at least `count` of `of`."""
    return math.fsum(_probability(k, of, p) for k in range(count, of + 1))


def _probability(k: int, n: int, p: float) -> float:
    if p <= 0.0 or p >= 1.0:
        return float(k == (n if p >= 1.0 else 0))
    ways = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return math.exp(ways + k * math.log(p) + (n - k) * math.log1p(-p))


def _solve(rising: Callable[[float], float]) -> float:
    """Return where a rising function of [0, 1] passes zero."""
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if rising(middle) < 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
