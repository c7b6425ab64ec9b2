"""Units and steps that a level's numbers may have, and how well each explains the motions."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from drivers.learn.asked import Mark
from drivers.learn.frames import Column
from drivers.learn.motions import Followed, Windows
from drivers.learn.stream import Floats

_HAND_SD_DEG = 3.6
_SURFACE_SD_DEG = 0.5
_FARTHEST_DEG = 14.0
"""A hand that was asked for 40 degrees does not miss it by more."""
_ZERO_DEG = 5.0
_MOST_G, _MOST_DEG = 1.5, 361.0
_NEAR = 0.06
"""Share of the way: what is so near the top is the top."""
_BASES = (0.0, 90.0, -90.0, 180.0)
"""What a level may show lying flat."""
PROVES_DEG = 10.0
"""A known slope of less than this proves no scale."""
ONE_G = {"g": 1.0, "mg": 1000.0, "m/s2": 9.80665}
SLOPES = {"percent": 100.0, "mm/m": 1000.0}
_ROUGHNESS_WEIGHS = 3.0
_WRITTEN = {
    "°": "deg",
    "deg": "deg",
    "rad": "rad",
    "%": "percent",
    "percent": "percent",
    "mm/m": "mm/m",
    "mg": "mg",
    "g": "g",
    "m/s2": "m/s2",
    "m/s²": "m/s2",
}


@dataclass(frozen=True, slots=True)
class Step:
    """A unit, what one raw step is of it, and how usual that is (a logarithm)."""

    unit: str
    scale: float
    usual: float


_TURN = 180.0 / 32768.0
_WHOLE = (
    Step("deg", 0.01, 0.0),
    Step("deg", 0.1, -0.5),
    Step("deg", 0.001, -0.5),
    Step("deg", _TURN, -0.7),
    Step("deg", 1.0, -2.0),
    Step("deg", 0.0001, -2.0),
    Step("deg", 0.05, -4.5),
    Step("deg", 0.005, -4.5),
    Step("deg", 90.0 / 32768.0, -4.0),
    Step("deg", 1.0 / 16.0, -5.0),
    Step("deg", 1.0 / 64.0, -5.0),
    Step("deg", 1.0 / 128.0, -5.0),
    Step("deg", 1.0 / 256.0, -5.0),
    Step("deg", 1.0 / 60.0, -3.0),
    Step("deg", 1.0 / 3600.0, -3.0),
    Step("deg", 1.0 / 65536.0, -4.0),
    Step("rad", 0.001, -1.5),
    Step("rad", 0.0001, -1.5),
    Step("rad", 0.01, -4.0),
    Step("percent", 0.1, -1.5),
    Step("percent", 0.01, -1.5),
    Step("percent", 1.0, -2.5),
    Step("mm/m", 1.0, -1.5),
    Step("mm/m", 0.1, -1.5),
    Step("mm/m", 0.01, -2.0),
    Step("mg", 1.0, -1.5),
    Step("mg", 0.1, -2.0),
    Step("g", 1.0 / 16384.0, -1.5),
    Step("g", 1.0 / 8192.0, -2.0),
    Step("g", 1.0 / 4096.0, -1.5),
    Step("g", 1.0 / 2048.0, -3.0),
    Step("g", 1.0 / 1024.0, -4.0),
    Step("m/s2", 0.01, -3.5),
    Step("m/s2", 0.001, -3.5),
)
_DECIMAL = (
    Step("deg", 1.0, 0.0),
    Step("rad", 1.0, -1.0),
    Step("percent", 1.0, -1.0),
    Step("mm/m", 1.0, -1.0),
    Step("g", 1.0, -1.0),
    Step("mg", 1.0, -1.0),
    Step("m/s2", 1.0, -1.0),
    Step("deg", 0.1, -5.0),
    Step("deg", 0.01, -5.0),
)


def steps(column: Column) -> Iterator[Step]:
    """Yield what one step of a column may be; a written unit leaves only itself."""
    decimal = column.kind == "f32" or (column.kind == "text" and column.step < 1.0)
    written = _WRITTEN.get(column.unit)
    for step in _DECIMAL if decimal else _WHOLE:
        if written is None or (step.unit == written and (decimal or step.scale == 1.0)):
            yield step


def degrees(values: Floats, unit: str, scale: float) -> Floats:
    """Return raw numbers as angles in degrees; what is more than 1 g stands upright."""
    scaled = values * scale
    if unit == "rad":
        return np.degrees(scaled)
    if unit in SLOPES:
        return np.degrees(np.arctan(scaled / SLOPES[unit]))
    if unit in ONE_G:
        return np.degrees(np.arcsin(np.clip(scaled / ONE_G[unit], -1.0, 1.0)))
    return scaled


def wrapped(angle_deg: Floats) -> Floats:
    """Return the same directions in [-180, 180)."""
    return (angle_deg + 180.0) % 360.0 - 180.0


@dataclass(frozen=True, slots=True, eq=False)
class Scaled:
    """A column, its unit and scale, and how well they explain the motions.

    Attributes:
        raised_deg: how far the marked end is raised, by frame: base, zero and sign taken off.
        base_deg: what is shown lying flat, of 0, 90, -90 and 180.
        zero_deg: what it shows on a level surface beyond that; NaN where it was not turned.
        proven: a surface of known slope agrees.
        fit: logarithm of how likely it is.
    """

    followed: Followed
    step: Step
    raised_deg: Floats
    base_deg: float
    zero_deg: float
    proven: bool
    fit: float


def scaled(one: Followed, windows: Windows) -> Iterator[Scaled]:
    """Yield every unit and scale that explains how a column follows the motions."""
    for step in steps(one.column):
        found = _scaled(one, step, windows)
        if found is not None:
            yield found


def _scaled(one: Followed, step: Step, windows: Windows) -> Scaled | None:
    if step.unit in ONE_G and _most(one.values * step.scale) > _MOST_G * ONE_G[step.unit]:
        return None
    angle_deg = degrees(one.column.values, step.unit, step.scale)
    if _most(angle_deg) > _MOST_DEG:
        return None
    flat_deg = float(degrees(np.array([one.flat]), step.unit, step.scale)[0])
    base_deg = min(_BASES, key=lambda base: abs(_turned(flat_deg - base)))
    if abs(_turned(flat_deg - base_deg)) > _ZERO_DEG or (
        base_deg and step.unit not in {"deg", "rad"}
    ):
        return None
    zero_deg = _zero(angle_deg - base_deg, windows)
    about_deg = base_deg + (zero_deg if math.isfinite(zero_deg) else 0.0)
    raised_deg = one.sign * wrapped(angle_deg - about_deg)
    fit = step.usual + _by_hand(one, raised_deg, windows)
    known, proven = _by_surface(raised_deg, step, windows)
    if fit < -40.0 or not math.isfinite(known):
        return None
    return Scaled(one, step, raised_deg, base_deg, zero_deg, proven, fit + known)


def _most(values: Floats) -> float:
    return float(np.percentile(np.abs(values), 97.0))


def _turned(angle_deg: float) -> float:
    return (angle_deg + 180.0) % 360.0 - 180.0


def _zero(from_base_deg: Floats, windows: Windows) -> float:
    """Half the sum of both readings of a surface, turned end for end between (two-face reversal)."""
    first, turned = windows.of("still"), windows.of("turned")
    if not first or not turned:
        return math.nan
    one = wrapped(from_base_deg[windows.resting(first[0])])
    other = wrapped(from_base_deg[windows.resting(turned[-1])])
    if not len(one) or not len(other):
        return math.nan
    return (float(np.median(one)) + float(np.median(other))) / 2.0


def _by_hand(one: Followed, raised_deg: Floats, windows: Windows) -> float:
    """Return the likelihood of how far hands went; far below any where they cannot have."""
    total = 0.0
    for top, mark in zip(one.tops, windows.of("tilt"), strict=True):
        near = np.abs(one.values - top) <= _NEAR * abs(top - one.flat)
        shown = raised_deg[near & windows.inside(mark)]
        off_deg = (float(np.median(shown)) if len(shown) else math.inf) - (mark.deg or 40.0)
        if abs(off_deg) > _FARTHEST_DEG:
            return -100.0
        total -= 0.5 * (off_deg / _HAND_SD_DEG) ** 2
    return total


def _by_surface(raised_deg: Floats, step: Step, windows: Windows) -> tuple[float, bool]:
    """Return the likelihood of what was shown on known and held slopes, and whether it proves."""
    total, proven = 0.0, False
    for mark in (*windows.of("known"), *windows.of("held")):
        seen = raised_deg[windows.resting(mark)]
        if len(seen) < 3 or mark.deg is None:
            continue
        off_deg = _off_deg(seen, mark.deg, step)
        by_hand = mark.motion == "held"
        sd_deg = _HAND_SD_DEG if by_hand else _surface_sd_deg(step, mark)
        if abs(off_deg) > 5.0 * sd_deg and abs(off_deg) > 2.5:
            return -math.inf, False
        total -= 0.5 * (off_deg / sd_deg) ** 2
        proven |= not by_hand and abs(mark.deg) >= PROVES_DEG
    return total, proven


def _off_deg(seen_deg: Floats, deg: float, step: Step) -> float:
    """Return how far what was shown is from what it should be; a tangent repeats after 180."""
    if step.unit in SLOPES:
        return float(np.median((seen_deg - deg + 90.0) % 180.0 - 90.0))
    return float(np.median(seen_deg)) - deg


def _surface_sd_deg(step: Step, mark: Mark) -> float:
    """An arc sine is blunt upright, and a tangent has no end there."""
    upright = abs(abs(mark.deg or 0.0) - 90.0) < 5.0
    return _SURFACE_SD_DEG * (4.0 if upright and step.unit != "deg" else 2.0 if upright else 1.0)


def ranked(found: list[Scaled]) -> list[Scaled]:
    """Return explanations best first; a coarse part of a number stands behind the whole."""
    if not found:
        return []
    smooth = min(one.followed.rough for one in found) + 1e-9
    weighed = [
        replace(
            one, fit=one.fit - _ROUGHNESS_WEIGHS * math.log((one.followed.rough + 1e-9) / smooth)
        )
        for one in found
    ]
    return sorted(weighed, key=lambda one: one.fit, reverse=True)
