"""Modbus RTU replies (Modbus over Serial Line V1.02; Application Protocol V1.1b3).

The link polls each channel of the profile and hands over the raw reply on that channel; this
codec finds the reply in it. A reply is unit, function, byte count, registers, CRC (low byte
first); an exception is unit, function + 0x80, code, CRC, and is ordinary traffic.

A field's `source` is "register:type" ("0:f32", "107:i16"): an absolute register inside one
of the channels. `words` orders the bytes of 32-bit numbers.
"""

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from drivers.codecs._checks import crc16_modbus
from drivers.codecs._gather import Gather
from drivers.codecs._layout import SIZES, number
from drivers.codecs._scale import NOTHING, Scaled, own_sources, scaled_fields
from shared.errors import BadInputError
from shared.profile import Channel, LevelProfile, Table
from shared.samples import Role, Sample

WordOrder = Literal["ABCD", "CDAB", "BADC", "DCBA"]
EXCEPTIONS = {
    1: "illegal function",
    2: "illegal register",
    3: "illegal value",
    4: "device failure",
    5: "acknowledge",
    6: "busy",
    8: "memory parity",
    10: "gateway path",
    11: "gateway target",
}
_SOURCE = re.compile(r"(\d{1,5}):(u16|i16|u32|i32|f32)\Z")
_ARRANGE: dict[str, Callable[[bytes], bytes]] = {
    "ABCD": lambda raw: raw,
    "CDAB": lambda raw: raw[2:] + raw[:2],
    "BADC": lambda raw: raw[1::-1] + raw[:1:-1],
    "DCBA": lambda raw: raw[::-1],
}


class Options(Table):
    """What differs between devices."""

    words: WordOrder = "ABCD"
    """How the four bytes of a 32-bit number ABCD are sent."""


def request(channel: Channel) -> bytes:
    """Return the request that polls one channel."""
    body = bytes([channel.unit, channel.function])
    body += channel.address.to_bytes(2, "big") + channel.count.to_bytes(2, "big")
    return with_crc(body)


def with_crc(body: bytes) -> bytes:
    """Return the frame: body and CRC, low byte first."""
    return body + crc16_modbus(body).to_bytes(2, "little")


def arranged(raw: bytes, words: WordOrder) -> bytes:
    """Return the bytes of a number in big-endian order; two bytes stay as they are."""
    return _ARRANGE[words](raw) if len(raw) == 4 else raw


@dataclass(frozen=True, slots=True)
class _Register:
    field: Scaled
    offset: int
    kind: str


class _Reply:
    """What one channel expects, and the bytes of it so far."""

    def __init__(self, channel: Channel) -> None:
        self.head = bytes([channel.unit, channel.function, 2 * channel.count])
        self.exception = bytes([channel.unit, channel.function | 0x80])
        self.size = 2 * channel.count + 5
        self.buffer = b""
        self.registers: list[_Register] = []


class ModbusCodec:
    """Finds the replies in one level's polls; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, options: Options, replies: dict[int, _Reply]) -> None:
        self.refused: Counter[str] = Counter()
        self._words: WordOrder = options.words
        self._replies = replies
        self._gather = Gather(profile)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take bytes that came after the poll of `channel`."""
        reply = self._replies.get(channel)
        if reply is None:
            self.refused["channel"] += 1
            return []
        reply.buffer += data
        samples: list[Sample] = []
        position = 0
        while position < len(reply.buffer):
            step = self._at(reply, position, samples)
            if step is None:
                break
            position += step
        reply.buffer = reply.buffer[position:]
        return samples

    def reset(self) -> None:
        """Forget half replies and half gathered numbers."""
        for reply in self._replies.values():
            reply.buffer = b""
        self._gather.clear()

    def _at(self, reply: _Reply, at: int, samples: list[Sample]) -> int | None:
        """Try a frame at `at`; return how far to go on, None when more bytes are needed."""
        rest = len(reply.buffer) - at
        if reply.buffer.startswith(reply.head[:rest], at):
            if rest < reply.size:
                return None
            return self._data(reply, reply.buffer[at : at + reply.size], samples)
        if reply.buffer.startswith(reply.exception[:rest], at):
            return None if rest < 5 else self._exception(reply.buffer[at : at + 5])
        self.refused["byte"] += 1
        return 1

    def _data(self, reply: _Reply, frame: bytes, samples: list[Sample]) -> int:
        if with_crc(frame[:-2]) != frame:
            self.refused["checksum"] += 1
            return 1
        values: dict[Role, float] = {}
        for register in reply.registers:
            at = 3 + register.offset
            raw = arranged(frame[at : at + SIZES[register.kind]], self._words)
            value = register.field.value(number(raw, register.kind, "big"), register.kind)
            if isinstance(value, float):
                values[register.field.role] = value
            elif value != NOTHING:
                self.refused[value] += 1
                return len(frame)
        sample = self._gather.add(values)
        if sample is not None:
            samples.append(sample)
        return len(frame)

    def _exception(self, frame: bytes) -> int:
        if with_crc(frame[:-2]) != frame:
            self.refused["checksum"] += 1
            return 1
        name = EXCEPTIONS.get(frame[2], str(frame[2]))
        self.refused[f"exception: {name}"] += 1
        return len(frame)


def make(profile: LevelProfile, options: Options) -> ModbusCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field lies outside the polled registers, or its unit does not fit.
    """
    own_sources(profile)
    channels = {channel.number: channel for channel in profile.channels}
    replies = {number_: _Reply(channel) for number_, channel in channels.items()}
    for field in scaled_fields(profile):
        match = _SOURCE.match(field.source)
        if match is None:
            raise _bad(profile, field, 'must be "register:type" with u16, i16, u32, i32 or f32')
        register, kind = int(match[1]), match[2]
        for number_, channel in channels.items():
            end = channel.address + channel.count
            if channel.address <= register <= end - SIZES[kind] // 2:
                offset = 2 * (register - channel.address)
                replies[number_].registers.append(_Register(field, offset, kind))
                break
        else:
            raise _bad(profile, field, "is in none of the polled [[channels]]")
    return ModbusCodec(profile, options, replies)


def _bad(profile: LevelProfile, field: Scaled, problem: str) -> BadInputError:
    return BadInputError(
        f"profile {profile.kind}", f"fields.{field.role}.source", f"{field.source!r} {problem}"
    )
