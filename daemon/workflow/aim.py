"""What blades are set to: the target, or beside it, because somebody said so. Never by itself.

    target   the job's
    off      as far beside it as these bolts turned all blades alike, the other way
    held     the mean of the blades that are held already: spread decides, tolerance allows it

As soon as bolts are tight the target alone judges.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from shared.angles import stated

At = Literal["target", "off", "held"]
LEAST_DEG = 0.02
"""Less than that nobody sets beside the target for."""


@dataclass(frozen=True, slots=True)
class Turned:
    """How far one blade was turned by bolts, from before them; degrees."""

    deg: float
    u95_deg: float


def alike(turned: Mapping[int, Turned]) -> float | None:
    """Return how far bolts turned all blades alike; None: not alike, or nothing that is proven.

    Alike: their differences are within what is known of each, and all of them lie beyond it.
    """
    if not turned:
        return None
    mean = math.fsum(one.deg for one in turned.values()) / len(turned)
    if any(abs(one.deg - mean) > one.u95_deg for one in turned.values()):
        return None
    if any(abs(one.deg) <= one.u95_deg or abs(one.deg) < LEAST_DEG for one in turned.values()):
        return None
    return stated(mean)


class Aim:
    """Where blades are set to.

    target_deg: the job's. pulled_deg: how far these bolts turned all blades alike the last time.
    """

    def __init__(self, target_deg: float, pulled_deg: float | None) -> None:
        self._target_deg = target_deg
        self.pulled_deg = pulled_deg
        self.at: At = "target"
        self.deg = target_deg

    def learn(self, turned: Mapping[int, Turned]) -> None:
        """These bolts were tightened in this session: what they did says more than the last time."""
        if (found := alike(turned)) is not None:
            self.pulled_deg = found

    def choose(self, at: At, deg: float) -> None:
        """Somebody said where to set from now on."""
        self.at, self.deg = at, deg

    def forget(self) -> None:
        """Bolts that turned the others are slack: what was aimed at is said anew, or it is the target."""
        self.choose("target", self._target_deg)

    def choices(self, held_deg: float | None) -> dict[At, float]:
        """Return what may be aimed at, in degrees; held_deg: mean of what is held, None: nothing."""
        found: dict[At, float] = {"target": self._target_deg}
        if self.pulled_deg is not None:
            found["off"] = stated(self._target_deg - self.pulled_deg)
        if held_deg is not None:
            found["held"] = stated(held_deg)
        return found
