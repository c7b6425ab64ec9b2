"""BTHome v2 advertisements (open format, bthome.io/format), not encrypted.

A chunk is the service data of one advertisement (UUID FCD2): device information, then
objects of an id and a value, little-endian, in ascending order of id. The length of an
object follows from its id, so an unknown id ends what can be read of the packet.

A field's `source` is an object's name ("rotation", "temperature", "battery",
"acceleration", "button", "packet id"), with "#2" for the second of the same name; empty:
rotation for an angle, else the role's own name.
"""

from collections import Counter
from dataclasses import dataclass

from drivers.codecs._scale import (
    NOTHING,
    Scaled,
    complete,
    needed_roles,
    own_sources,
    scaled_fields,
)
from shared.errors import BadInputError
from shared.profile import LevelProfile, Table
from shared.samples import Sample


@dataclass(frozen=True, slots=True)
class Kind:
    """A number that a level may send: size in bytes, signed or not, and its unit step."""

    name: str
    size: int
    signed: bool = False
    factor: float = 1.0


KINDS: dict[int, Kind] = {
    0x00: Kind("packet id", 1),
    0x01: Kind("battery", 1),
    0x02: Kind("temperature", 2, signed=True, factor=0.01),
    0x3A: Kind("button", 1),
    0x3F: Kind("rotation", 2, signed=True, factor=0.1),
    0x45: Kind("temperature", 2, signed=True, factor=0.1),
    0x51: Kind("acceleration", 2, factor=0.001),
    0x57: Kind("temperature", 1, signed=True),
    0x58: Kind("temperature", 1, signed=True, factor=0.35),
    0x5E: Kind("direction", 2, factor=0.01),
    0x63: Kind("acceleration", 4, signed=True, factor=0.000001),
}
"""What is read; units: percent, degrees Celsius, degrees, m/s2."""

_ONE = (
    *(0x00, 0x01, 0x09, 0x0F, 0x10, 0x11, *range(0x15, 0x30), 0x3A, 0x46),
    *(0x57, 0x58, 0x59, 0x60, 0x64, 0x65),
)
_TWO = (
    *(0x02, 0x03, 0x06, 0x07, 0x08, 0x0C, 0x0D, 0x0E, 0x12, 0x13, 0x14, 0x3C, 0x3D, 0x3F),
    *(0x40, 0x41, 0x43, 0x44, 0x45, 0x47, 0x48, 0x49, 0x4A, 0x51, 0x52, 0x56, 0x5A, 0x5D),
    *(0x5E, 0x5F, 0x61, 0xF0),
)
_THREE = (0x04, 0x05, 0x0A, 0x0B, 0x42, 0x4B, 0xF2)
_FOUR = (0x3E, 0x4C, 0x4D, 0x4E, 0x4F, 0x50, 0x55, 0x5B, 0x5C, 0x62, 0x63, 0xF1)
SIZES: dict[int, int] = (
    dict.fromkeys(_ONE, 1)
    | dict.fromkeys(_TWO, 2)
    | dict.fromkeys(_THREE, 3)
    | dict.fromkeys(_FOUR, 4)
)
"""Bytes of every object's value, by id; what is not here cannot even be skipped."""
_COUNTED = frozenset({0x53, 0x54})
"""Text and raw: one byte of length, then that many bytes."""

_ENCRYPTED = 0x01
_ADDRESS = 0x02
_VERSION = 2


class Options(Table):
    """BTHome leaves nothing open."""


class BthomeCodec:
    """Reads one level's advertisements; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, fields: list[tuple[Scaled, str, int]]) -> None:
        self.refused: Counter[str] = Counter()
        self._fields = fields
        self._needed = needed_roles(profile)
        self._packet: float | None = None

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take the service data of one advertisement."""
        del channel
        problem = _envelope(data)
        if problem:
            self.refused[problem] += 1
            return []
        numbers, problem = _objects(data[7:] if data[0] & _ADDRESS else data[1:])
        if problem:
            self.refused[problem] += 1
        if self._repeated(numbers):
            self.refused["repeated packet"] += 1
            return []
        return self._sample(numbers)

    def reset(self) -> None:
        """Forget the last packet id."""
        self._packet = None

    def _repeated(self, numbers: dict[str, list[float]]) -> bool:
        """Tell whether the packet came before: radios send every packet several times."""
        packet = numbers.get("packet id", [None])[0]
        repeated = packet is not None and packet == self._packet
        self._packet = packet
        return repeated

    def _sample(self, numbers: dict[str, list[float]]) -> list[Sample]:
        values: dict[str, float] = {}
        for field, name, index in self._fields:
            raw = numbers.get(name, [])
            value = field.value(raw[index]) if index < len(raw) else NOTHING
            if isinstance(value, float):
                values[field.role] = value
            elif value != NOTHING:
                self.refused[value] += 1
                return []
        if not complete(values, self._needed):
            self.refused["incomplete"] += 1
            return []
        return [Sample(values)] if values else []


def _envelope(data: bytes) -> str:
    """Return what is wrong with the packet as a whole, or ""."""
    if not data:
        return "empty"
    if data[0] >> 5 != _VERSION:
        return "version"
    if data[0] & _ENCRYPTED:
        return "encrypted"
    return "empty" if len(data) <= (7 if data[0] & _ADDRESS else 1) else ""


def _objects(data: bytes) -> tuple[dict[str, list[float]], str]:
    """Return the numbers by name, and what stopped the reading, or ""."""
    numbers: dict[str, list[float]] = {}
    at = 0
    while at < len(data):
        identity = data[at]
        start = at + 1
        if identity in _COUNTED:
            size = data[start] if start < len(data) else 0
            start += 1
        elif identity in SIZES:
            size = SIZES[identity]
        else:
            return numbers, "unknown object"
        at = start + size
        if at > len(data):
            return numbers, "length"
        kind = KINDS.get(identity)
        if kind is not None:
            raw = int.from_bytes(data[start:at], "little", signed=kind.signed)
            numbers.setdefault(kind.name, []).append(raw * kind.factor)
    return numbers, ""


def make(profile: LevelProfile, options: Options) -> BthomeCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field's source is no object's name, or its unit does not fit.
    """
    del options
    own_sources(profile)
    names = {kind.name for kind in KINDS.values()}
    fields = []
    for field in scaled_fields(profile):
        source = field.source or ("rotation" if field.role == "angle" else field.role)
        name, _, place = source.partition("#")
        if name not in names or (place and (not place.isdecimal() or int(place) < 1)):
            raise BadInputError(
                f"profile {profile.kind}",
                f"fields.{field.role}.source",
                f"{source!r} is no object",
                f'one of {", ".join(sorted(names))}, or with "#2"',
            )
        fields.append((field, name, int(place or 1) - 1))
    return BthomeCodec(profile, fields)
