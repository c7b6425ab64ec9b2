"""Quantiles of the normal, of Student's t, and of a rectangle and a normal together."""

import math
from collections.abc import Sequence
from functools import lru_cache

Z95 = 1.959963984540054
K95 = 1.96
"""Coverage factor for 95 % of a normal distribution (JCGM 100:2008, table G.1)."""


def normal_cdf(x: float) -> float:
    """Return the chance of a standard normal below x."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def _continued_fraction(a: float, b: float, x: float) -> float:
    """Lentz's evaluation of the incomplete beta function's continued fraction (DLMF 8.17.22)."""
    tiny = 1e-300
    c, d = 1.0, 1.0 / max(1.0 - (a + b) * x / (a + 1.0), tiny)
    result = d
    for m in range(1, 300):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        before = result
        for term in (even, odd):
            d = 1.0 + term * d
            c = 1.0 + term / c
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = c if abs(c) > tiny else tiny
            result *= c * d
        if abs(result - before) < 1e-15 * abs(result):
            break
    return result


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function I_x(a, b), 0 <= x <= 1."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _continued_fraction(a, b, x) / a
    return 1.0 - front * _continued_fraction(b, a, 1.0 - x) / b


def t_two_sided(t: float, dof: float) -> float:
    """Return the chance that |T| with `dof` degrees of freedom exceeds |t|."""
    return incomplete_beta(dof / 2.0, 0.5, dof / (dof + t * t))


@lru_cache(maxsize=512)
def t95(dof: float) -> float:
    """Return the two-sided 95 % point of Student's t; dof need not be whole, and may be inf."""
    if dof > 1e6:
        return Z95
    low, high = Z95, 13.0
    while t_two_sided(high, dof) > 0.05:
        low, high = high, high * high
    t = Z95 + (Z95**3 + Z95) / (4.0 * dof)
    for _ in range(60):
        off = t_two_sided(t, dof) - 0.05
        low, high = (t, high) if off > 0.0 else (low, t)
        step = t + off / (2.0 * _density(t, dof))
        step = step if low < step < high else 0.5 * (low + high)
        if abs(step - t) < 1e-13 * t:
            break
        t = step
    return t


def _density(t: float, dof: float) -> float:
    """Density of Student's t."""
    half = 0.5 * (dof + 1.0)
    size = math.exp(math.lgamma(half) - math.lgamma(0.5 * dof)) / math.sqrt(dof * math.pi)
    return size * math.exp(-half * math.log1p(t * t / dof))


@lru_cache(maxsize=512)
def t_over_z(z: float, dof: float) -> float:
    """Return how much further out Student's t is than a normal at the chance of `z` deviations.

    The expansion of the quantile in 1/dof (Abramowitz and Stegun, 26.7.5); below three degrees
    of freedom as for three.
    """
    nu = max(dof, 3.0)
    if nu > 1e6:
        return 1.0
    square = z * z
    first = (square + 1.0) / 4.0
    second = ((5.0 * square + 16.0) * square + 3.0) / 96.0
    third = (((3.0 * square + 19.0) * square + 17.0) * square - 15.0) / 384.0
    return 1.0 + first / nu + second / nu**2 + third / nu**3


@lru_cache(maxsize=256)
def box_and_normal_95(half_width: float, sd: float) -> float:
    """Return q with P(|R + N| < q) = 0.95, R rectangular in +-half_width, N normal with sd."""
    if sd < 1e-6 * half_width:
        return 0.95 * half_width

    def inside(q: float) -> float:
        return (_ramp(q + half_width, sd) - _ramp(q - half_width, sd)) / half_width - 1.0

    low, high = 0.0, half_width + 4.0 * sd
    for _ in range(60):
        middle = 0.5 * (low + high)
        if inside(middle) < 0.95:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _ramp(x: float, sd: float) -> float:
    """Integral of the normal distribution function of spread sd up to x."""
    scaled = x / sd
    density = math.exp(-0.5 * scaled * scaled) / math.sqrt(2.0 * math.pi)
    return x * normal_cdf(scaled) + sd * density


_SURE = 10.0
"""So many standard deviations over a limit nothing falls under it: the search starts there."""
_HALVINGS = 40
"""Of the search: 2^-40 of where it started, far under the millionth that is told."""


def rarely_under(limits: Sequence[tuple[float, float]], chance: float) -> float:
    """Return the least x, not negative, whose chances to fall under the limits add up to `chance`.

    limits: each with the standard deviation of what is held against it, x at its middle.
    """
    below, above = 0.0, max(limit + _SURE * sd for limit, sd in limits)
    for _ in range(_HALVINGS):
        middle = 0.5 * (below + above)
        under = math.fsum(normal_cdf((limit - middle) / sd) for limit, sd in limits)
        below, above = (middle, above) if under > chance else (below, middle)
    return above


@lru_cache(maxsize=64)
def chi2_95(dof: int) -> tuple[float, float]:
    """Return what chi-squared with `dof` degrees of freedom is under, and over, once in 40 times."""
    return _chi2_under(0.025, dof), _chi2_under(0.975, dof)


def _chi2_under(chance: float, dof: int) -> float:
    """Return the quantile of chi-squared, from its distribution function by halving."""
    below, above = 0.0, dof + 20.0 * math.sqrt(dof) + 20.0
    for _ in range(60):
        middle = 0.5 * (below + above)
        under = _gamma_share(0.5 * dof, 0.5 * middle) < chance
        below, above = (middle, above) if under else (below, middle)
    return 0.5 * (below + above)


def _gamma_share(a: float, x: float) -> float:
    """Regularised lower incomplete gamma function P(a, x) by its series (DLMF 8.7.1)."""
    term = math.exp(a * math.log(x) - x - math.lgamma(a + 1.0)) if x > 0.0 else 0.0
    total, k = term, 0
    while term > 1e-16 * total:
        k += 1
        term *= x / (a + k)
        total += term
    return total
