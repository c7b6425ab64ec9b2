"""Framed binary messages: sync | length | payload | check, each part as the options say.

A frame whose length or check is wrong costs one byte: the search for the next sync goes on
inside it, so a false sync in the payload never swallows a good frame.

A level that sends several kinds of frames has `layouts` instead of one `layout`: the bytes
that the payload begins with, in hexadecimal, and the layout of what follows them.
"""

from collections import Counter
from typing import Annotated, Literal

from pydantic import Field, model_validator

from drivers.codecs._checks import CheckName, check
from drivers.codecs._gather import Gathered, Together
from drivers.codecs._layout import (
    Layout,
    Order,
    Reading,
    numbers,
    parse_layout,
    reading,
    unknown_source,
)
from drivers.codecs._scale import own_sources, scaled_fields
from shared.errors import BadInputError
from shared.profile import LevelProfile
from shared.samples import Sample

_LENGTH_SIZE = {"none": 0, "u8": 1, "u16": 2}
_LONGEST_KIND = 4


class Options(Gathered):
    """The shape of a frame."""

    sync: Annotated[str, Field(pattern=r"^([0-9a-fA-F]{2}){1,8}$")]
    """Bytes that begin a frame, in hexadecimal."""
    layout: str = ""
    """Of the payload: its numbers in order, each name:type; `pad:n` skips n bytes."""
    layouts: Annotated[dict[str, str], Field(default_factory=dict)]
    """Instead of `layout`, by the bytes the payload begins with (hexadecimal, all of one
    length): the layout of what follows them. Other kinds of frame are passed over."""
    order: Order = "little"
    """Byte order of the payload's numbers."""
    length: Literal["none", "u8", "u16"] = "none"
    """A length after the sync. none: the payload is as long as its layout."""
    length_counts: Literal["payload", "payload+check", "frame"] = "payload"
    """What the length counts."""
    length_order: Order = "little"
    """Byte order of a length of two bytes."""
    longest: Annotated[int, Field(ge=1, le=4096)] = 256
    """Longest credible payload in bytes: a larger length is noise."""
    check: CheckName
    """Sum, exclusive or, or a CRC by its name in the catalogue of CRC algorithms."""
    check_from: Literal["sync", "length", "payload"] = "payload"
    """First byte the check covers; it always ends with the payload."""
    check_order: Order = "little"
    """Byte order of a check of several bytes."""
    only: Annotated[dict[str, str], Field(default_factory=dict)]
    """Numbers that must have these values, by layout name; other frames are someone else's."""

    @model_validator(mode="after")
    def _consistent(self) -> "Options":
        places = {name for layout in kinds(self).values() for name in layout.places}
        for name, value in self.only.items():
            if name not in places:
                raise ValueError(f"only.{name} is not in the layout")
            int(value, 0)
        return self


def kinds(options: Options) -> dict[bytes, Layout]:
    """Return the layout by what the payload begins with; one of b"" for a single layout.

    Raises:
        ValueError: neither or both ways of saying it, or a key that is none.
    """
    if bool(options.layout) == bool(options.layouts):
        raise ValueError("give one layout, or several layouts by what the payload begins with")
    if options.layout:
        return {b"": parse_layout(options.layout, options.order)}
    found: dict[bytes, Layout] = {}
    for key, text in options.layouts.items():
        try:
            found[bytes.fromhex(key)] = parse_layout(text, options.order)
        except ValueError as error:
            raise ValueError(f"layouts.{key}: {error}") from error
    lengths = {len(key) for key in found}
    if len(found) != len(options.layouts) or lengths - {*range(1, _LONGEST_KIND + 1)}:
        raise ValueError("layouts: each key is 1 to 4 bytes in hexadecimal, each once")
    if len(lengths) != 1:
        raise ValueError("layouts: all keys must have the same number of bytes")
    return found


