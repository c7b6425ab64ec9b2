"""Raw chunks packed for the session file: compressed, with a checksum.

One packet holds the chunks of one level over a second or less: per chunk the time since the
one before (LEB128 varint), the channel, the length (varint) and the bytes; all of it zlib.
"""

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from shared.inputs import NS, Bytes

UNPACKED_LIMIT = 16 * 1024 * 1024
"""No second of any level is larger; a bigger packet is damage or an attack."""
MOST_CHUNKS = 1_000_000
"""No packet holds more; those written today hold at most PACKET_CHUNKS."""
PACKET_CHUNKS = 10_000
PACKET_NS = NS


@dataclass(frozen=True, slots=True)
class Packet:
    """Consecutive chunks of one level."""

    level: str
    first_ns: int
    count: int
    crc: int
    data: bytes


def packed(chunks: Sequence[Bytes]) -> Iterator[Packet]:
    """Pack chunks of one level, in order of time, into packets of a second or less."""
    waiting: list[Bytes] = []
    for chunk in chunks:
        late = bool(waiting) and chunk.t_ns - waiting[0].t_ns >= PACKET_NS
        if late or len(waiting) == PACKET_CHUNKS:
            yield pack(waiting)
            waiting = []
        waiting.append(chunk)
    if waiting:
        yield pack(waiting)


def pack(chunks: Sequence[Bytes]) -> Packet:
    """Pack chunks of one level, in order of time; at least one."""
    first = chunks[0]
    body = bytearray()
    last_ns = first.t_ns
    for chunk in chunks:
        _put_varint(body, chunk.t_ns - last_ns)
        body.append(chunk.channel)
        _put_varint(body, len(chunk.data))
        body += chunk.data
        last_ns = chunk.t_ns
    data = zlib.compress(bytes(body), 6)
    return Packet(
        first.level, first.t_ns, len(chunks), _crc(first.level, first.t_ns, len(chunks), data), data
    )


def unpack(packet: Packet, limit: int = UNPACKED_LIMIT, most: int = MOST_CHUNKS) -> list[Bytes]:
    """Return the chunks of a packet.

    limit: bytes it may come to. most: chunks it may come to.

    Raises:
        ValueError: the checksum, the size or the content is not what was written.
    """
    if not (0 <= packet.count <= most and 0 <= packet.first_ns < 1 << 63):
        raise ValueError(f"{packet.count} chunks are more than any second of a level")
    if packet.crc != _crc(packet.level, packet.first_ns, packet.count, packet.data):
        raise ValueError("checksum differs")
    inflate = zlib.decompressobj()
    try:
        body = inflate.decompress(packet.data, max(1, limit))
    except zlib.error as error:
        raise ValueError(str(error)) from error
    if inflate.unconsumed_tail:
        raise ValueError("a packet larger than any second of a level")
    try:
        # one more than were written, so that more are noticed without unpacking them all
        chunks = list(islice(_chunks(packet.level, packet.first_ns, body), packet.count + 1))
    except IndexError as error:
        raise ValueError("it ends in the middle of a chunk") from error
    if len(chunks) != packet.count:
        raise ValueError(f"{packet.count} chunks were written, {len(chunks)} are there")
    return chunks


def _chunks(level: str, t_ns: int, body: bytes) -> Iterator[Bytes]:
    at = 0
    while at < len(body):
        step, at = _varint(body, at)
        t_ns += step
        channel = body[at]
        length, at = _varint(body, at + 1)
        yield Bytes(level, channel, body[at : at + length], t_ns)
        at += length


def _crc(level: str, first_ns: int, count: int, data: bytes) -> int:
    return zlib.crc32(data, zlib.crc32(f"{level} {first_ns} {count} ".encode()))


def _put_varint(body: bytearray, value: int) -> None:
    while value > 0x7F:
        body.append(value & 0x7F | 0x80)
        value >>= 7
    body.append(value)


def _varint(body: bytes, at: int) -> tuple[int, int]:
    value = shift = 0
    while True:
        byte = body[at]
        value |= (byte & 0x7F) << shift
        at += 1
        if not byte & 0x80:
            return value, at
        shift += 7
        if shift > 63:
            raise ValueError("a number longer than any that is written")
