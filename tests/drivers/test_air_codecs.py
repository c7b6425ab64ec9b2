"""Notifications, advertisements and what comes beside them."""

import struct
from typing import Any

import pytest

from drivers import codecs
from drivers.codecs.bthome import KINDS, SIZES
from shared.errors import BadInputError
from shared.samples import Codec, Sample
from tests.drivers.making import angles, bare_codec, profile_of


def notify(options: dict[str, Any], **tables: Any) -> Codec:
    return codecs.make(profile_of("ble-notify", format={"options": options}, **tables))


def test_notification() -> None:
    codec = notify({})
    assert codec.feed(0, struct.pack("<Hh", 7, -1234)) == [
        Sample({"angle": -12.34, "sequence": 7.0})
    ]


@pytest.mark.parametrize(
    ("size", "count", "good"),
    [("exact", 1, True), ("exact", 2, False), ("at least", 2, True), ("repeated", 3, True)],
)
def test_sizes(size: str, count: int, good: bool) -> None:
    codec = notify({"size": size})
    found = codec.feed(0, struct.pack("<Hh", 1, 100) * count)
    assert len(found) == (count if size == "repeated" else int(good))
    assert codec.feed(0, b"\x01") == []
    assert codec.refused["length"] == 2 - int(good)


def test_empty_notification_and_unknown_channel() -> None:
    codec = notify({"size": "repeated"})
    assert codec.feed(0, b"") == []
    assert codec.feed(9, b"\0\0\0\0") == []
    assert dict(codec.refused) == {"length": 1, "channel": 1}


def test_axes_on_characteristics_of_their_own() -> None:
    codec = bare_codec(
        "ble-notify",
        {"layouts": {"0": "x:i16", "1": "y:i16", "2": "z:i16"}},
        {axis: {"source": axis[1], "scale": 0.001, "unit": "g"} for axis in ("ax", "ay", "az")},
        convention="vector",
    )
    found = [codec.feed(channel, struct.pack("<h", 1000)) for channel in (0, 1, 2, 1, 0)]
    assert found == [[], [], [Sample({"ax": 1.0, "ay": 1.0, "az": 1.0})], [], []]
    codec.reset()
    assert codec.feed(2, b"\0\0") == []


def test_beside_every_format() -> None:
    for kind in ("nmea-xdr", "bthome", "modbus-rtu"):
        codec = codecs.make(profile_of(kind))
        assert codec.feed(codecs.BATTERY_CHANNEL, b"\x55") == [Sample({"battery": 85.0})]
        assert codec.feed(codecs.BATTERY_CHANNEL, b"\xff") == []
        assert codec.feed(codecs.SIGNAL_CHANNEL, b"\xc4") == [Sample({"signal": -60.0})]
        assert codec.feed(codecs.INFORMATION_CHANNEL, b"maker x") == []
        assert not codec.refused


# Packets after the format's description at bthome.io/format (version 2): `40 3f 85ff` = -12.3.
@pytest.mark.parametrize(
    ("packet", "expected"),
    [
        ("403f85ff", {"angle": -12.3}),
        ("4000010164" + "3f7b00", {"angle": 12.3, "battery": 100.0}),
        ("443a013f0000", {"angle": 0.0, "button": 1.0}),
        ("4053026869" + "3f0a00", {"angle": 1.0}),
        ("42112233445566" + "3f0a00", {"angle": 1.0}),
        ("400155", {"battery": 85.0}),
    ],
)
def test_bthome_packets(packet: str, expected: dict[str, float]) -> None:
    codec = codecs.make(profile_of("bthome"))
    found = codec.feed(0, bytes.fromhex(packet))
    assert [one.values for one in found] == [pytest.approx(expected)]
    assert not codec.refused


@pytest.mark.parametrize(
    ("packet", "reason", "expected"),
    [
        ("", "empty", []),
        ("40", "empty", []),
        ("42112233445566", "empty", []),
        ("413f85ff", "encrypted", []),
        ("003f85ff", "version", []),
        ("603f85ff", "version", []),
        ("403f85", "length", []),
        ("4053", "length", []),
        ("405420aa", "length", []),
        ("403f0a00ee01", "unknown object", [1.0]),
        ("40ee3f0a00", "unknown object", []),
        ("4030013f0a00", "unknown object", []),
        ("4001", "length", []),
        ("4211223344556601", "length", []),
    ],
)
def test_bthome_traps(packet: str, reason: str, expected: list[float]) -> None:
    codec = codecs.make(profile_of("bthome"))
    assert angles(codec, bytes.fromhex(packet)) == pytest.approx(expected)
    assert dict(codec.refused) == {reason: 1}


def test_repeated_packet_is_taken_once() -> None:
    codec = codecs.make(profile_of("bthome"))
    packet = bytes.fromhex("4000073f0a00")
    assert angles(codec, packet, packet, packet) == [1.0]
    assert dict(codec.refused) == {"repeated packet": 2}
    codec.reset()
    assert angles(codec, packet) == [1.0]


def test_second_rotation() -> None:
    codec = codecs.make(profile_of("bthome", fields={"angle": {"source": "rotation#2"}}))
    assert angles(codec, bytes.fromhex("403f0a003f1400")) == [2.0]


@pytest.mark.parametrize("source", ["tilt", "rotation#0", "rotation#x"])
def test_no_such_object(source: str) -> None:
    with pytest.raises(BadInputError, match="no object"):
        profile_of("bthome", fields={"angle": {"source": source}})


