"""A person who makes the asked motions, each a little otherwise than asked.

What is laid on a surface lies as well as the surface is; what is held by hand is off by 3
degrees (standard deviation) and trembles.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from simulator.draws import Draws
from simulator.strangers.poses import Pose

Motion = Literal["still", "tilt", "turned", "side", "known", "held"]
NS = 1_000_000_000
HAND_SD_DEG = 3.0
_TREMBLE_DEG = 0.25
_SURFACE_SD_DEG = 0.1


class Asked(NamedTuple):
    """One motion as it was asked: nanoseconds from when to when, which, and how far.

    deg: tilt: how far the marked end is raised (negative: the other end). known: the angle of
    the surface, as the person has it. held: the angle it is held at, by eye.
    """

    start_ns: int
    end_ns: int
    motion: Motion
    deg: float | None = None


class Key(NamedTuple):
    """The level is there at this time; held by hand on the way to it and there."""

    t_s: float
    pose: Pose
    by_hand: bool


@dataclass(slots=True)
class Performance:
    """What the person did.

    Attributes:
        asked: the motions, in order.
        keys: poses in rising time; between two of them the level moves smoothly.
    """

    asked: list[Asked]
    keys: list[Key]

    @property
    def length_s(self) -> float:
        """When it is over."""
        return self.asked[-1].end_ns / NS

    def at(self, t_s: float, draws: Draws) -> Pose:
        """Return the pose at a time, trembling where it is held."""
        later = next((i for i, key in enumerate(self.keys) if key.t_s > t_s), len(self.keys))
        if later in {0, len(self.keys)}:
            return self.keys[min(later, len(self.keys) - 1)].pose
        before, after = self.keys[later - 1], self.keys[later]
        share = (t_s - before.t_s) / (after.t_s - before.t_s)
        share = (1.0 - math.cos(math.pi * share)) / 2.0
        tremble = _TREMBLE_DEG if after.by_hand else 0.0
        parts = (
            a + share * (b - a) + (draws.normal(tremble) if tremble else 0.0)
            for a, b in zip(before.pose, after.pose, strict=True)
        )
        return Pose(*parts)


class Performer:
    """Builds a performance motion by motion."""

    def __init__(self, draws: Draws) -> None:
        self._draws = draws
        self._t_s = 0.0
        self._slope = Pose(draws.normal(0.7), draws.normal(0.4))
        self._reversed = False
        self.done = Performance([], [])

    def show(self, motions: Sequence[tuple[Motion, float | None]]) -> Performance:
        """Make all of the motions; return what was done."""
        makes = {
            "still": self._lies,
            "tilt": self._tilts,
            "turned": self._turns,
            "side": self._rolls,
            "known": self._lays,
            "held": self._holds,
        }
        for motion, deg in motions:
            began_s = self._t_s
            makes[motion](0.0 if deg is None else deg)
            self.done.asked.append(Asked(round(began_s * NS), round(self._t_s * NS), motion, deg))
        return self.done

    def _flat(self) -> Pose:
        """On the table: turned end for end, its slope is the other way round."""
        way, heading = (-1.0, 180.0) if self._reversed else (1.0, 0.0)
        return Pose(way * self._slope.end_deg, way * self._slope.side_deg, heading)

    def _key(self, after_s: float, pose: Pose, *, by_hand: bool = False) -> None:
        self._t_s += after_s
        self.done.keys.append(Key(self._t_s, pose, by_hand))

    def _waits(self) -> None:
        self._key(self._draws.between(0.8, 2.0), self.done.keys[-1].pose)

    def _lies(self, _deg: float) -> None:
        self._key(0.0, self._flat())
        self._key(20.0, self._flat())

    def _tilts(self, deg: float) -> None:
        self._waits()
        raised = self._near(deg, 0.0, 1.5)
        self._key(self._draws.between(4.0, 6.0), raised, by_hand=True)
        self._key(self._draws.between(0.5, 1.5), raised, by_hand=True)
        self._key(self._draws.between(4.0, 6.0), self._flat(), by_hand=True)
        self._key(1.5, self._flat())

    def _turns(self, _deg: float) -> None:
        self._waits()
        in_hand = self._near(self._draws.normal(8.0), self._draws.normal(8.0), HAND_SD_DEG)
        self._key(1.0, in_hand, by_hand=True)
        self._reversed = not self._reversed
        self._key(2.0, self._flat(), by_hand=True)
        self._key(6.0, self._flat())

    def _rolls(self, _deg: float) -> None:
        self._waits()
        raised = self._near(30.0, 0.0, 1.5)
        self._key(3.0, raised, by_hand=True)
        over = self._near(30.0, 90.0, HAND_SD_DEG)
        self._key(self._draws.between(3.0, 5.0), over, by_hand=True)
        self._key(2.0, over, by_hand=True)
        self._key(self._draws.between(3.0, 5.0), raised, by_hand=True)
        self._key(2.0, self._flat(), by_hand=True)
        self._key(1.0, self._flat())

    def _lays(self, deg: float) -> None:
        self._waits()
        heading = self._flat().heading_deg
        seat = Pose(deg + self._draws.normal(_SURFACE_SD_DEG), self._draws.normal(0.5), heading)
        self._key(2.0, seat, by_hand=True)
        self._key(6.0, seat)

    def _holds(self, deg: float) -> None:
        self._waits()
        held = self._near(deg, 0.0, 1.5)
        self._key(2.5, held, by_hand=True)
        self._key(5.0, held, by_hand=True)

    def _near(self, end_deg: float, side_deg: float, side_sd_deg: float) -> Pose:
        """By eye."""
        return Pose(
            end_deg + self._draws.normal(HAND_SD_DEG),
            side_deg + self._draws.normal(side_sd_deg),
            self._flat().heading_deg,
        )
