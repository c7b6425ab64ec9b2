"""Which numbers follow the asked motions: at rest when it rests, there and back when it is tilted."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.learn.asked import Mark
from drivers.learn.frames import Column
from drivers.learn.stream import NS, Floats

Mask = NDArray[np.bool_]
_BINS = 40
_FEWEST = 8
_WANDERS = 1.5
"""There and back is twice the peak; so much more than that is no single motion."""
_STILL, _BACK, _TURNED = 0.15, 0.3, 0.35
"""Shares of the peak: how far it may scatter at rest, miss its beginning, differ turned round."""
_UNEQUAL = 2.2
"""Both ends are raised about as far; a slope of tangents may make of it twice as much."""
_TURNS = (
    *(360.0 * 10.0**power for power in range(5)),
    *(2.0 * np.pi * 10.0**power for power in range(5)),
    *(2.0**bits for bits in (16, 32)),
)
_LIKE_A_TURN = 0.06


class Windows:
    """The marks of a recording, as masks over times."""

    def __init__(self, times_s: Floats, marks: Sequence[Mark]) -> None:
        self.times_s = times_s
        self.marks = marks

    def inside(self, mark: Mark, begins: float = 0.0, ends: float = 1.0) -> Mask:
        """Return which frames came in this share of a motion."""
        start_s, length_s = mark.start_ns / NS, (mark.end_ns - mark.start_ns) / NS
        first, last = start_s + begins * length_s, start_s + ends * length_s
        return (self.times_s >= first) & (self.times_s <= last)

    def of(self, motion: str) -> list[Mark]:
        """Return the marks of one kind."""
        return [mark for mark in self.marks if mark.motion == motion]

    def resting(self, mark: Mark) -> Mask:
        """Return the frames in which what was laid down has come to rest."""
        return self.inside(mark, 0.1) if mark.motion == "still" else self.inside(mark, 0.65)

    def moved(self) -> Mask:
        """Return the frames of rest and tilts together."""
        mask = np.zeros(len(self.times_s), dtype=np.bool_)
        for motion in ("still", "tilt", "turned"):
            for mark in self.of(motion):
                mask |= self.inside(mark)
        return mask


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """A number that follows the motions.

    Attributes:
        values: of all frames, unwrapped about the number at rest.
        flat: at rest.
        sign: 1 where it grows as the marked end rises.
        tops: the number at the top of each tilt, in their order.
        rough: how far it jumps from frame to frame, as a share of its way.
    """

    column: Column
    values: Floats
    flat: float
    sign: float
    tops: tuple[float, ...]
    rough: float


def following(columns: Sequence[Column], windows: Windows) -> Iterator[Followed]:
    """Yield the columns that follow the motions."""
    for column in columns:
        found = followed(column, windows)
        if found is not None:
            yield found


def followed(column: Column, windows: Windows) -> Followed | None:
    """Return how a column follows the motions, None where it does not."""
    still, tilts = windows.of("still"), windows.of("tilt")
    if not still or not tilts or not np.isfinite(column.values).all():
        return None
    rest = column.values[windows.resting(still[0])]
    if len(rest) < _FEWEST:
        return None
    for turn in _turns(column.values[windows.moved()]):
        found = _followed(column, _unwrapped(column.values, _low_median(rest), turn), windows)
        if found is not None:
            return found
    return None


def _low_median(values: Floats) -> float:
    """The median, but a number that was there."""
    return float(np.partition(values, len(values) // 2)[len(values) // 2])


def _turns(values: Floats) -> list[float]:
    """Return the moduli by which the numbers may wrap; 0 = they do not."""
    if len(values) == 0:
        return [0.0]
    low, high = np.percentile(values, [2.0, 98.0])
    span = float(high - low)
    return [0.0, *(turn for turn in _TURNS if abs(span / turn - 1.0) < _LIKE_A_TURN)]


def _unwrapped(values: Floats, about: float, turn: float) -> Floats:
    if not turn:
        return values
    return about + (values - about + turn / 2.0) % turn - turn / 2.0


def _followed(column: Column, values: Floats, windows: Windows) -> Followed | None:
    still = windows.resting(windows.of("still")[0])
    flat = float(np.median(values[still]))
    tops = [_top(values[windows.inside(mark)] - flat) for mark in windows.of("tilt")]
    if any(top == 0.0 for top in tops) or not _opposite(tops, windows.of("tilt")):
        return None
    least = min(map(abs, tops))
    low, high = np.percentile(smoothed(values[still]) - flat, [2.0, 98.0])
    if high - low > _STILL * least:
        return None
    for mark in windows.of("turned"):
        turned = values[windows.resting(mark)]
        if len(turned) and abs(float(np.median(turned)) - flat) > _TURNED * least:
            return None
    mark = windows.of("tilt")[0]
    sign = np.sign(tops[0]) * (1.0 if (mark.deg or 40.0) > 0 else -1.0)
    rough = _rough(values, windows) / least
    return Followed(column, values, flat, float(sign), tuple(flat + top for top in tops), rough)


def _top(moved: Floats) -> float:
    """Return the farthest point of one way there and back, 0.0 where it is none."""
    bins = binned(moved)
    if len(bins) < 6:
        return 0.0
    top = float(bins[np.argmax(np.abs(bins))])
    way = float(np.abs(np.diff(bins)).sum()) + abs(float(bins[0])) + abs(float(bins[-1]))
    if top == 0.0 or way > _WANDERS * 2.0 * abs(top):
        return 0.0
    ends = max(abs(float(bins[0])), abs(float(bins[-1])))
    return top if ends <= _BACK * abs(top) else 0.0


def binned(values: Floats) -> Floats:
    """Return the medians of equal parts of a smoothed series, 40 or somewhat more of them.

    Of a pair or more; nothing of less.
    """
    each = max(2, len(values) // _BINS)
    count = len(values) // each
    whole = smoothed(values)[len(values) - each * count :].reshape(count, each)
    return np.asarray(np.median(whole, axis=1))


def smoothed(values: Floats) -> Floats:
    """Return a running median of five: a damaged number alone leaves no trace."""
    if len(values) < 5:
        return values
    padded = np.concatenate([values[:1], values[:1], values, values[-1:], values[-1:]])
    shifted: Floats = np.stack([padded[at : at + len(values)] for at in range(5)])
    return np.asarray(np.median(shifted, axis=0))


def _opposite(tops: Sequence[float], tilts: Sequence[Mark]) -> bool:
    """Tell whether one end up and the other end up are of opposite sign and alike in size."""
    signs = {
        np.sign(top) * np.sign(mark.deg or 40.0) for top, mark in zip(tops, tilts, strict=True)
    }
    sizes = [abs(top) for top in tops]
    return len(signs) == 1 and max(sizes) <= _UNEQUAL * min(sizes)


def _rough(values: Floats, windows: Windows) -> float:
    """Return the typical second difference while it was tilted, half a step of it at least.

    A coarse part of a number stands still between few large steps, which no typical difference shows.
    """
    tilted = [values[windows.inside(mark)] for mark in windows.of("tilt")]
    differences = np.abs(np.concatenate([np.diff(each, 2) for each in tilted]))
    keep = differences <= np.percentile(differences, 90.0)
    typical = float(np.sqrt(np.mean(differences[keep] ** 2))) if keep.any() else 0.0
    steps = np.abs(np.concatenate([np.diff(each) for each in tilted]))
    return max(typical, float(steps[steps > 0.0].min()) / 2.0) if steps.any() else typical
