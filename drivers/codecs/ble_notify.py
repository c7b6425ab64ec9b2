"""Notifications of a Bluetooth LE characteristic: each one is a struct, or several.

A chunk is one notification, exactly as the radio delivered it. `layouts` names the layout
of every channel of the profile: `{ "0" = "angle:i16 temperature:i16", "1" = "battery:u8" }`.
"""

from collections import Counter
from typing import Literal

from pydantic import model_validator

from drivers.codecs._gather import Gather
from drivers.codecs._layout import (
    Layout,
    Order,
    Reading,
    numbers,
    parse_layout,
    reading,
    unknown_source,
)
from drivers.codecs._scale import scaled_fields
from shared.profile import LevelProfile, Table
from shared.samples import Sample


class Options(Table):
    """The shape of the notifications."""

    layouts: dict[str, str]
    """Layout by channel number: its numbers in order, each name:type; `pad:n` skips n bytes."""
    order: Order = "little"
    """Byte order of the numbers."""
    size: Literal["exact", "at least", "repeated"] = "exact"
    """Of a notification: exactly the layout, with a tail to ignore, or several in a row."""

    @model_validator(mode="after")
    def _parses(self) -> "Options":
        for channel, text in self.layouts.items():
            if not channel.isdecimal():
                raise ValueError(f"layouts.{channel}: the key is a channel number")
            parse_layout(text, self.order)
        return self


class NotifyCodec:
    """Reads one level's notifications; see `shared.samples.Codec`."""

    def __init__(
        self,
        profile: LevelProfile,
        options: Options,
        channels: dict[int, tuple[Layout, list[Reading]]],
    ) -> None:
        self.refused: Counter[str] = Counter()
        self._size = options.size
        self._channels = channels
        self._gather = Gather(profile)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one notification."""
        known = self._channels.get(channel)
        if known is None:
            self.refused["channel"] += 1
            return []
        layout, readings = known
        if not self._fits(len(data), layout.size):
            self.refused["length"] += 1
            return []
        count = len(data) // layout.size if self._size == "repeated" else 1
        parts = (data[i * layout.size : (i + 1) * layout.size] for i in range(count))
        samples = (self._one(part, readings) for part in parts)
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget what was half gathered over several channels."""
        self._gather.clear()

    def _fits(self, length: int, size: int) -> bool:
        if self._size == "repeated":
            return length > 0 and length % size == 0
        return length == size or (self._size == "at least" and length > size)

    def _one(self, part: bytes, readings: list[Reading]) -> Sample | None:
        values = numbers(readings, part, self.refused)
        return None if values is None else self._gather.add(values)


def make(profile: LevelProfile, options: Options) -> NotifyCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field is in no layout, or its unit does not fit.
    """
    layouts = {int(key): parse_layout(text, options.order) for key, text in options.layouts.items()}
    channels: dict[int, tuple[Layout, list[Reading]]] = {
        number: (layout, []) for number, layout in layouts.items()
    }
    for field in scaled_fields(profile):
        found = False
        for layout, readings in channels.values():
            one = None if found else reading(profile, layout, field)
            if one is not None:
                readings.append(one)
                found = True
        if not found:
            names = ", ".join(name for layout in layouts.values() for name in layout.places)
            raise unknown_source(profile, field, names)
    return NotifyCodec(profile, options, channels)