# Examples of the table of objects at bthome.io/format (version 2).
@pytest.mark.parametrize(
    ("packet", "role", "source", "expected"),
    [
        ("400164", "battery", "battery", 100.0),
        ("4002ca09", "temperature", "temperature", 25.06),
        ("400218fc", "temperature", "temperature", -10.0),
        ("40451101", "temperature", "temperature", 27.3),
        ("4045f6ff", "temperature", "temperature", -1.0),
        ("405711", "temperature", "temperature", 17.0),
        ("4057ea", "temperature", "temperature", -22.0),
        ("405811", "temperature", "temperature", 5.95),
        ("4058ea", "temperature", "temperature", -7.7),
        ("403f020c", "angle", "rotation", 307.4),
        ("405e9f8c", "angle", "direction", 359.99),
    ],
)
def test_bthome_objects_have_the_sizes_signs_and_factors_of_the_format(
    packet: str, role: str, source: str, expected: float
) -> None:
    field = {"source": source} | ({"unit": "degC"} if role == "temperature" else {})
    codec = codecs.make(profile_of("bthome", fields={role: field}))
    (sample,) = codec.feed(0, bytes.fromhex(packet))
    assert sample.values[role] == pytest.approx(expected)


# The same table: objects that no level needs, before a rotation of one degree.
@pytest.mark.parametrize(
    "objects",
    [
        *("03bf13", "04138a01", "05138a14", "065e1f", "073e1d", "08ca06", "0960", "0a138a14"),
        *("0b021b00", "0c020c", "0d120c", "0e021c", "0f01", "1001", "1101", "12e204", "133301"),
        *("14020c", "1501", "2101", "2901", "2b01", "2d01", "2e34", "2f2d", "3c0103", "400c00"),
        *("414e00", "424e3400", "434e34", "444e34", "4632", "478756", "48dc87", "4a020c"),
        *("3e2a2c0960", "4b138a14", "4c41018a01", "4d12138a14", "4e87562a01", "4f87562a01"),
        *("505d396164", "5587562a01", "5c02fbffff", "5d02ea", "618813", "f104030201", "f2030201"),
        *("3d0960", "49dc87", "528756", "59ea", "5aea01", "5bea020c01", "5f6801", "6050", "f00100"),
        *("5187c6", "620a00feff", "630a00feff", "6401", "6501"),
    ],
)
def test_bthome_objects_that_are_not_read_are_skipped_by_their_size(objects: str) -> None:
    codec = codecs.make(profile_of("bthome"))
    assert angles(codec, bytes.fromhex(f"40{objects}3f0a00")) == [1.0]
    assert not codec.refused


AXES = {axis: {"source": f"acceleration#{n}"} for n, axis in enumerate(("ax", "ay", "az"), 1)}


@pytest.mark.parametrize(("one", "m_s2"), [("518756", 22.151), ("63f0d8ffff", -0.01)])
def test_bthome_accelerations_are_in_the_units_of_the_format(one: str, m_s2: float) -> None:
    fields = {axis: field | {"unit": "m/s2"} for axis, field in AXES.items()}
    codec = codecs.make(profile_of("bthome", convention="vector", fields=fields))
    (sample,) = codec.feed(0, bytes.fromhex(f"40{one}{one}{one}"))
    assert sample.values == pytest.approx(dict.fromkeys(AXES, m_s2 / 9.80665))


def test_bthome_counts_each_packet_that_lacks_what_is_needed_or_has_what_cannot_be() -> None:
    codec = codecs.make(profile_of("bthome", convention="vector", fields=AXES))
    assert codec.feed(0, bytes.fromhex("40518756518756")) == []
    assert dict(codec.refused) == {"incomplete": 1}
    codec = codecs.make(profile_of("bthome"))
    assert codec.feed(0, bytes.fromhex("403f3075")) == [], "3000 degrees"
    assert dict(codec.refused) == {"out of range": 1}


def test_sizes_agree_with_what_is_read() -> None:
    assert all(SIZES[identity] == kind.size for identity, kind in KINDS.items())


@pytest.mark.parametrize(("byte", "read"), [(0, [0.0]), (100, [100.0]), (101, []), (255, [])])
def test_a_battery_has_no_more_than_all_of_its_charge(byte: int, read: list[float]) -> None:
    codec = codecs.make(profile_of("text-line"))
    samples = codec.feed(codecs.BATTERY_CHANNEL, bytes([byte]))
    assert [sample.values["battery"] for sample in samples] == read


@pytest.mark.parametrize(
    ("identity", "layout", "raw", "expected"),
    [("51", "<H", 39227, 39.227), ("63", "<i", -9806650, -9.80665)],
)
def test_bthome_accelerations_have_a_step_and_a_sign_each(
    identity: str, layout: str, raw: int, expected: float
) -> None:
    """The same table: 0x51 in thousandths, never negative; 0x63 in millionths, with a sign.

    In g, of 9.80665 m/s2 (3rd CGPM, 1901).
    """
    fields = {
        axis: {"source": f"acceleration#{place}", "unit": "m/s2"}
        for place, axis in enumerate(("ax", "ay", "az"), start=1)
    }
    codec = bare_codec("bthome", {}, fields, convention="vector")
    (sample,) = codec.feed(0, b"\x40" + 3 * (bytes.fromhex(identity) + struct.pack(layout, raw)))
    assert list(sample.values.values()) == pytest.approx([expected / 9.80665] * 3)
