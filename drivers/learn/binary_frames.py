"""Binary frames: how long they are, what they begin with, which check stands at their end."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import zip_longest
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from drivers.codecs import check, checks_of
from drivers.learn.asked import Heard
from drivers.learn.frames import FEWEST, Column, Frames
from drivers.learn.stream import NS, Bytes, Stream

_SHORTEST, _LONGEST = 4, 96
_LENGTHS, _BEGINNINGS, _SAMPLE = 10, 8, 16
_PASSING = 5
"""Of a sample of 16: an 8-bit check agrees so often by chance once in 10 million."""
_AT_FIRST = 8
_LEAST = 0.3
_DIFFERENT = 0.12
_MOSTLY = 0.9
_CONSTANT = 0.96
_WITHOUT_CHECK = 4
"""Bytes of sync without which a frame needs a check."""
_FARTHEST_START = 6
_INTEGERS = {"i32": 4, "u32": 4, "i24": 3, "u24": 3, "i16": 2, "u16": 2, "i8": 1, "u8": 1}
"""The widest first: what all its bytes agree with is taken for the whole of a number."""


@dataclass(frozen=True, slots=True)
class BinaryForm:
    """Frames of one length.

    Attributes:
        sync: bytes that begin a frame; empty for a bare notification.
        length: what the byte behind the sync counts, "" where there is none.
        payload: bytes of numbers.
        kind: what the payload of frames of one kind begins with; its numbers come behind it.
        beside: of other kinds, how many bytes they have behind it, where nothing else says that.
    """

    sync: bytes
    length: str
    payload: int
    check: str = "none"
    check_from: str = "payload"
    check_order: str = "little"
    kind: bytes = b""
    beside: Mapping[bytes, int] = field(default_factory=dict)

    def tables(self, fields: Mapping[str, Column]) -> tuple[str, dict[str, Any], dict[str, str]]:
        """Return codec, options and sources; see `drivers.learn.frames.Form`."""
        layout = _layout(fields, self.payload)
        order = next((column.order for column in fields.values() if column.order), "little")
        sources = {role: role for role in fields}
        if not self.sync:
            return "ble-notify", {"layouts": {"0": layout}, "order": order}, sources
        options: dict[str, Any] = {"sync": self.sync.hex(), "order": order}
        if self.kind:
            passed = {key.hex(): _passed_over(size) for key, size in self.beside.items()}
            options["layouts"] = {self.kind.hex(): layout, **passed}
        else:
            options["layout"] = layout
        if self.length:
            options |= {"length": "u8", "length_counts": self.length}
        options |= {"check": self.check}
        if self.check != "none":
            options |= {"check_from": self.check_from, "check_order": self.check_order}
        return "framed-binary", options, sources


def _passed_over(size: int) -> str:
    """Return a layout of so many bytes of which none is asked for."""
    return "other:u8" + (f" pad:{size - 1}" if size > 1 else "")


def _layout(fields: Mapping[str, Column], size: int) -> str:
    """Return the layout of a payload: the fields where they stand, the rest passed over."""
    parts, at = [], 0
    for role, column in sorted(fields.items(), key=lambda item: item[1].start):
        if column.start > at:
            parts.append(f"pad:{column.start - at}")
        parts.append(f"{role}:{column.kind}")
        at = column.start + column.size
    if at < size:
        parts.append(f"pad:{size - at}")
    return " ".join(parts)


def notifications(heard: Heard) -> Iterator[Frames]:
    """Yield notifications that are a struct each, where most of them are of one length."""
    sizes = Counter(len(data) for _, data in heard.chunks)
    if not sizes:
        return
    [(size, often)] = sizes.most_common(1)
    if often < max(FEWEST, 0.8 * len(heard.chunks)):
        return
    kept = [(t_ns, data) for t_ns, data in heard.chunks if len(data) == size]
    yield Frames(
        times_s=np.array([t_ns / NS for t_ns, _ in kept]),
        raw=[data for _, data in kept],
        columns=list(columns_of(matrix([data for _, data in kept]))),
        form=BinaryForm(b"", "", size),
        says=f"notifications of {size} bytes",
        damaged=len(heard.chunks) - often,
    )


def binary_frames(
    stream: Stream, fewest: int = FEWEST, *, tries: int = _LENGTHS
) -> Iterator[Frames]:
    """Yield at least so many frames of a stream: the framing that most of the bytes agree with.

    tries: so many lengths of a frame, and so many bytes it may begin with, are tried.
    """
    data = np.frombuffer(stream.data, dtype=np.uint8)
    if len(data) < fewest * _SHORTEST:
        return
    best: _Framing | None = None
    begins = _chunks_begin(stream)
    for size in _lengths(data, fewest)[:tries]:
        for first in _beginnings(data, size)[:tries]:
            found = _framing(data, size, first, fewest)
            if found is not None and (best is None or _better(found, best, begins)):
                best = found
        if best is not None and best.check != "none" and best.share > 2 * _LEAST:
            break
    if best is not None:
        yield _frames(stream, best)


def _chunks_begin(stream: Stream) -> NDArray[np.bool_]:
    """Return at which bytes something came after a pause."""
    begins = np.zeros(len(stream.data) + 1, dtype=np.bool_)
    begins[[0, *stream.ends]] = True
    return begins


def _better(found: "_Framing", than: "_Framing", begins: NDArray[np.bool_]) -> bool:
    """Tell which is the likelier; of two that are as likely, where frames begin after a pause.

    Without a check the end of a frame and the beginning of the next are one to the eye, and who
    takes the one for the other shows every angle a frame late.
    """
    after, before = (round(float(np.mean(begins[one.starts])), 1) for one in (found, than))
    return (found.rank, after) > (than.rank, before)


def _lengths(data: Bytes, fewest: int) -> list[int]:
    """Return the likely lengths of a frame: distances at which some byte value comes again."""
    all_of = np.bincount(data, minlength=256)
    shares: dict[int, float] = {}
    for size in range(_SHORTEST, min(_LONGEST, len(data) // fewest) + 1):
        again = np.bincount(data[:-size][data[:-size] == data[size:]], minlength=256)
        often = again >= _LEAST * len(data) / size
        if often.any():
            shares[size] = float((again[often] / all_of[often]).max())
    return sorted(shares, key=lambda size: size * 0.003 - shares[size])[:_LENGTHS]


def _beginnings(data: Bytes, size: int) -> list[int]:
    """Return the byte values that come again after a frame's length, most often first."""
    again = data[:-size][data[:-size] == data[size:]]
    counts = np.bincount(again, minlength=256)
    wanted = _LEAST * len(data) / size
    order = np.argsort(-counts)[:_BEGINNINGS]
    return [int(value) for value in order if counts[value] >= wanted]


