"""Conventions: what kind of angle follows the motions, told by the level rolled onto its side.

With its end raised by 30 and rolled onto its side, an angle in its own plane goes to 90, an arc
sine stays at 30; of two axes, one whose partner goes to 90 is the roll of a roll and a pitch.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from drivers.learn.frames import Column, Frames
from drivers.learn.motions import Mask, Windows, smoothed
from drivers.learn.scales import ONE_G, Scaled, Step, degrees, wrapped
from drivers.learn.stream import Floats

_RAISED_DEG = 30.0
_GOES_DEG, _STAYS_DEG = 66.0, 48.0
"""Rolled onto its side: at least, an angle in its plane; at most, an arc sine of 30."""
_ASIDE_DEG = 15.0
"""A second axis moves less than this while the first is tilted,"""
_ACROSS_DEG, _UPRIGHT_DEG = 45.0, 75.0
"""and more than this when the level is rolled; from the second on it is an angle in its plane."""
_LENGTH, _LENGTH_OFF = 0.03, 0.02
_MOVES = 0.1
_VECTOR_STEPS = (
    *(Step("g", scale, 0.0) for scale in (1.0, *(1.0 / 2.0**bits for bits in range(8, 15)))),
    *(Step("mg", scale, 0.0) for scale in (1.0, 0.1)),
    *(Step("m/s2", scale, 0.0) for scale in (1.0, 0.1, 0.01, 0.001)),
)


@dataclass(frozen=True, slots=True, eq=False)
class Explanation:
    """What the numbers of some frames mean.

    Attributes:
        fields: column by role.
        mounting: which of the level's own axes is chord (towards the marked end), span, normal.
        raised_deg: how far the marked end is raised, by frame.
        sideways: the convention was told by the level rolled onto its side.
    """

    frames: Frames
    convention: str
    fields: Mapping[str, Column]
    step: Step
    mounting: Mapping[str, str]
    raised_deg: Floats
    zero_deg: float
    proven: bool
    sideways: bool
    fit: float


def explanations(frames: Frames, one: Scaled, windows: Windows) -> Iterator[Explanation]:
    """Yield the conventions that a scaled number fits; more than one where nothing tells."""
    kind = _in_its_plane(one, windows)
    second = _second(frames, one, windows)
    if kind is None:
        for convention in ("planar", "projection"):
            if _possible(convention, one):
                yield _single(frames, one, convention, windows, sideways=False)
        return
    if second is not None and kind != second[1]:
        yield _two(frames, one, second[0], windows, roll=kind)
        return
    convention = "planar" if kind else "projection"
    if _possible(convention, one):
        yield _single(frames, one, convention, windows, sideways=True)


def _possible(convention: str, one: Scaled) -> bool:
    if convention == "planar":
        return one.step.unit not in ONE_G
    return one.base_deg == 0.0


def _in_its_plane(one: Scaled, windows: Windows) -> bool | None:
    """Tell whether the number goes to 90 on its side; None where it was not, or it is unclear."""
    if one.step.unit in ONE_G:
        return False
    for mark in windows.of("side"):
        moved = one.raised_deg[windows.inside(mark)]
        if len(moved) < 8:
            continue
        most = float(np.percentile(np.abs(smoothed(moved)), 96.0))
        if most >= _GOES_DEG:
            return True
        if most <= _STAYS_DEG:
            return False
    return None


def _second(frames: Frames, one: Scaled, windows: Windows) -> tuple[Column, bool] | None:
    """Return the axis across, and whether it is an angle in its own plane; None without one."""
    found: list[tuple[int, Column, bool]] = []
    main = one.followed.column
    for column in frames.columns:
        if (column.kind, column.order) == (main.kind, main.order) and not column.overlaps(main):
            across = _across(column, one.step, windows)
            if across is not None:
                apart = abs(column.start - main.start) // main.size
                found.append((apart, column, across >= _UPRIGHT_DEG))
    if not found:
        return None
    _, column, plane = min(found, key=lambda item: item[0])
    return column, plane


def _across(column: Column, step: Step, windows: Windows) -> float | None:
    """Return how far a column goes when the level is rolled, None where it is no axis across."""
    angle_deg = wrapped(degrees(column.values, step.unit, step.scale))
    still, sides = windows.of("still"), windows.of("side")
    if not sides or not still:
        return None
    flat = angle_deg[windows.resting(still[0])]
    if np.percentile(np.abs(smoothed(flat)), 95.0) > 6.0:
        return None
    for mark in windows.of("tilt"):
        tilted = np.abs(smoothed(angle_deg[windows.inside(mark)]))
        if len(tilted) == 0 or np.percentile(tilted, 90.0) > _ASIDE_DEG:
            return None
    moved = np.abs(smoothed(angle_deg[windows.inside(sides[0])]))
    if len(moved) < 8:
        return None
    most = float(np.percentile(moved, 93.0))
    back = float(np.percentile(moved[-max(2, len(moved) // 20) :], 50.0))
    return most if most > _ACROSS_DEG and back < _ASIDE_DEG else None


def _single(
    frames: Frames, one: Scaled, convention: str, windows: Windows, *, sideways: bool
) -> Explanation:
    base, sign = math.radians(one.base_deg), one.followed.sign
    if convention == "projection":
        axes = _named((sign, 0.0, 0.0), None, (0.0, 0.0, 1.0))
    else:  # own axes of a planar level: up is (cos a, 0, -sin a)
        flat = (math.cos(base), 0.0, -math.sin(base))
        risen = (-sign * math.sin(base), 0.0, -sign * math.cos(base))
        axes = _named(risen, None, flat)
    del windows
    return Explanation(
        frames, convention, {"angle": one.followed.column}, one.step, axes, one.raised_deg,
        one.zero_deg, one.proven, sideways, one.fit,
    )  # fmt: skip


def _two(
    frames: Frames, one: Scaled, second: Column, windows: Windows, *, roll: bool
) -> Explanation:
    """Roll and pitch: the one that goes to 90 on its side is the roll."""
    main = one.followed.column
    fields = {"roll": main, "pitch": second} if roll else {"roll": second, "pitch": main}
    step = one.step
    angles = [degrees(fields[role].values, step.unit, step.scale) for role in ("roll", "pitch")]
    up = from_roll_pitch(*(np.radians(angle) for angle in angles))
    return Explanation(
        frames, "roll-pitch", fields, step, _mounted(up, one.raised_deg, windows),
        one.raised_deg, one.zero_deg, one.proven, True, one.fit + 2.0,
    )  # fmt: skip


def from_roll_pitch(roll: Floats, pitch: Floats) -> Floats:
    """Upward vertical in the level's own x, y, z (rows), roll applied last; radians.

    Inverse of roll = atan2(ay, az), pitch = atan2(-ax, hypot(ay, az)).
    """
    return np.stack([-np.sin(pitch), np.sin(roll) * np.cos(pitch), np.cos(roll) * np.cos(pitch)])


def vector(frames: Frames, windows: Windows) -> Explanation | None:
    """Return three columns side by side whose length stays one g however the level is moved."""
    places = {(c.kind, c.order, c.start): c for c in frames.columns}
    for first in frames.columns:
        three = [
            places.get((first.kind, first.order, first.start + index * first.size))
            for index in range(3)
        ]
        columns = [column for column in three if column is not None]
        if len(columns) == 3:
            found = _vector(frames, columns, windows)
            if found is not None:
                return found
    return None


def _vector(frames: Frames, columns: Sequence[Column], windows: Windows) -> Explanation | None:
    raw = np.stack([smoothed(column.values) for column in columns])
    if not np.isfinite(raw).all():
        return None
    lengths = np.sqrt((raw**2).sum(axis=0))
    length = float(np.median(lengths))
    spread = float(np.percentile(np.abs(lengths - length), 85.0))
    if length == 0.0 or spread > _LENGTH * length or (raw.std(axis=1) < _MOVES * length).any():
        return None
    step = min(_VECTOR_STEPS, key=lambda one: abs(length * one.scale / ONE_G[one.unit] - 1.0))
    if abs(length * step.scale / ONE_G[step.unit] - 1.0) > _LENGTH_OFF:
        return None
    up = raw / length
    tilts = windows.of("tilt")
    if not tilts or not windows.of("still"):
        return None
    axis = _tilting(up, windows)
    raised_deg = np.degrees(np.arcsin(np.clip(axis, -1.0, 1.0)))
    mounting = _mounted(up, raised_deg, windows)
    for mark in tilts:
        top = raised_deg[windows.inside(mark)]
        asked = mark.deg or 40.0
        if len(top) == 0 or abs(np.percentile(top * np.sign(asked), 96.0) - abs(asked)) > 16.0:
            return None
    fields = dict(zip(("ax", "ay", "az"), columns, strict=True))
    return Explanation(
        frames, "vector", fields, step, mounting, raised_deg, math.nan, True, True, 5.0
    )


def _tilting(up: Floats, windows: Windows) -> Floats:
    """Return the axis along the marked end, its sign so that it grows as that end rises."""
    difference = np.zeros(3)
    for mark in windows.of("tilt"):
        moved = up[:, windows.inside(mark, 0.3, 0.7)]
        if moved.shape[1]:
            difference += np.sign(mark.deg or 40.0) * np.median(moved, axis=1)
    which = int(np.argmax(np.abs(difference)))
    return np.asarray(np.sign(difference[which]) * up[which])


def _mounted(up: Floats, raised_deg: Floats, windows: Windows) -> dict[str, str]:
    """Return the mounting of a level that knows its vertical: from flat, raised and rolled."""
    flat = _mean(up, windows.resting(windows.of("still")[0]))
    risen = np.zeros(3)
    for mark in windows.of("tilt"):
        inside = windows.inside(mark)
        far = inside & (np.abs(raised_deg) > 0.7 * abs(mark.deg or 40.0))
        risen += np.sign(mark.deg or 40.0) * (_mean(up, far) - flat)
    rolled = np.zeros(3)
    for mark in windows.of("side"):
        inside = windows.inside(mark)
        lies = inside & (np.abs(flat @ up) < 0.35)
        rolled += _mean(up, lies)
    chord, normal = int(np.argmax(np.abs(risen))), int(np.argmax(np.abs(flat)))
    left = next(iter({0, 1, 2} - {chord, normal}), 1)
    return _named(
        tuple(risen[i] if i == chord else 0.0 for i in range(3)),
        tuple(rolled[i] if i == left else 0.0 for i in range(3)) if rolled[left] else None,
        tuple(flat[i] if i == normal else 0.0 for i in range(3)),
    )


def _mean(up: Floats, mask: Mask) -> Floats:
    return np.asarray(np.median(up[:, mask], axis=1)) if mask.any() else np.zeros(3)


def _named(
    chord: Sequence[float], span: Sequence[float] | None, normal: Sequence[float]
) -> dict[str, str]:
    """Return axes by name; the span is to the left of the chord where nothing showed it."""
    across = np.cross(normal, chord) if span is None else np.array(span)
    return {"chord": _axis(chord), "span": _axis(across), "normal": _axis(normal)}


def _axis(vector_: Sequence[float] | Floats) -> str:
    values = np.asarray(vector_, dtype=np.float64)
    which = int(np.argmax(np.abs(values)))
    return f"{'-' if values[which] < 0 else '+'}{'xyz'[which]}"
