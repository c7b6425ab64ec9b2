"""What a stranger's numbers mean: convention, axes, sign, zero, wrap, noise, unit, scale."""

import math
from dataclasses import dataclass, field
from typing import Literal

from simulator.draws import Draws
from simulator.strangers.poses import Pose, arc_sine_deg, in_its_plane_deg

Convention = Literal["planar", "projection", "roll-pitch", "vector"]
Unit = Literal["deg", "rad", "percent", "mm/m", "g", "mg", "m/s2"]

_G = 9.80665
_PER_G: dict[Unit, float] = {"g": 1.0, "mg": 1000.0, "m/s2": _G}
_MOST_SLOPE = {"percent": 9000.0, "mm/m": 90000.0}
"""A slope grows without bound; these levels stop there."""


@dataclass(slots=True)
class Meaning:
    """One level's way to measure.

    Attributes:
        roles: names of the numbers that hold the tilt, in the convention's own order.
        body: the level's own axes x, y, z as signed directions of the body: (which of marked
            end, left, top; sign).
        sign: planar, projection: 1 where the number grows as the marked end rises.
        base_deg: what is shown lying flat: 0, 90, -90.
        turns: numbers go from 0 to 360 instead of -180 to 180.
        smooth: share of the last sample in this one.
    """

    convention: Convention
    unit: Unit
    body: tuple[tuple[int, float], tuple[int, float], tuple[int, float]]
    sign: float = 1.0
    base_deg: float = 0.0
    turns: bool = False
    zero_deg: float = 0.0
    noise_deg: float = 0.02
    smooth: float = 0.0
    sideways: bool = False
    """planar, projection: a second number, of the other axis, is sent too."""
    _last: list[float] = field(default_factory=list)

    @property
    def roles(self) -> tuple[str, ...]:
        """Names of the tilt's numbers."""
        if self.convention == "roll-pitch":
            return ("roll", "pitch")
        if self.convention == "vector":
            return ("ax", "ay", "az")
        return ("angle", "second") if self.sideways else ("angle",)

    def numbers(self, pose: Pose, draws: Draws) -> dict[str, float]:
        """Return what is measured, in the unit, with noise."""
        exact = self._exact(pose)
        if self.convention == "vector":
            noise = math.radians(self.noise_deg) * _PER_G[self.unit]
            exact = [value * _PER_G[self.unit] for value in exact]
        else:
            noise = self.noise_deg
            exact = [value + self.zero_deg for value in exact]
        noisy = [value + (draws.normal(noise) if noise else 0.0) for value in exact]
        if self.smooth and len(self._last) == len(noisy):
            noisy = [
                last + (1.0 - self.smooth) * self._short_way(now - last)
                for last, now in zip(self._last, noisy, strict=True)
            ]
        self._last = noisy
        if self.convention != "vector":
            noisy = [self._in_unit(self._wrapped(value)) for value in noisy]
        return dict(zip(self.roles, noisy, strict=True))

    def _exact(self, pose: Pose) -> list[float]:
        """Degrees, or parts of the vertical."""
        end, left, top = body = pose.up()
        if self.convention in {"vector", "roll-pitch"}:
            x, y, z = (sign * body[which] for which, sign in self.body)
            if self.convention == "vector":
                return [x, y, z]
            return [in_its_plane_deg(y, z), math.degrees(math.atan2(-x, math.hypot(y, z)))]
        if self.convention == "planar":
            both = [in_its_plane_deg(self.sign * end, top) + self.base_deg]
            both.append(in_its_plane_deg(left, top))
        else:
            both = [self.sign * arc_sine_deg(end), arc_sine_deg(left)]
        return both if self.sideways else both[:1]

    def _short_way(self, change: float) -> float:
        if self.convention == "vector":
            return change
        return (change + 180.0) % 360.0 - 180.0

    def _wrapped(self, deg: float) -> float:
        return deg % 360.0 if self.turns else (deg + 180.0) % 360.0 - 180.0

    def _in_unit(self, deg: float) -> float:
        if self.unit == "rad":
            return math.radians(deg)
        if self.unit in {"percent", "mm/m"}:
            whole, most = (100.0 if self.unit == "percent" else 1000.0), _MOST_SLOPE[self.unit]
            slope = math.tan(math.radians(deg)) if abs(abs(deg) - 90.0) > 1e-9 else 1e9
            return max(-most, min(most, whole * slope))
        if self.unit in _PER_G:
            return _PER_G[self.unit] * math.sin(math.radians(deg))
        return deg


_RIGHT_HANDED = (
    ((0, 1.0), (1, 1.0), (2, 1.0)),
    ((0, -1.0), (1, -1.0), (2, 1.0)),
    ((1, 1.0), (0, -1.0), (2, 1.0)),
    ((1, -1.0), (0, 1.0), (2, 1.0)),
)
"""x, y, z of a level with z up, its x along the marked end, away from it, left, right."""


def drawn(draws: Draws, unit: Unit, convention: Convention) -> Meaning:
    """Draw how a level of this unit and convention measures."""
    body = draws.one_of(_RIGHT_HANDED)
    if convention == "vector" and draws.chance(0.3):
        (a, s), (b, t), (c, u) = body
        body = ((a, -s), (b, -t), (c, -u))  # shows what pulls it, not what holds it
    meaning = Meaning(convention, unit, body, sign=draws.sign())
    if convention == "planar" and unit in {"deg", "rad"}:
        meaning.base_deg = draws.one_of((0.0, 0.0, 0.0, 0.0, 90.0, -90.0))
        meaning.turns = draws.chance(0.3)
    meaning.zero_deg = 0.0 if convention == "vector" else draws.normal(0.15)
    meaning.noise_deg = draws.one_of((0.0, 0.005, 0.02, 0.05, 0.1))
    meaning.smooth = draws.one_of((0.0, 0.0, 0.3))
    meaning.sideways = convention in {"planar", "projection"} and draws.chance(0.3)
    return meaning
