"""Framed binary messages: sync | length | payload | check, each part as the options say.

A frame whose length or check is wrong costs one byte: the search for the next sync goes on
inside it, so a false sync in the payload never swallows a good frame.
"""

from collections import Counter
from typing import Annotated, Literal

from pydantic import Field, model_validator

from drivers.codecs._checks import CheckName, check
from drivers.codecs._layout import Order, Reading, parse_layout, reading, unknown_source
from drivers.codecs._scale import scaled_fields
from shared.errors import BadInputError
from shared.model import Written
from shared.profile import LevelProfile
from shared.samples import Sample

_LENGTH_SIZE = {"none": 0, "u8": 1, "u16": 2}


class Options(Written):
    """The shape of a frame."""

    sync: Annotated[str, Field(pattern=r"^([0-9a-fA-F]{2}){1,8}$")]
    """Bytes that begin a frame, in hexadecimal."""
    layout: str
    """Of the payload; see `drivers.codecs._layout`."""
    order: Order = "little"
    """Byte order of the payload's numbers."""
    length: Literal["none", "u8", "u16"] = "none"
    """A length after the sync. none: the payload is as long as its layout."""
    length_counts: Literal["payload", "payload+check", "frame"] = "payload"
    length_order: Order = "little"
    longest: Annotated[int, Field(ge=1, le=4096)] = 256
    """Longest credible payload in bytes: a larger length is noise."""
    check: CheckName
    check_from: Literal["sync", "length", "payload"] = "payload"
    """First byte the check covers; it always ends with the payload."""
    check_order: Order = "little"
    only: Annotated[dict[str, str], Field(default_factory=dict)]
    """Numbers that must have these values, by layout name; other frames are someone else's."""

    @model_validator(mode="after")
    def _consistent(self) -> "Options":
        layout = parse_layout(self.layout, self.order)
        for name, value in self.only.items():
            if name not in layout.places:
                raise ValueError(f"only.{name} is not in the layout")
            int(value, 0)
        return self


class FramedCodec:
    """Reads one level's byte stream; see `shared.samples.Codec`."""

    def __init__(self, options: Options, readings: list[Reading]) -> None:
        self.refused: Counter[str] = Counter()
        self._options = options
        self._readings = readings
        self._layout = parse_layout(options.layout, options.order)
        self._only = {name: int(value, 0) for name, value in options.only.items()}
        self._sync = bytes.fromhex(options.sync)
        self._length_size = _LENGTH_SIZE[options.length]
        self._header = len(self._sync) + self._length_size
        self._check_size, self._check = check(options.check)
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
        """Forget the half-received frame."""
        self._buffer = b""

    def _keep(self, start: int, position: int) -> None:
        """Keep an unfinished frame, or what may be the beginning of a sync."""
        if start < 0:
            start = max(position, len(self._buffer) - len(self._sync) + 1)
        self._buffer = self._buffer[start:]

    def _frame_end(self, start: int) -> int | None:
        """Return the index after the frame at `start`, `start` if impossible, None if unfinished."""
        size = self._layout.size
        if self._length_size:
            at = start + len(self._sync)
            raw = self._buffer[at : at + self._length_size]
            if len(raw) < self._length_size:
                return None
            size = self._payload_size(int.from_bytes(raw, self._options.length_order))
            if not 0 <= size <= self._options.longest:
                return start
        end = start + self._header + size + self._check_size
        return end if end <= len(self._buffer) else None

    def _payload_size(self, length: int) -> int:
        counts = self._options.length_counts
        if counts == "payload":
            return length
        return length - self._check_size - (self._header if counts == "frame" else 0)

    def _frame(self, start: int, end: int) -> tuple[Sample | None, int]:
        """Return the sample of the frame and where to search on."""
        if end == start:
            self.refused["length"] += 1
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
        if len(payload) < self._layout.size:
            self.refused["length"] += 1
            return None
        places = self._layout.places
        if any(places[name].read(payload) != value for name, value in self._only.items()):
            return None
        values: dict[str, float] = {}
        for one in self._readings:
            value = one.value(payload)
            if value is None:
                self.refused["number"] += 1
                return None
            values[one.field.role] = value
        return Sample(values)


def make(profile: LevelProfile, options: Options) -> FramedCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field is not in the layout, or its unit does not fit.
    """
    layout = parse_layout(options.layout, options.order)
    if options.check == "none" and len(options.sync) < 4:
        raise BadInputError(
            f"profile {profile.kind}",
            "format.options.check",
            "a frame with one byte of sync and no check cannot be told from noise",
        )
    readings = []
    for field in scaled_fields(profile):
        one = reading(profile, layout, field)
        if one is None:
            raise unknown_source(profile, field, ", ".join(layout.places))
        readings.append(one)
    return FramedCodec(options, readings)
