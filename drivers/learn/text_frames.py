"""Lines of text: where they end, which shape most of them have, which check stands behind them."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drivers.codecs import check, checks_of
from drivers.learn.frames import FEWEST, Column, Frames
from drivers.learn.stream import Stream

_PLAIN = frozenset(range(0x20, 0x7F)) | {0x09, 0x0A, 0x0D, 0xB0, 0xC2}
_FEWEST_PLAIN = 0.93
_CHECKED = re.compile(rb"\*([0-9A-Fa-f]{2,8})[ \t]*\Z")
_POINT = re.compile(r"(?<!m/s)(?:[+-][ ]?)?(?:\d+(?:\.\d+)?|\.\d+)")
_COMMA = re.compile(r"(?<!m/s)(?:[+-][ ]?)?\d+(?:,\d+)?")
"""The 2 of m/s2 is no number."""
_HEX = re.compile(r"(?<![0-9A-Za-z])[0-9A-Fa-f]{2,8}(?![0-9A-Za-z=:])")
_GAP = "\0"
_LABEL = re.compile(r"([A-Za-z_][A-Za-z0-9_]*)\s*[=:]?\s*\Z")
_UNIT = re.compile(r"\s?(°|deg|rad|%|percent|mm/m|mg|m/s2|m/s²|g)(?![A-Za-z])")
_LEAST_ALIKE, _LEAST_CHECKED = 0.35, 0.35
_SOUND = 0.9
"""Where so many lines are of one shape the others are damaged ones."""
_LEAST_SHAPE, _MOST_SHAPES = 0.08, 6
"""Shares of the lines that are of any frequent shape, that have a check, and that are of one shape."""


@dataclass(frozen=True, slots=True)
class TextForm:
    """Lines of one shape.

    Attributes:
        shape: the line with a gap for every number.
        mark: decimal mark; "hex" where digits are hexadecimal.
        end: what ends a line, "" for CR and LF.
        begins: what these lines begin with and lines of other shapes do not; "" where nothing tells.
    """

    shape: str
    mark: str
    end: str
    check: str
    begins: str = ""

    def tables(self, fields: Mapping[str, Column]) -> tuple[str, dict[str, Any], dict[str, str]]:
        """Return codec, options and sources; see `drivers.learn.frames.Form`."""
        by_place = {column.start: role for role, column in fields.items()}
        parts = self.shape.split(_GAP)
        names = [by_place.get(place, f"n{place + 1}") for place in range(len(parts) - 1)]
        pattern = ("" if self.begins else parts[0]) + "".join(
            f"{{{name}}}{literal}" for name, literal in zip(names, parts[1:], strict=True)
        )
        options: dict[str, Any] = {"pattern": pattern}
        if self.mark == ",":
            options["decimal"] = "comma"
        if self.mark == "hex":
            signed = any(column.kind == "hex signed" for column in fields.values())
            options["digits"] = "hex signed" if signed else "hex"
        if self.check:
            options["checksum"] = "xor" if self.check == "xor8" else self.check
        if self.begins:
            options["begins"] = self.begins
        if self.end:
            options["end"] = self.end
        return "text-line", options, {role: role for role in fields}


@dataclass(frozen=True, slots=True)
class _Line:
    """A line: index of its first byte, of the byte behind its end, and its own bytes."""

    start: int
    after: int
    body: bytes


def text_frames(stream: Stream, fewest: int = FEWEST) -> Iterator[Frames]:
    """Yield every kind of at least so many lines of text in a stream, the plainest reading first."""
    for reading in text_readings(stream, fewest):
        yield from reading


def text_readings(stream: Stream, fewest: int = FEWEST) -> Iterator[list[Frames]]:
    """Yield the ways to read numbers in lines of text: of each, the lines of every shape."""
    if not _is_text(stream.data):
        return
    end, lines = _lines(stream.data, fewest)
    if len(lines) < fewest:
        return
    name, lines = _checked(lines)
    texts = [_text(line.body) for line in lines]
    for mark, expression in (("point", _POINT), (",", _COMMA), ("hex", _HEX)):
        if _worth(mark, texts):
            found = list(_shaped(stream, lines, texts, mark, expression, end, name, fewest))
            if found:
                yield found


def _is_text(data: bytes) -> bool:
    if not data:
        return False
    counts = Counter(data)
    controls = sum(count for byte, count in counts.items() if byte < 0x20)
    plain = sum(count for byte, count in counts.items() if byte in _PLAIN)
    one_end = max((counts[b] for b in range(0x20) if b not in _PLAIN), default=0)
    return plain + one_end >= _FEWEST_PLAIN * len(data) and controls < 0.5 * len(data)


def _lines(data: bytes, fewest: int) -> tuple[str, list[_Line]]:
    """Return what ends lines ("" for CR and LF), and the lines."""
    breaks = data.count(b"\n") + data.count(b"\r")
    if breaks >= fewest and breaks > len(data) / 400:
        return "", list(_split(data, rb"[\r\n]+"))
    ends: dict[str, list[_Line]] = {}
    counts = Counter(data)
    marks = [byte for byte in counts if byte < 0x20 and byte != 0x09 and counts[byte] >= fewest]
    for byte in sorted(marks, key=lambda one: -counts[one])[:1] or _visible_ends(counts, fewest):
        ends[chr(byte)] = list(_split(data, re.escape(bytes([byte]))))
    best = max(ends, key=lambda end: _alike(ends[end]), default="")
    return best, ends.get(best, [])


def _visible_ends(counts: Mapping[int, int], fewest: int) -> list[int]:
    return [byte for byte in b"|;#!/&~" if counts.get(byte, 0) >= fewest]


def _alike(lines: Sequence[_Line]) -> float:
    """Return the share of the lines that have the most frequent shape."""
    shapes = Counter(_shape(_text(_CHECKED.sub(b"*", one.body)), _POINT, "") for one in lines)
    return shapes.most_common(1)[0][1] / len(lines) if lines else 0.0


def _split(data: bytes, ends: bytes) -> Iterator[_Line]:
    """Yield the whole lines: what comes before the first end may be half a line."""
    at = None
    for found in re.finditer(ends, data):
        if at is not None:
            yield _Line(at, found.end(), data[at : found.start()].strip(b"\r\n"))
        at = found.end()


def _checked(lines: list[_Line]) -> tuple[str, list[_Line]]:
    """Return the check behind the lines, and those where it agrees; "" and all without one."""
    tails = [(line, _CHECKED.search(line.body)) for line in lines]
    there = [(line, tail) for line, tail in tails if tail is not None]
    if len(there) < 0.5 * len(lines):
        return "", lines
    digits = Counter(len(tail[1]) for _, tail in there).most_common(1)[0][0]
    for name in checks_of(digits // 2):
        good = [
            _Line(line.start, line.after, line.body[: tail.start()])
            for line, tail in there
            if int(tail[1], 16) == check(name)[1](line.body[: tail.start()].lstrip(b"$"))
        ]
        if len(good) >= _LEAST_CHECKED * len(there):
            return name, good
    return "", lines


def _text(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("latin-1")


def _worth(mark: str, texts: Sequence[str]) -> bool:
    """Tell whether numbers may be written so."""
    count = len(texts)
    if mark == ",":
        commas = sum(bool(re.search(r"\d,\d", text)) for text in texts)
        points = sum(bool(re.search(r"\d\.\d", text)) for text in texts)
        return commas > 0.5 * count and points < 0.1 * count
    if mark == "hex":
        letters = sum(bool(re.search(r"[A-Fa-f]", "".join(_HEX.findall(t)))) for t in texts)
        return letters > 0.2 * count
    return True


def _shaped(
    stream: Stream,
    lines: Sequence[_Line],
    texts: Sequence[str],
    mark: str,
    expression: re.Pattern[str],
    end: str,
    name: str,
    fewest: int,
) -> Iterator[Frames]:
    """Yield the lines of each frequent shape, the most frequent first."""
    shapes = [_shape(text, expression, name) for text in texts]
    frequent = Counter(shapes).most_common(_MOST_SHAPES)
    alike = sum(often for _, often in frequent if often >= _LEAST_SHAPE * len(lines))
    if alike < _LEAST_ALIKE * len(lines):
        return
    for shape, often in frequent:
        if often >= max(fewest, _LEAST_SHAPE * len(lines)) and _GAP in shape and "{" not in shape:
            kept = [place for place, one in enumerate(shapes) if one == shape]
            yield _of_shape(stream, lines, texts, kept, shape, mark, expression, end, name)


def _of_shape(
    stream: Stream,
    lines: Sequence[_Line],
    texts: Sequence[str],
    kept: Sequence[int],
    shape: str,
    mark: str,
    expression: re.Pattern[str],
    end: str,
    name: str,
) -> Frames:
    rows = [expression.findall(texts[place]) for place in kept]
    begins = _begins(lines, kept, shape)
    return Frames(
        times_s=np.array([stream.time_s(lines[place].after - 1) for place in kept]),
        raw=[stream.data[lines[place].start : lines[place].after] for place in kept],
        columns=list(_columns(rows, shape, mark)),
        form=TextForm(shape, mark, end, name, begins),
        says=f"lines of text, {shape.replace(_GAP, '…').strip()!r}",
        check=name,
        checked=len(lines) if name else 0,
        damaged=len(lines) - len(kept),
    )


def _begins(lines: Sequence[_Line], kept: Sequence[int], shape: str) -> str:
    """Return what lines of a shape begin with and no other does; "" where none or nothing tells."""
    literal = shape.partition(_GAP)[0]
    begins = ("$" if lines[kept[0]].body[:1] == b"$" and literal[:1] != "$" else "") + literal
    with_it = sum(one.body.startswith(begins.encode()) for one in lines)
    alone = _SOUND * with_it <= len(kept) and literal == literal.strip() and literal.isascii()
    return begins if literal and alone and with_it < _SOUND * len(lines) else ""


def _shape(text: str, expression: re.Pattern[str], name: str) -> str:
    """Return the line with a gap for each number; runs of blanks are one blank."""
    body = text.lstrip("$") if name else text
    return re.sub(r"[ \t]+", lambda run: run[0][0], expression.sub(_GAP, body).strip())


def _columns(rows: Sequence[Sequence[str]], shape: str, mark: str) -> Iterator[Column]:
    literals = shape.split(_GAP)
    for place in range(len(literals) - 1):
        words = [row[place].replace(" ", "") for row in rows]
        label = _LABEL.search(literals[place])
        unit = _UNIT.match(literals[place + 1])
        named = (label[1] if label else "", unit[1] if unit else "")
        if mark != "hex":
            plain = [word.replace(",", ".") for word in words]
            digits = Counter(len(word.partition(".")[2]) for word in plain).most_common(1)[0][0]
            values = np.array([float(word) for word in plain])
            yield Column(values, "text", place, 1, "", 10.0**-digits, *named)
            continue
        width = Counter(map(len, words)).most_common(1)[0][0]
        raw = np.array([float(int(word, 16)) for word in words])
        signed = np.where(raw >= 16.0**width / 2.0, raw - 16.0**width, raw)
        yield Column(signed, "hex signed", place, 1, "", 1.0, *named)
        yield Column(raw, "hex", place, 1, "", 1.0, *named)
