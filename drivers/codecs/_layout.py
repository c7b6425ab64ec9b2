"""Layouts of binary messages: "angle:i16 pad:2 temperature:i16 flags:u8".

Types: u8 i8 u16 i16 u24 i24 u32 i32 f32 f64; `pad:n` skips n bytes. A field's `source` in
the profile is a name of the layout (empty: the role's own name), or `name.3` for bit 3.
"""

import re
import struct
from collections import Counter
from dataclasses import dataclass
from typing import Literal

from drivers.codecs._scale import NOTHING, Scaled
from shared.errors import BadInputError
from shared.profile import LevelProfile
from shared.samples import Role

Order = Literal["little", "big"]
SIZES = {"u8": 1, "i8": 1, "u16": 2, "i16": 2, "u24": 3, "i24": 3, "u32": 4, "i32": 4} | {
    "f32": 4,
    "f64": 8,
}
_FLOATS = {"f32": "f", "f64": "d"}
_PART = re.compile(r"([a-z][a-z0-9_]*):([a-z0-9]+)\Z")


@dataclass(frozen=True, slots=True)
class Place:
    """Where one number lies in a message."""

    offset: int
    kind: str
    order: Order

    def read(self, data: bytes) -> float:
        """Return the number; floats may be NaN. `data` must be long enough."""
        raw = data[self.offset : self.offset + SIZES[self.kind]]
        return number(raw, self.kind, self.order)


def number(raw: bytes, kind: str, order: Order) -> float:
    """Read one number of exactly the kind's size."""
    code = _FLOATS.get(kind)
    if code is None:
        return float(int.from_bytes(raw, order, signed=kind[0] == "i"))
    value: float = struct.unpack(("<" if order == "little" else ">") + code, raw)[0]
    return value


@dataclass(frozen=True, slots=True)
class Layout:
    """A parsed layout: the size of a message in bytes and its named places."""

    size: int
    places: dict[str, Place]


def parse_layout(text: str, order: Order) -> Layout:
    """Parse a layout.

    Raises:
        ValueError: a part is not name:type, an unknown type, a name twice.
    """
    offset = 0
    places: dict[str, Place] = {}
    for part in text.split():
        match = _PART.match(part)
        if match is None:
            raise ValueError(f"{part!r} is not name:type")
        name, kind = match.groups()
        if name == "pad":
            offset += _pad(kind)
            continue
        if kind not in SIZES:
            raise ValueError(f"{part!r}: the type must be one of {', '.join(SIZES)}")
        if name in places:
            raise ValueError(f"{name!r} is there twice")
        places[name] = Place(offset, kind, order)
        offset += SIZES[kind]
    if not places or offset > 1024:
        raise ValueError("a layout names at least one number and at most 1024 bytes")
    return Layout(offset, places)


def _pad(count: str) -> int:
    if not count.isdecimal() or not 1 <= int(count) <= 1024:
        raise ValueError(f"pad:{count} must be a number of bytes")
    return int(count)


@dataclass(frozen=True, slots=True)
class Reading:
    """One role's number in a message: its place, which bit of it, and its scale."""

    field: Scaled
    place: Place
    bit: int | None

    def value(self, data: bytes) -> float | str:
        """Return the role's number, or in a word why there is none."""
        raw = self.place.read(data)
        if self.bit is None:
            return self.field.value(raw, self.place.kind)
        return self.field.value(float(int(raw) >> self.bit & 1))


def numbers(
    readings: list[Reading], data: bytes, refused: Counter[str]
) -> dict[Role, float] | None:
    """Return all numbers of a message by role; None when one of them is refused, and counted."""
    values: dict[Role, float] = {}
    for one in readings:
        value = one.value(data)
        if isinstance(value, float):
            values[one.field.role] = value
        elif value != NOTHING:
            refused[value] += 1
            return None
    return values


def reading(profile: LevelProfile, layout: Layout, field: Scaled) -> Reading | None:
    """Return how to read a field from a layout; None when the layout does not name it.

    Raises:
        BadInputError: a bit is asked of something that has no such bit.
    """
    name, _, bit = (field.source or field.role).partition(".")
    place = layout.places.get(name)
    if place is None:
        return None
    if not bit:
        return Reading(field, place, None)
    if not bit.isdecimal() or place.kind in _FLOATS or int(bit) >= 8 * SIZES[place.kind]:
        raise BadInputError(
            f"profile {profile.kind}",
            f"fields.{field.role}.source",
            f"{field.source!r}: no such bit",
        )
    return Reading(field, place, int(bit))


def unknown_source(profile: LevelProfile, field: Scaled, known: str) -> BadInputError:
    """Return the error of a field that no layout names."""
    return BadInputError(
        f"profile {profile.kind}",
        f"fields.{field.role}.source",
        f"{field.source or field.role!r} is not in the layout",
        f"one of {known}",
    )
