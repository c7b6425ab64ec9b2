"""Chance for the hangar: every draw comes from `random.Random(seed).random()`."""

import math
import random
from collections.abc import Sequence
from typing import TypeVar

Item = TypeVar("Item")


class Draws:
    """One stream of chance; streams of one seed do not disturb each other."""

    def __init__(self, seed: int, stream: int) -> None:
        self._source = random.Random(seed * 64 + stream)

    def unit(self) -> float:
        """Draw evenly from [0, 1)."""
        return self._source.random()

    def between(self, low: float, high: float) -> float:
        """Draw evenly from [low, high)."""
        return low + (high - low) * self.unit()

    def chance(self, probability: float) -> bool:
        """Return True with this probability."""
        return self.unit() < probability

    def one_of(self, items: Sequence[Item]) -> Item:
        """Draw one of the items, each alike."""
        return items[int(self.unit() * len(items))]

    def normal(self, sd: float) -> float:
        """Draw from a normal distribution around 0 (Box and Muller 1958)."""
        radius = math.sqrt(-2.0 * math.log(1.0 - self.unit()))
        return sd * radius * math.cos(2.0 * math.pi * self.unit())

    def sign(self) -> float:
        """Draw +1 or -1."""
        return 1.0 if self.unit() < 0.5 else -1.0
