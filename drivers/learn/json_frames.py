"""Lines of JSON: an object each (RFC 8259), its numbers by the keys that lead to them."""

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

import numpy as np

from drivers.learn.frames import FEWEST, Column, Frames
from drivers.learn.stream import Stream

_LEAST_OBJECTS = 0.5
"""Share of the lines that are objects."""
_LEAST_KIND = 0.08
"""Share of the objects that have the same keys."""
_MOST_KINDS, _MOST_DEPTH = 8, 6
_MOST_WORDS = 6
"""So few different texts under one key tell kinds of objects apart."""
_SOUND = 0.9
"""Share of the objects that a bad line leaves as they were."""
_DIGITS = 95.0
"""Percentile of the digits behind the point: trailing zeros are not written."""


class _Written(str):
    """A number as it was written."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class JsonForm:
    """Objects with the same keys.

    Attributes:
        paths: where their numbers stand, as a profile's `source`; a column's start is its place here.
        only: texts that objects of other kinds do not have, by key.
    """

    paths: Sequence[str]
    only: Mapping[str, str]

    def tables(self, fields: Mapping[str, Column]) -> tuple[str, dict[str, Any], dict[str, str]]:
        """Return codec, options and sources; see `drivers.learn.frames.Form`."""
        options = {"only": dict(self.only)} if self.only else {}
        sources = {role: self.paths[column.start] for role, column in fields.items()}
        return "json-line", options, sources


@dataclass(frozen=True, slots=True)
class _Object:
    """One line: its first byte, the byte behind its end, what stands at which path."""

    start: int
    after: int
    items: Mapping[str, Any]

    @property
    def paths(self) -> frozenset[str]:
        return frozenset(self.items)


def json_frames(stream: Stream, fewest: int = FEWEST) -> Iterator[Frames]:
    """Yield every kind of object that lines of a stream hold at least so many of."""
    lines = list(_lines(stream.data))
    objects = [one for one in map(_object, lines) if one is not None]
    if len(objects) < max(fewest, _LEAST_OBJECTS * len(lines)):
        return
    least = max(fewest, _LEAST_KIND * len(objects))
    for paths, often in Counter(one.paths for one in objects).most_common(_MOST_KINDS):
        alike = [one for one in objects if one.paths == paths]
        if often >= least:
            yield _frames(stream, alike, {}, len(lines) - len(objects))
            for only, kind in _kinds(alike, least):
                yield replace(_frames(stream, kind, only, 0), part=True)


def _lines(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """Yield the whole lines: first byte, byte behind the end, text."""
    at = None
    for found in re.finditer(rb"[\r\n]+", data):
        if at is not None:
            yield at, found.end(), data[at : found.start()]
        at = found.end()


def _object(line: tuple[int, int, bytes]) -> _Object | None:
    start, after, text = line
    if text[:1] != b"{":
        return None
    try:
        found = json.loads(text, parse_float=_Written, parse_int=_Written)
    except (ValueError, RecursionError):
        return None
    return _Object(start, after, dict(_items(found, "", 0))) if isinstance(found, dict) else None


def _items(found: Any, path: str, depth: int) -> Iterator[tuple[str, Any]]:
    """Yield path and value of everything in it; a key with a point in it cannot be named."""
    if isinstance(found, dict) and depth < _MOST_DEPTH:
        parts = [(key, value) for key, value in found.items() if key and "." not in key]
    elif isinstance(found, list) and depth < _MOST_DEPTH:
        parts = [(str(place), value) for place, value in enumerate(found)]
    else:
        yield path, found
        return
    for key, value in parts:
        yield from _items(value, f"{path}.{key}" if path else key, depth + 1)


def _kinds(
    alike: Sequence[_Object], least: float
) -> Iterator[tuple[dict[str, str], list[_Object]]]:
    """Yield which texts tell kinds of objects with the same keys apart, and those of each."""
    telling = [path for path in sorted(alike[0].paths) if _tells(alike, path)]
    if not telling:
        return
    groups = Counter(tuple(str(one.items[path]) for path in telling) for one in alike)
    for words, often in groups.most_common(_MOST_KINDS):
        if often >= least:
            only = dict(zip(telling, words, strict=True))
            yield only, [one for one in alike if _is_of(one, only)]


def _tells(alike: Sequence[_Object], path: str) -> bool:
    """Tell whether few texts, none of them a number, stand there; damaged ones do not count."""
    words = Counter(one.items[path] for one in alike if isinstance(one.items[path], str))
    often = [word for word, count in words.most_common(_MOST_WORDS) if not _number(word)]
    return sum(words[word] for word in often) >= _SOUND * len(alike)


def _is_of(one: _Object, only: Mapping[str, str]) -> bool:
    return all(one.items.get(path) == word for path, word in only.items())


def _number(item: Any) -> Decimal | None:
    """Return a number, written as one or as text; None where it is none."""
    if not isinstance(item, str):
        return None
    try:
        number = Decimal(item.strip())
    except InvalidOperation:
        return None
    return number if number.is_finite() and abs(number) < Decimal("1e12") else None


def _frames(
    stream: Stream,
    kind: Sequence[_Object],
    only: dict[str, str],
    damaged: int,
) -> Frames:
    sound = [path for path in kind[0].items if _sound(kind, path)]
    whole = [one for one in kind if all(_number(one.items[path]) is not None for path in sound)]
    paths = sound if whole else []
    return Frames(
        times_s=np.array([stream.time_s(one.after - 1) for one in whole]),
        raw=[stream.data[one.start : one.after] for one in whole],
        columns=[_column(place, path, whole) for place, path in enumerate(paths)],
        form=JsonForm(paths, only),
        says=f"lines of JSON with {', '.join(sorted(kind[0].items))}",
        damaged=damaged + len(kind) - len(whole),
    )


def _sound(kind: Sequence[_Object], path: str) -> bool:
    numbers = sum(_number(one.items[path]) is not None for one in kind)
    return numbers >= _SOUND * len(kind)


def _column(place: int, path: str, whole: Sequence[_Object]) -> Column:
    numbers = [number for one in whole if (number := _number(one.items[path])) is not None]
    digits = [max(0, -int(one.as_tuple().exponent)) for one in numbers]
    step = 10.0 ** -round(float(np.percentile(digits, _DIGITS)))
    return Column(np.array([float(one) for one in numbers]), "text", place, 1, "", step, path)
