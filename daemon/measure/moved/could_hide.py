"""What could hide: the smallest move that a way of looking would have called. Degrees."""

import functools
import math

from daemon.measure.quantiles import rarely_under

_MISSED = 0.05
"""Once in twenty a move of the size told may be missed."""


def doubt_limit(probability: float, prior: float, variance: float, sd: float) -> float:
    """Return |d| at which one observation alone reaches this posterior probability (Bayes).

    d is Normal(0, variance) where nothing moved, Normal(0, variance + sd^2) where something did.
    """
    needed = math.log(probability / (1.0 - probability)) - math.log(prior / (1.0 - prior))
    squared = 2.0 * (needed + 0.5 * math.log((variance + sd * sd) / variance))
    gain = 1.0 / variance - 1.0 / (variance + sd * sd)
    return math.sqrt(max(squared, 0.0) / gain)


@functools.lru_cache(maxsize=4096)
def could_hide(
    fixed: float,
    each: float,
    looks: tuple[int, ...],
    *,
    prior: float,
    sd: float,
    low: float,
    high: float,
) -> float:
    """Return the smallest move that this way of looking would have called 19 times in 20.

    fixed: variance that more placements do not reduce; each: variance of one placement;
    looks: how many placements the mean holds at each look, the last look being the last chance;
    prior, sd: of a move; low, high: probabilities under which it is not seen, over which called.
    A move is missed when an earlier look finds it steady or the last one does not call it;
    the chances are added (Boole's inequality), so the answer errs to the safe side.
    """
    chances = []
    for look in looks:
        variance = fixed + each / look
        wanted = high if look == looks[-1] else low
        chances.append((doubt_limit(wanted, prior, variance, sd), math.sqrt(variance)))
    return rarely_under(chances, _MISSED)
