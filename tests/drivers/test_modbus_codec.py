"""Modbus RTU frames. Request and reply bytes as in Modbus Application Protocol V1.1b3 examples."""

import struct

import pytest

from drivers import codecs
from drivers.codecs.modbus_rtu import arranged, request, with_crc
from shared.errors import BadInputError
from shared.profile import Channel
from shared.samples import Sample
from tests.drivers.making import angles, profile_of

# CRC low byte first; frames recomputed apart from this program.
REPLY = bytes.fromhex("01030441480000" + "6e19")


@pytest.mark.parametrize(
    ("channel", "expected"),
    [
        (Channel(unit=1, function=3, address=0, count=2), "010300000002c40b"),
        (Channel(unit=0x11, function=3, address=0x6B, count=3), "1103006b00037687"),
    ],
)
def test_requests(channel: Channel, expected: str) -> None:
    assert request(channel).hex() == expected


def test_reply() -> None:
    assert angles(codecs.make(profile_of("modbus-rtu")), REPLY) == [12.5]


@pytest.mark.parametrize(
    ("words", "raw"),
    [("ABCD", "41480000"), ("CDAB", "00004148"), ("BADC", "48410000"), ("DCBA", "00004841")],
)
def test_word_orders_of_12_5(words: str, raw: str) -> None:
    assert struct.unpack(">f", arranged(bytes.fromhex(raw), words))[0] == 12.5  # type: ignore[arg-type]
    codec = codecs.make(profile_of("modbus-rtu", format={"options": {"words": words}}))
    assert angles(codec, with_crc(bytes.fromhex("010304" + raw))) == [12.5]


def test_exceptions_are_ordinary_traffic() -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    frame = with_crc(bytes([1, 0x83, 2]))
    assert angles(codec, frame + REPLY) == [12.5]
    assert dict(codec.refused) == {"exception: illegal register": 1}


def test_a_broken_exception_is_counted_once() -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    frame = with_crc(bytes([1, 0x83, 2]))
    assert angles(codec, frame[:-1] + bytes([frame[-1] ^ 1]) + REPLY) == [12.5]
    assert dict(codec.refused) == {"checksum": 1, "byte": 4}


def test_a_reply_that_is_no_angle_is_counted_once() -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    wrong = with_crc(b"\x01\x03\x04" + struct.pack(">f", 1000.0))
    assert angles(codec, wrong + REPLY) == [12.5]
    assert dict(codec.refused) == {"out of range": 1}


def test_noise_and_half_replies() -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    assert angles(codec, b"\x00\xff", REPLY[:5], REPLY, REPLY[:3], REPLY[3:]) == [12.5, 12.5]
    assert codec.refused["byte"] >= 2


@pytest.mark.parametrize(
    ("unit", "function"),
    [(0x83, 3), (4, 4)],  # a false exception: 83 83; a false reply: 04 04 04
)
def test_a_reply_that_begins_with_the_second_byte_of_a_false_frame_is_not_lost(
    unit: int, function: int
) -> None:
    channel = {"number": 0, "unit": unit, "function": function, "address": 0, "count": 2}
    codec = codecs.make(profile_of("modbus-rtu", channels=[channel]))
    reply = with_crc(bytes([unit, function]) + bytes.fromhex("0441480000"))
    assert angles(codec, bytes([unit]) + reply) == [12.5]


def test_wrong_crc_is_refused() -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    assert angles(codec, REPLY[:-1] + b"\x00") == []
    assert codec.refused["checksum"] == 1


def test_integers_and_two_channels_gathered() -> None:
    channels = [
        {"number": 0, "unit": 1, "address": 100, "count": 2},
        {"number": 1, "unit": 1, "address": 200, "count": 1},
    ]
    fields = {"roll": {"source": "101:i16", "scale": 0.01}, "pitch": {"source": "200:u16"}}
    codec = codecs.make(
        profile_of("modbus-rtu", convention="roll-pitch", channels=channels, fields=fields)
    )
    assert codec.feed(0, with_crc(b"\x01\x03\x04\x00\x00\xff\x9c")) == []
    assert codec.feed(1, with_crc(b"\x01\x03\x02\x00\x07")) == [
        Sample({"roll": -1.0, "pitch": 7.0})
    ]
    assert codec.feed(2, REPLY) == []
    assert codec.refused["channel"] == 1


@pytest.mark.parametrize("source", ["", "0", "1:f32", "2:u16", "0:f64", "x:u16"])
def test_sources_that_cannot_be(source: str) -> None:
    with pytest.raises(BadInputError, match=r"fields\.angle\.source"):
        profile_of("modbus-rtu", fields={"angle": {"source": source}})


@pytest.mark.parametrize(
    ("code", "words"),
    [
        # Modbus Application Protocol 1.1b3, section 7, in our words
        (1, "illegal function"),
        (2, "illegal register"),
        (3, "illegal value"),
        (4, "device failure"),
        (5, "acknowledge"),
        (6, "busy"),
        (7, "7"),
        (8, "memory parity"),
        (10, "gateway path"),
        (11, "gateway target"),
    ],
)
def test_what_an_exception_means(code: int, words: str) -> None:
    codec = codecs.make(profile_of("modbus-rtu"))
    codec.feed(0, with_crc(bytes([1, 0x83, code])))
    assert dict(codec.refused) == {f"exception: {words}": 1}
