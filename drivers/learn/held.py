"""Levels that send only on a change: what they sent last holds until they send again."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.asked import Mark
from drivers.learn.frames import Column, Frames
from drivers.learn.stream import NS, Floats

_EVERY_S = 0.1
_SELDOM = 0.35
"""A level whose rate at rest is less than this share of its rate in motion sends on a change."""
_FEWEST_MOVING = 20
_FAR = 10.0
"""So many usual steps off both neighbours a number is damaged."""


def sends_on_change(frames: Frames, marks: Sequence[Mark]) -> bool:
    """Tell whether frames come while the level is tilted and (nearly) none while it rests."""
    rest, moving = (_rate(frames, marks, motion) for motion in ("still", "tilt"))
    enough = sum(_count(frames, mark) for mark in marks if mark.motion == "tilt")
    return enough >= _FEWEST_MOVING and rest < _SELDOM * moving


def held(frames: Frames, marks: Sequence[Mark]) -> Frames:
    """Return the frames as a stream at even times: at each, what was sent last.

    What held before the first frame is not known; that frame, which came as the level began to
    move, is nearest to it.
    """
    first_s = min(mark.start_ns for mark in marks) / NS
    last_s = max(mark.end_ns for mark in marks) / NS
    times_s = np.arange(first_s, last_s, _EVERY_S)
    which = np.clip(np.searchsorted(frames.times_s, times_s, side="right") - 1, 0, None)
    return replace(
        frames,
        times_s=times_s,
        raw=[frames.raw[place] for place in which],
        columns=[replace(column, values=_mended(column)[which]) for column in frames.columns],
        on_change=True,
    )


def _mended(column: Column) -> Floats:
    """Return digits without numbers far off both neighbours: a damaged one would hold for long.

    What is binary has a check, or a sync so long that damage is seldom; and bytes alone wrap.
    """
    values = column.values
    if len(values) < 3 or column.kind != "text":
        return values
    around = np.stack([np.roll(values, shift) for shift in (1, 0, -1)])
    middle = np.median(around, axis=0)
    middle[[0, -1]] = values[[0, -1]]
    usual = float(np.median(np.abs(np.diff(values))))
    return np.asarray(np.where(np.abs(values - middle) > _FAR * usual, middle, values))


def _count(frames: Frames, mark: Mark) -> int:
    times = frames.times_s
    return int(np.sum((times >= mark.start_ns / NS) & (times <= mark.end_ns / NS)))


def _rate(frames: Frames, marks: Sequence[Mark], motion: str) -> float:
    """Return frames a second during the motions of one kind."""
    of = [mark for mark in marks if mark.motion == motion]
    length_s = sum(mark.end_ns - mark.start_ns for mark in of) / NS
    return sum(_count(frames, mark) for mark in of) / max(length_s, 1e-9)
