"""What a level's noise is made of: Allan deviation, and what a sensor's density comes to."""

import math
from collections.abc import Sequence


def allan_deviation(values: Sequence[float], m: int, *, overlapping: bool = True) -> float:
    """Allan deviation of averages over m samples (NIST SP 1065, 5.2.1 and 5.2.4).

    Args:
        values: readings at even spacing, not differences.
        m: samples averaged; tau = m / rate.
        overlapping: use every starting point rather than one in m.

    Raises:
        ValueError: fewer than two averages.
    """
    if m < 1 or len(values) < 2 * m:
        raise ValueError("an Allan deviation needs at least two averages")
    sums = [0.0]
    for value in values:
        sums.append(sums[-1] + value)
    step = 1 if overlapping else m
    squares = [
        (sums[i + 2 * m] - 2.0 * sums[i + m] + sums[i]) ** 2
        for i in range(0, len(values) - 2 * m + 1, step)
    ]
    return math.sqrt(math.fsum(squares) / (2.0 * len(squares))) / m


def longest_useful(values: Sequence[float], rate_hz: float) -> float:
    """Averaging time in seconds beyond which the level's drift outweighs its noise.

    The averaging time, in powers of two, with the lowest Allan deviation.
    """
    best, m = (math.inf, 1), 1
    while 4 * m <= len(values):
        best = min(best, (allan_deviation(values, m), m))
        m *= 2
    return best[1] / rate_hz


def tilt_noise_deg(density_ug_per_rthz: float, bandwidth_hz: float) -> float:
    """Noise of a tilt near level from an accelerometer's density and its first-order bandwidth.

    sqrt(1.57 B): equivalent noise bandwidth of a first-order low-pass.
    """
    return math.degrees(density_ug_per_rthz * 1e-6 * math.sqrt(math.pi / 2.0 * bandwidth_hz))