@dataclass(frozen=True, slots=True)
class _Framing:
    starts: NDArray[np.int64]
    size: int
    check: str
    check_from: int
    check_order: Literal["little", "big"]
    constant: int
    share: float

    @property
    def rank(self) -> tuple[bool, float, int]:
        """A check tells most; without one, several frames in a row would look like one as well."""
        if self.check == "none":
            return (False, min(1.0, round(self.share, 1)), -self.size)
        return (True, round(self.share, 1), self.constant)


def _framing(data: Bytes, size: int, first: int, fewest: int) -> _Framing | None:
    """Return the framing of frames that begin with this byte, None where nothing agrees."""
    at = np.flatnonzero(data[: len(data) - size] == first)
    at = at[data[at + size] == first]
    if len(at) < fewest:
        return None
    rows = [data[start : start + size].tobytes() for start in at]
    sample = _clean(rows)
    found = (
        check_of(sample, rows, size, _LEAST * len(data) / size)
        if len(set(sample)) >= _PASSING
        else None
    )
    if found is None:
        return _unchecked(data, at, size)
    name, begins, order, good = found
    starts = _apart(at[good], size)
    share, constant = len(starts) * size / len(data), _constant(data, starts, size)
    if share < _LEAST or constant < max(1, begins):
        return None
    return _Framing(starts, size, name, begins, order, constant, share)