class FramedCodec:
    """Reads one level's byte stream; see `shared.samples.Codec`."""

    def __init__(
        self,
        profile: LevelProfile,
        options: Options,
        found: dict[bytes, tuple[Layout, list[Reading]]],
    ) -> None:
        self.refused: Counter[str] = Counter()
        self._options = options
        self._kinds = found
        self._key_size = len(next(iter(found)))
        self._only = {name: int(value, 0) for name, value in options.only.items()}
        self._sync = bytes.fromhex(options.sync)
        self._length_size = _LENGTH_SIZE[options.length]
        self._header = len(self._sync) + self._length_size
        self._check_size, self._check = check(options.check)
        self._together = Together(profile, options, self.refused)
        self._buffer = b""

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the stream; the channel does not matter."""
        del channel
        self._buffer += data
        samples: list[Sample] = []
        position = 0
        while (start := self._buffer.find(self._sync, position)) >= 0:
            end = self._frame_end(start)
            if end is None:
                break
            sample, position = self._frame(start, end)
            if sample is not None:
                samples.append(sample)
        self._keep(start, position)
        return samples

    def reset(self) -> None:
        """Forget the half-received frame, and the half-gathered tilt."""
        self._buffer = b""
        self._together.clear()

    def _keep(self, start: int, position: int) -> None:
        """Keep an unfinished frame, or what may be the beginning of a sync."""
        if start < 0:
            start = max(position, len(self._buffer) - len(self._sync) + 1)
        self._buffer = self._buffer[start:]

    def _frame_end(self, start: int) -> int | None:
        """Return the index after the frame at `start`, `start` if impossible, None if unfinished."""
        size = self._size_by_length(start) if self._length_size else self._size_by_kind(start)
        if size is None:
            return None
        if not 0 <= size <= self._options.longest:
            return start
        end = start + self._header + size + self._check_size
        return end if end <= len(self._buffer) else None

    def _size_by_length(self, start: int) -> int | None:
        at = start + len(self._sync)
        raw = self._buffer[at : at + self._length_size]
        if len(raw) < self._length_size:
            return None
        length = int.from_bytes(raw, self._options.length_order)
        counts = self._options.length_counts
        if counts == "payload":
            return length
        return length - self._check_size - (self._header if counts == "frame" else 0)

    def _size_by_kind(self, start: int) -> int | None:
        """Return the payload's size; -1 for a kind that no layout names."""
        at = start + self._header
        key = self._buffer[at : at + self._key_size]
        if len(key) < self._key_size:
            return None
        known = self._kinds.get(key)
        return -1 if known is None else self._key_size + known[0].size

    def _frame(self, start: int, end: int) -> tuple[Sample | None, int]:
        """Return the sample of the frame and where to search on."""
        if end == start:
            self.refused["length" if self._length_size else "kind"] += 1
            return None, start + 1
        frame = self._buffer[start:end]
        body = frame[: len(frame) - self._check_size]
        first = {"sync": 0, "length": len(self._sync), "payload": self._header}
        sent = int.from_bytes(frame[len(body) :], self._options.check_order)
        if sent != self._check(body[first[self._options.check_from] :]):
            self.refused["checksum"] += 1
            return None, start + 1
        return self._payload(body[self._header :]), end

    def _payload(self, payload: bytes) -> Sample | None:
        known = self._kinds.get(payload[: self._key_size])
        if known is None:
            return None  # a whole frame of a kind that is not asked for
        layout, readings = known
        rest = payload[self._key_size :]
        if len(rest) < layout.size:
            self.refused["length"] += 1
            return None
        if not self._wanted(layout, rest):
            return None
        values = numbers(readings, rest, self.refused)
        return self._together.add(values) if values else None

    def _wanted(self, layout: Layout, payload: bytes) -> bool:
        places = layout.places
        given = {name: value for name, value in self._only.items() if name in places}
        return all(places[name].read(payload) == value for name, value in given.items())


def make(profile: LevelProfile, options: Options) -> FramedCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field is not in the layout, or its unit does not fit.
    """
    own_sources(profile)
    if options.check == "none" and len(options.sync) < 4:
        raise BadInputError(
            f"profile {profile.kind}",
            "format.options.check",
            "a frame with one byte of sync and no check cannot be told from noise",
        )
    found: dict[bytes, tuple[Layout, list[Reading]]] = {
        key: (layout, []) for key, layout in kinds(options).items()
    }
    for field in scaled_fields(profile):
        for layout, readings in found.values():
            one = reading(profile, layout, field)
            if one is not None:
                readings.append(one)
                break
        else:
            names = [name for layout, _ in found.values() for name in layout.places]
            raise unknown_source(profile, field, ", ".join(names))
    return FramedCodec(profile, options, found)
