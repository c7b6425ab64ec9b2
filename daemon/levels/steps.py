"""The smallest step of a level's numbers, from the numbers that it sent."""

from collections.abc import Iterable

FEWEST = 12
"""So many different numbers are wanted: that all are multiples of a step twice too large by chance
happens once in 4,000 times."""
STEPS_DEG = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
"""Those that displays have, the largest first: common practice."""
NEAR = 1e-3
"""A number this share of a step off one is one: it was scaled on its way."""


def smallest_step(values: Iterable[float]) -> float | None:
    """Return the largest of the usual steps that all of these are multiples of, degrees.

    None: too few are different, or they have none of these steps, as a level that sends binary
    fractions of a turn.
    """
    different = {round(value, 6) for value in values}
    if len(different) < FEWEST:
        return None
    return next((step for step in STEPS_DEG if all(_is_on(one, step) for one in different)), None)


def _is_on(value: float, step: float) -> bool:
    return abs(value / step - round(value / step)) < NEAR
