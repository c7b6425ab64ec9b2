"""Raw chunks packed for the session file."""

import zlib
from dataclasses import replace

import pytest

from daemon.session.chunks import PACKET_NS, Packet, pack, packed, unpack
from shared.inputs import NS, Bytes


def chunks(count: int, every_ns: int, first_ns: int = 0) -> list[Bytes]:
    return [Bytes("chord", 0, b"%d" % n, first_ns + n * every_ns) for n in range(count)]


def test_a_packet_holds_a_second_whenever_that_is() -> None:
    """An hour into a session too."""
    hour = 3600 * NS
    packets = list(packed(chunks(30, NS // 10, first_ns=hour)))
    assert [packet.count for packet in packets] == [10, 10, 10]
    assert all(unpack(one)[-1].t_ns - one.first_ns < PACKET_NS for one in packets)


def test_what_came_with_the_first_tick_of_the_clock_comes_back() -> None:
    given = chunks(3, 0)
    [packet] = packed(given)
    assert packet.first_ns == 0
    assert unpack(packet) == given


def crc(level: str, first_ns: int, count: int, data: bytes) -> int:
    return zlib.crc32(data, zlib.crc32(f"{level} {first_ns} {count} ".encode()))


def packet(body: bytes, count: int, first_ns: int = 0) -> Packet:
    """A packet with a right checksum, whatever is in it."""
    data = zlib.compress(body)
    return Packet("chord", first_ns, count, crc("chord", first_ns, count, data), data)


def test_a_chunk_a_second_after_the_first_is_of_the_next_packet() -> None:
    assert [one.count for one in packed(chunks(3, PACKET_NS - 1))] == [1 + 1, 1]
    assert [one.count for one in packed(chunks(3, PACKET_NS))] == [1, 1, 1]
    assert list(packed([])) == []


def test_a_packet_holds_ten_thousand_chunks_at_most() -> None:
    assert [one.count for one in packed(chunks(20_001, 1))] == [10_000, 10_000, 1]


@pytest.mark.parametrize("step", [0, 1, 0x7F, 0x80, 0x3FFF, 0x4000, 1 << 40, (1 << 62) + 1])
@pytest.mark.parametrize("size", [0, 1, 127, 128, 20_000])
def test_any_time_and_any_length_come_back(step: int, size: int) -> None:
    given = [Bytes("chord", 255, b"x" * size, 5), Bytes("chord", 0, b"y", 5 + step)]
    assert unpack(pack(given)) == given


def test_numbers_are_written_seven_bits_a_byte_the_lowest_first() -> None:
    """LEB128, as DWARF 5 has it (7.6): 2 is 02, 127 is 7F, 128 is 80 01, 12857 is B9 64."""
    for number, written in ((2, "02"), (127, "7f"), (128, "8001"), (12857, "b964")):
        body = bytes.fromhex(written) + b"\x07\x00"
        assert unpack(packet(body, 1, first_ns=3)) == [Bytes("chord", 7, b"", 3 + number)]
    one = pack([Bytes("chord", 7, b"", 5)])
    assert zlib.decompress(one.data) == b"\x00\x07\x00", "since the one before, none"


@pytest.mark.parametrize(
    ("broken", "why"),
    [
        (packet(b"\x00\x07\x00", 2), "2 chunks were written, 1 are there"),
        (packet(b"\x00\x07\x00" * 3, 2), "2 chunks were written, 3 are there"),
        (packet(b"\x00\x07", 1), "in the middle of a chunk"),
        (packet(b"\x80" * 10 + b"\x00\x00", 1), "longer than any"),
        (packet(b"", 1_000_001), "more than any second"),
        (packet(b"", -1), "more than any second"),
        (packet(b"\x00\x07\x00", 1, first_ns=1 << 63), "more than any second"),
        (packet(b"\x00\x07\x00", 1, first_ns=-1), "more than any second"),
        (replace(packet(b"\x00\x07\x00", 1), crc=1), "checksum"),
        (Packet("chord", 0, 0, crc("chord", 0, 0, b"no zlib"), b"no zlib"), "header"),
    ],
)
def test_what_was_not_written_so_is_refused_by_its_reason(broken: Packet, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        unpack(broken)


def test_a_packet_may_be_as_large_as_it_is_allowed_to_be_and_no_larger() -> None:
    one = packet(b"\x00\x07\x0a" + b"z" * 10, 1)
    assert len(unpack(one, limit=13)) == 1
    with pytest.raises(ValueError, match="larger than any second"):
        unpack(one, limit=12)
    assert len(unpack(one, most=1)) == 1
    with pytest.raises(ValueError, match="more than any second"):
        unpack(one, most=0)
    assert unpack(packet(b"", 0)) == []


def test_the_longest_number_that_is_written_is_read() -> None:
    body = b"\xff" * 9 + b"\x00" + b"\x07\x00"
    assert unpack(packet(body, 1)) == [Bytes("chord", 7, b"", (1 << 63) - 1)]