def _apart(starts: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    """Return the frames that do not begin inside the one before."""
    kept, free = [], 0
    for start in map(int, starts):
        if start >= free:
            kept.append(start)
            free = start + size
    return np.array(kept, dtype=np.int64)


def _clean(rows: Sequence[bytes]) -> list[bytes]:
    """Return a sample of different rows from all over.

    By turns one of those that look alike, and one of the others: these are damaged, or whole
    where the first byte comes twice in a frame.
    """
    rows = list(dict.fromkeys(rows))
    table = matrix(rows)
    usual = np.array([np.bincount(column, minlength=256).argmax() for column in table.T])
    constant = np.mean(table == usual, axis=0) > _LEAST
    alike = (table == usual)[:, constant].mean(axis=1) > _MOSTLY
    some = [_spread(np.flatnonzero(which)) for which in (alike, ~alike)]
    mixed = [index for pair in zip_longest(*some) for index in pair if index is not None]
    return [rows[index] for index in mixed]


def _spread(places: NDArray[np.int64]) -> list[int]:
    return [int(one) for one in places[:: max(1, len(places) // _SAMPLE)][:_SAMPLE]]


def check_of(
    sample: Sequence[bytes], rows: Sequence[bytes], size: int, enough: float
) -> tuple[str, int, Literal["little", "big"], NDArray[np.bool_]] | None:
    """Return check, first byte it covers, its order, and the rows where it agrees.

    enough: so many rows must agree, and a share of the different ones: a level at rest says the
    same thing over and over, and what agrees with that by chance agrees often.
    """
    for width in (4, 2, 1):
        for name in checks_of(width):
            for begins in range(min(_FARTHEST_START, size - width - 1) + 1):
                for order in _orders(width):
                    if _agree(sample, name, begins, width, order) >= _PASSING:
                        agree = {r: _agrees(r, name, begins, width, order) for r in set(rows)}
                        good = np.array([agree[row] for row in rows])
                        if good.sum() >= enough and sum(agree.values()) >= _DIFFERENT * len(agree):
                            return name, begins, order, good
    return None


def _orders(width: int) -> tuple[Literal["little", "big"], ...]:
    return ("little", "big") if width > 1 else ("little",)


def _agree(
    rows: Sequence[bytes], name: str, begins: int, width: int, order: Literal["little", "big"]
) -> int:
    """Count the different checks that agree; none where none of the first rows does.

    What covers nothing but bytes that never change agrees always, with one and the same check.
    """
    if not any(_agrees(row, name, begins, width, order) for row in rows[:_AT_FIRST]):
        return 0
    good = (row for row in rows if _agrees(row, name, begins, width, order))
    return len({row[len(row) - width :] for row in good})


def _agrees(
    row: bytes, name: str, begins: int, width: int, order: Literal["little", "big"]
) -> bool:
    sent = int.from_bytes(row[len(row) - width :], order)
    return check(name)[1](row[begins : len(row) - width]) == sent


def _unchecked(data: Bytes, at: NDArray[np.int64], size: int) -> _Framing | None:
    """Frames without a check need a long sync, or the codec takes noise for them."""
    constant = _constant(data, at, size)
    share = len(at) * size / len(data)
    if constant < _WITHOUT_CHECK or share < 2 * _LEAST or constant > size - 2:
        return None
    return _Framing(at, size, "none", 0, "little", constant, share)


def _constant(data: Bytes, starts: NDArray[np.int64], size: int) -> int:
    """Return how many of the first bytes are the same in (nearly) all frames."""
    for place in range(size):
        column = data[starts + place]
        if np.bincount(column).max() < _CONSTANT * len(column):
            return place
    return size


def _frames(stream: Stream, framing: _Framing) -> Frames:
    starts, size = framing.starts, framing.size
    usual = Counter(stream.data[s : s + framing.constant] for s in starts).most_common(1)[0][0]
    starts = starts[[stream.data[s : s + len(usual)] == usual for s in starts]]
    raw = [stream.data[start : start + size] for start in starts]
    form = _form(framing, usual)
    header = len(form.sync) + bool(form.length)
    payload = [row[header : header + form.payload] for row in raw]
    return Frames(
        times_s=np.array([stream.time_s(int(start) + size - 1) for start in starts]),
        raw=raw,
        columns=list(columns_of(matrix(payload))),
        form=form,
        says=f"frames of {size} bytes that begin with {form.sync.hex(' ')}",
        check="" if framing.check == "none" else framing.check,
        checked=0 if framing.check == "none" else len(raw),
        damaged=max(0, round(len(stream.data) / size) - len(raw)),
    )


def _form(framing: _Framing, usual: bytes) -> BinaryForm:
    """Return how a profile would say it: a constant byte that counts is a length."""
    width = check(framing.check)[0]
    begins, size = framing.check_from, framing.size
    for place in range(1, min(len(usual), _FARTHEST_START)):
        counts = _counts(usual[place], size, place, width)
        if counts and begins in {0, place, place + 1}:
            where = {0: "sync", place: "length", place + 1: "payload"}[begins]
            payload = size - place - 1 - width
            return BinaryForm(
                usual[:place], counts, payload, framing.check, where, framing.check_order
            )
    least = _WITHOUT_CHECK if framing.check == "none" else 2
    sync = usual[: begins or min(least, len(usual))]
    where = "payload" if begins else "sync"
    payload = size - len(sync) - width
    return BinaryForm(sync, "", payload, framing.check, where, framing.check_order)


def _counts(byte: int, size: int, place: int, width: int) -> str:
    """Return what a constant byte at this place counts, "" where nothing."""
    payload = size - place - 1 - width
    known = {payload: "payload", payload + width: "payload+check", size: "frame"}
    return known.get(byte, "")


def matrix(rows: Sequence[bytes]) -> Bytes:
    """Return rows of one length as a table of bytes."""
    return np.frombuffer(b"".join(rows), dtype=np.uint8).reshape(len(rows), -1)


def columns_of(rows: Bytes) -> Iterator[Column]:
    """Yield every number that the bytes of the rows may hold, of all types, at all places."""
    size = rows.shape[1]
    for kind, width in _INTEGERS.items():
        for order in ("little", "big") if width > 1 else ("",):
            for start in range(size - width + 1):
                part = rows[:, start : start + width]
                values = _whole(part, kind, order)
                yield Column(values, kind, start, width, order)
    for order, code in (("little", "<f4"), ("big", ">f4")):
        for start in range(size - 3):
            part = np.ascontiguousarray(rows[:, start : start + 4])
            with np.errstate(invalid="ignore", over="ignore"):
                floats = part.view(code)[:, 0].astype(np.float64)
            if np.isfinite(floats).mean() > 0.9 and np.abs(floats).max() < 1e7:
                yield Column(floats, "f32", start, 4, order, 0.0)


def _whole(part: Bytes, kind: str, order: str) -> NDArray[np.float64]:
    weights = 256.0 ** np.arange(part.shape[1])
    value: NDArray[np.float64] = part.astype(np.float64) @ (
        weights if order != "big" else weights[::-1]
    )
    top = 256.0 ** part.shape[1]
    return np.where(value >= top / 2.0, value - top, value) if kind[0] == "i" else value
