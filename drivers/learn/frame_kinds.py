"""Binary frames of several kinds in one stream: told apart by the first byte of what they hold.

They are all of one length, or a length byte behind the sync says how long each is.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from drivers.codecs import check
from drivers.learn.binary_frames import BinaryForm, check_of, columns_of, matrix
from drivers.learn.frames import FEWEST, Column, Frames
from drivers.learn.stream import Bytes, Stream

_LEAST_KIND, _MOST_KINDS = 0.08, 8
_SOUND = 0.9
"""Share of the frames that are of a frequent kind."""
_LEAST = 0.5
"""Share of the bytes that frames one behind the other make up."""
_SYNCS, _LONGEST_SYNC = 8, 4
_SHORTEST, _LONGEST = 4, 96
_WIDEST_CHECK = 4
_SAMPLE = 24
_CHAINS = 8
_CONSTANT = 0.96
Order = Literal["little", "big"]


def kinds_of(frames: Frames) -> Iterator[Frames]:
    """Yield the frames of each kind where frames of one length are of several."""
    form = frames.form
    if not isinstance(form, BinaryForm) or not form.sync or form.kind:
        return
    header = len(form.sync) + bool(form.length)
    payloads = [row[header : header + form.payload] for row in frames.raw]
    same = 0 if form.length or form.check_from != "sync" else _the_same(payloads)
    longer = replace(form, sync=form.sync + payloads[0][:same], payload=form.payload - same)
    whole = replace(frames, form=longer)
    alike = [n for n, one in enumerate(payloads) if one.startswith(payloads[0][:same])]
    yield from _by_kind(_some(whole, alike), [payloads[n][same:] for n in alike])


def _the_same(payloads: Sequence[bytes]) -> int:
    """Return how many bytes of the sync were taken for the beginning of what it holds."""
    for place in range(min(map(len, payloads))):
        if Counter(one[place] for one in payloads).most_common(1)[0][1] < _CONSTANT * len(payloads):
            return place if payloads[0][:place] == _usual(payloads, place) else 0
    return 0


def _usual(rows: Sequence[bytes], size: int) -> bytes:
    return Counter(row[:size] for row in rows).most_common(1)[0][0]


def _some(frames: Frames, which: Sequence[int]) -> Frames:
    raw = [frames.raw[n] for n in which]
    return replace(frames, times_s=frames.times_s[list(which)], raw=raw, columns=())


def kinds_by_length(stream: Stream, fewest: int = FEWEST) -> Iterator[Frames]:
    """Yield the frames of each kind of a stream in which a length byte says how long each is."""
    for chain in _chains(np.frombuffer(stream.data, dtype=np.uint8), fewest):
        kinds = list(_kinds_in(stream, chain))
        if kinds:
            yield from kinds
            return


def _kinds_in(stream: Stream, chain: "_Chain") -> Iterator[Frames]:
    starts, ends = chain.starts, chain.ends
    rows = [stream.data[start:end] for start, end in zip(starts, ends, strict=True)]
    usual = _usual(rows, chain.place)
    alike = np.array([row.startswith(usual) for row in rows])
    rows = [row for row in rows if row.startswith(usual)]
    found = check_of(_mixed(rows), rows, min(map(len, rows)), _LEAST * len(rows))
    form = _form_of(chain, usual, found[:3]) if found is not None else None
    if found is None or form is None:
        return
    whole = Frames(
        times_s=np.array([stream.time_s(int(end) - 1) for end in ends])[alike][found[3]],
        raw=[row for row, agrees in zip(rows, found[3], strict=True) if agrees],
        columns=(),
        form=form,
        says=f"frames that begin with {usual.hex(' ')} and say their length",
        check=form.check,
        checked=int(found[3].sum()),
        damaged=len(starts) - int(found[3].sum()),
    )
    width, header = check(form.check)[0], chain.place + 1
    yield from _by_kind(whole, [row[header : len(row) - width] for row in whole.raw])


def _by_kind(whole: Frames, payloads: Sequence[bytes]) -> Iterator[Frames]:
    """Yield the frames of each first byte of a payload, where few of these are frequent.

    A kind is of one length: others of its first byte are damaged.
    """
    counts = Counter((payload[:1], len(payload)) for payload in payloads)
    least = max(FEWEST, _LEAST_KIND * len(payloads))
    kinds = {key: size for (key, size), often in counts.most_common() if often >= least}
    often = sum(counts[kind] for kind in kinds.items())
    if not 2 <= len(kinds) <= _MOST_KINDS or often < _SOUND * len(payloads):
        return
    for key, size in kinds.items():
        of = [n for n, one in enumerate(payloads) if (one[:1], len(one)) == (key, size)]
        if size > 1:
            yield replace(
                whole,
                times_s=whole.times_s[of],
                raw=[whole.raw[n] for n in of],
                columns=_columns([payloads[n][1:] for n in of]),
                form=_form(whole, key, kinds),
                says=f"{whole.says}, kind {key.hex()}",
                part=True,
            )


def _columns(rows: Sequence[bytes]) -> Sequence[Column]:
    return list(columns_of(matrix(rows)))


def _form(whole: Frames, key: bytes, kinds: dict[bytes, int]) -> BinaryForm:
    assert isinstance(whole.form, BinaryForm)
    beside = {} if whole.form.length else {one: size - 1 for one, size in kinds.items()}
    return replace(
        whole.form,
        payload=kinds[key] - 1,
        kind=key,
        beside={one: size for one, size in beside.items() if one != key and size},
    )


@dataclass(frozen=True, slots=True)
class _Chain:
    """Frames one behind the other: place of the length byte, and how much more a frame has."""

    starts: NDArray[np.int64]
    ends: NDArray[np.int64]
    place: int
    more: int


def _chains(data: Bytes, fewest: int) -> list[_Chain]:
    """Return ways to take frames by sync and length, of two lengths at least, the fullest first.

    One that begins in the middle of the sync covers as much: the check tells.
    """
    found: list[tuple[int, _Chain]] = []
    counts = np.bincount(data, minlength=256)
    for first in np.argsort(-counts)[:_SYNCS]:
        at = np.flatnonzero(data == first)
        for place in range(1, _LONGEST_SYNC + 1):
            for more in (0, *range(place + 1, place + 2 + _WIDEST_CHECK)):
                one = _linked(data, at, place, more)
                covered = int((one.ends - one.starts).sum())
                if covered > _LEAST * len(data) and _several(one, fewest):
                    found.append((covered, one))
    return [one for _, one in sorted(found, key=lambda each: -each[0])[:_CHAINS]]


def _several(one: _Chain, fewest: int) -> bool:
    """Tell whether frames of more than one length are frequent."""
    sizes = np.bincount(one.ends - one.starts)
    return int(np.sum(sizes >= max(fewest, _LEAST_KIND * len(one.starts)))) > 1


def _linked(data: Bytes, at: NDArray[np.int64], place: int, more: int) -> _Chain:
    """Return the frames that begin at a byte and end where that byte comes again."""
    at = at[at + place < len(data)]
    sizes = data[at + place].astype(np.int64) + more
    ends = at + sizes
    inside = (sizes >= _SHORTEST) & (sizes <= _LONGEST) & (ends < len(data))
    at, ends = at[inside], ends[inside]
    linked = data[ends] == data[at]
    return _Chain(at[linked], ends[linked], place, more)


def _mixed(rows: Sequence[bytes]) -> list[bytes]:
    """Return a sample of different rows, by turns of each length."""
    by_length: dict[int, list[bytes]] = {}
    for row in dict.fromkeys(rows):
        by_length.setdefault(len(row), []).append(row)
    some = [each[:: max(1, len(each) // _SAMPLE)][:_SAMPLE] for each in by_length.values()]
    return [row for turn in zip_longest(*some) for row in turn if row is not None]


def _form_of(chain: _Chain, sync: bytes, found: tuple[str, int, Order]) -> BinaryForm | None:
    """Return how a profile would say it, None where length and check do not fit together."""
    name, begins, order = found
    header, width = chain.place + 1, check(name)[0]
    counts = {header + width: "payload", header: "payload+check", 0: "frame"}.get(chain.more)
    where = {0: "sync", chain.place: "length", header: "payload"}.get(begins)
    if counts is None or where is None:
        return None
    return BinaryForm(sync, counts, 0, name, where, order)
