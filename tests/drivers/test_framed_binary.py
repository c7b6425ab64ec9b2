"""Framed binary messages: every length, every check, and a search that loses nothing."""

import struct
import zlib
from typing import Any

import pytest

from drivers.codecs._checks import check
from shared.errors import BadInputError
from shared.samples import Codec, Sample
from tests.drivers.making import angles, bare_codec

FIELDS = {"angle": {"source": "angle", "scale": 0.01}}
PLAIN = {"sync": "aa55", "layout": "angle:i16", "check": "sum8"}


def codec_of(fields: dict[str, Any] | None = None, **options: Any) -> Codec:
    return bare_codec("framed-binary", PLAIN | options, fields or FIELDS)


def summed(angle: int) -> bytes:
    payload = struct.pack("<h", angle)
    return b"\xaa\x55" + payload + bytes([sum(payload) & 0xFF])


def test_two_frames_and_noise() -> None:
    codec = codec_of()
    assert angles(codec, b"\x00\xaa" + summed(1234) + b"\x55\xaa\xaa" + summed(-5)) == [
        12.34,
        -0.05,
    ]
    assert not codec.refused


def test_a_sync_inside_a_payload_is_not_lost() -> None:
    codec = codec_of()
    payload = b"\xaa\x55"
    frame = b"\xaa\x55" + payload + bytes([sum(payload) & 0xFF])
    assert angles(codec, frame) == [struct.unpack("<h", payload)[0] / 100]
    # Cut the first frame short: the search must find the whole one that begins inside.
    assert angles(codec, frame[:3] + summed(100)) == [1.0]


@pytest.mark.parametrize("name", ["xor8", "sum8-negative", "crc8-smbus", "crc16-xmodem"])
@pytest.mark.parametrize("start", ["sync", "length", "payload"])
def test_checks_cover_what_the_options_say(name: str, start: str) -> None:
    codec = codec_of(check=name, check_from=start, check_order="big", length="u8")
    size, function = check(name)  # type: ignore[arg-type]
    body = b"\xaa\x55\x02" + struct.pack("<h", 1500)
    covered = body[{"sync": 0, "length": 2, "payload": 3}[start] :]
    frame = body + function(covered).to_bytes(size, "big")
    assert angles(codec, frame) == [15.0]
    wrong = frame[:-1] + bytes([frame[-1] ^ 1])
    assert angles(codec, wrong) == []
    assert codec.refused["checksum"] == 1


@pytest.mark.parametrize(
    ("counts", "length"), [("payload", 2), ("payload+check", 6), ("frame", 10)]
)
def test_what_a_length_counts(counts: str, length: int) -> None:
    codec = codec_of(check="crc32", length="u16", length_counts=counts, length_order="big")
    payload = struct.pack("<h", 250)
    frame = b"\xaa\x55" + length.to_bytes(2, "big") + payload
    assert angles(codec, frame + zlib.crc32(payload).to_bytes(4, "little")) == [2.5]


def test_incredible_length_is_noise() -> None:
    codec = codec_of(length="u16", longest=64)
    assert angles(codec, b"\xaa\x55\xff\xff" + b"\xaa\x55\x02\x00" + summed(300)[2:]) == [3.0]
    assert dict(codec.refused) == {"length": 1}


def test_types_bits_and_other_messages() -> None:
    fields = {
        "angle": {"source": "angle", "scale": 0.001},
        "temperature": {"source": "t", "unit": "degC"},
        "button": {"source": "flags.3", "unit": "1"},
    }
    codec = codec_of(fields, layout="kind:u8 angle:i24 pad:1 t:f32 flags:u8", order="big",
                     only={"kind": "0x07"})  # fmt: skip
    payload = b"\x07" + (-12345).to_bytes(3, "big", signed=True) + b"\0" + struct.pack(">f", 21.5)
    for kind, flags, expected in [(7, 8, 1.0), (7, 4, 0.0), (6, 8, None)]:
        body = bytes([kind]) + payload[1:] + bytes([flags])
        found = codec.feed(0, b"\xaa\x55" + body + bytes([sum(body) & 0xFF]))
        wanted = {"angle": -12.345, "temperature": 21.5, "button": expected}
        assert found == ([Sample(wanted)] if expected is not None else [])  # type: ignore[arg-type]
    assert not codec.refused


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_floats_that_are_no_numbers(value: float) -> None:
    codec = codec_of(layout="angle:f32")
    body = struct.pack("<f", value)
    assert codec.feed(0, b"\xaa\x55" + body + bytes([sum(body) & 0xFF])) == []
    assert dict(codec.refused) == {"number": 1}


@pytest.mark.parametrize(
    "options",
    [
        {"sync": "a"},
        {"sync": ""},
        {"layout": "angle"},
        {"layout": "angle:i17"},
        {"layout": "angle:i16 angle:i16"},
        {"layout": "pad:3"},
        {"layout": "other:i16"},
        {"check": "crc99"},
        {"only": {"kind": "1"}},
        {"only": {"angle": "one"}},
        {"sync": "aa", "check": "none"},
        {"length": "u32"},
    ],
)
def test_options_that_cannot_be(options: dict[str, Any]) -> None:
    with pytest.raises(BadInputError):
        codec_of(**options)


@pytest.mark.parametrize("source", ["angle.16", "angle.x", "angle.-1"])
def test_no_such_bit(source: str) -> None:
    with pytest.raises(BadInputError, match="bit"):
        codec_of({"angle": {"source": source}})
