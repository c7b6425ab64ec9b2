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


def test_a_frame_that_begins_just_behind_a_false_sync_of_one_byte_is_not_lost() -> None:
    codec = codec_of(sync="aa")
    assert angles(codec, b"\xaa" + summed(1234)[1:].replace(b"\x55", b"\xaa", 1)) == [12.34]


def test_half_a_frame_from_before_a_break_is_not_put_together_with_what_comes_after() -> None:
    codec = codec_of()
    assert angles(codec, summed(1234)[:4]) == []
    codec.reset()
    assert angles(codec, summed(1234)[4:], summed(-5)) == [-0.05]


@pytest.mark.parametrize("name", ["xor8", "sum8-negative", "crc8-smbus", "crc16-xmodem"])
@pytest.mark.parametrize("start", ["sync", "length", "payload"])
def test_checks_cover_what_the_options_say(name: str, start: str) -> None:
    codec = codec_of(check=name, check_from=start, check_order="big", length="u8")
    size, function = check(name)
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
        {"layout": "angle:i16 pad:0"},
        {"layout": "angle:i16 pad:1025"},
        {"layout": "angle:i16 pad:x"},
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


KINDS = {
    "sync": "55",
    "layouts": {"51": "ax:i16 ay:i16 az:i16", "53": "roll:i16 pitch:i16 t:i16"},
    "check": "sum8",
    "check_from": "sync",
}
ROLL_PITCH = {
    "roll": {"source": "roll", "scale": 180 / 32768},
    "pitch": {"source": "pitch", "scale": 180 / 32768},
    "temperature": {"source": "t", "scale": 0.01, "unit": "degC"},
}


def kind_frame(kind: int, *numbers: int) -> bytes:
    body = bytes([0x55, kind]) + struct.pack(f"<{len(numbers)}h", *numbers)
    return body + bytes([sum(body) & 0xFF])


def test_kinds_of_frame_are_told_by_what_the_payload_begins_with() -> None:
    codec = bare_codec("framed-binary", KINDS, ROLL_PITCH, convention="roll-pitch")
    data = kind_frame(0x51, 1, 2, 3) + kind_frame(0x53, 8192, -16384, 2150) + kind_frame(0x52, 7)
    assert codec.feed(0, data) == [Sample({"roll": 45.0, "pitch": -90.0, "temperature": 21.5})]
    assert set(codec.refused) <= {"kind"}, "no layout names 52"


def test_axes_in_frames_of_their_own_are_put_together() -> None:
    options = KINDS | {
        "layouts": {"01": "r:i16", "02": "p:i16", "03": "t:i16"},
        "gather": ["roll", "pitch"],
    }
    fields = {
        "roll": {"source": "r", "scale": 0.01},
        "pitch": {"source": "p", "scale": 0.01},
        "temperature": {"source": "t", "scale": 0.1, "unit": "degC"},
    }
    codec = bare_codec("framed-binary", options, fields, convention="roll-pitch")
    data = [kind_frame(1, 100), kind_frame(3, 215), kind_frame(2, 200), kind_frame(2, 300)]
    assert codec.feed(0, b"".join(data)) == [
        Sample({"temperature": 21.5}),
        Sample({"roll": 1.0, "pitch": 2.0}),
    ]
    assert dict(codec.refused) == {"incomplete": 1}
    codec.feed(0, kind_frame(1, 500))
    codec.reset()
    assert codec.feed(0, kind_frame(2, 600)) == []


@pytest.mark.parametrize(
    ("kind", "raw", "scale", "reason"),
    [
        ("i16", 32767, 1.0, "no angle"),
        ("i16", 32767, 0.01, "no angle"),
        ("i16", -32768, 0.001, "no angle"),
        ("u16", 65535, 1.0, "no angle"),
        ("u16", 65535, 0.005, "no angle"),
        ("u16", 65535, 360 / 65536, ""),
        (
            "u16",
            65535,
            0.996 * 360 / 65536,
            "",
        ),  # still meant as a whole turn: within half a percent
        ("u16", 65535, 0.994 * 360 / 65536, "no angle"),
        ("i16", -32768, 180 / 32768, ""),
        ("u16", 40000, 0.01, "out of range"),
        ("u16", 36000, 0.01, ""),
        ("i32", 32767, 0.001, ""),
        ("u8", 255, 1.0, "no angle"),
        ("u8", 0, 1.0, ""),
        ("f32", 1e30, 1.0, "out of range"),
    ],
)
def test_what_stands_for_no_angle_is_refused_before_it_wraps(
    kind: str, raw: float, scale: float, reason: str
) -> None:
    codec = codec_of({"angle": {"source": "angle", "scale": scale}}, layout=f"angle:{kind}")
    code = {"i16": "h", "u16": "H", "i32": "i", "u8": "B", "f32": "f"}[kind]
    body = struct.pack(f"<{code}", raw)
    found = codec.feed(0, b"\xaa\x55" + body + bytes([sum(body) & 0xFF]))
    assert len(found) == (not reason)
    assert dict(codec.refused) == ({reason: 1} if reason else {})


def test_a_value_that_means_nothing_beside_the_angle_does_no_harm() -> None:
    fields = FIELDS | {"temperature": {"source": "t", "unit": "degC", "none": [-128]}}
    codec = codec_of(fields, layout="angle:i16 t:i8")
    body = struct.pack("<hb", 100, -128)
    assert codec.feed(0, b"\xaa\x55" + body + bytes([sum(body) & 0xFF])) == [Sample({"angle": 1.0})]


@pytest.mark.parametrize("sign", [1, -1])
def test_an_axis_that_shows_more_than_gravity_has_no_angle(sign: int) -> None:
    field = {"angle": {"source": "angle", "scale": 0.001, "unit": "g"}}
    codec = bare_codec("framed-binary", PLAIN, field, convention="projection")
    assert angles(codec, summed(sign * 500), summed(sign * 1000), summed(sign * 1200)) == (
        pytest.approx([sign * 30.0, sign * 90.0])
    )
    assert dict(codec.refused) == {"number": 1}


def test_an_offset_may_carry_an_angle_out_of_its_turn() -> None:
    fields = {"angle": {"source": "angle", "scale": 0.01, "offset": -270.0}}
    codec = codec_of(fields)
    assert angles(codec, summed(100)) == [-269.0]


@pytest.mark.parametrize(
    "options",
    [
        {"layouts": {"01": "angle:i16"}},
        {"layout": ""},
        {"layout": "", "layouts": {"01": "angle:i16", "0102": "b:i16"}},
        {"layout": "", "layouts": {"": "angle:i16"}},
        {"layout": "", "layouts": {"xy": "angle:i16"}},
        {"layout": "", "layouts": {"0a": "angle:i16", "0A": "b:i16"}},
        {"layout": "", "layouts": {"01": "angle:i17"}},
        {"gather": ["angle", "angle"]},
    ],
)
def test_layouts_that_cannot_be(options: dict[str, Any]) -> None:
    with pytest.raises(BadInputError):
        codec_of(**options)


@pytest.mark.parametrize("count", [1, 100])
def test_as_much_padding_as_may_be(count: int) -> None:
    codec = codec_of(layout=f"angle:i16 pad:{count}", sync="aa55", check="none")
    assert len(codec.feed(0, b"\xaa\x55\x10\x00" + bytes(count))) == 1
