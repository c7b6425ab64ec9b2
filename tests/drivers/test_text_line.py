"""Lines of text in the many ways people write them."""

from typing import Any

import pytest

from drivers import codecs
from shared.errors import BadInputError
from shared.samples import Sample
from tests.drivers.making import angles, bare_codec, profile_of

KEEP = {"first_line": "keep"}


def angle_of(line: bytes, **options: Any) -> list[float]:
    codec = codecs.make(profile_of("text-line", format={"options": KEEP | options}))
    return angles(codec, line + b"\r\n")


@pytest.mark.parametrize(
    ("line", "options", "expected"),
    [
        (b"12.34", {}, 12.34),
        (b"+12.3", {}, 12.3),
        (b"-0.05", {}, -0.05),
        (b"- 12.3", {}, -12.3),
        ("\N{MINUS SIGN}7.25°".encode(), {}, -7.25),
        (b"12.3\xb0", {}, 12.3),
        (b"12.3 deg", {}, 12.3),
        (b"  12.3  DEG  ", {}, 12.3),
        (b"12,3", {"decimal": "comma"}, 12.3),
        (b"-12,30 deg", {"decimal": "comma"}, -12.3),
        (b"12.3,4.5", {"separator": "comma"}, 12.3),
        (b"12,3;4,5", {"separator": "semicolon", "decimal": "comma"}, 12.3),
        (b"12.3\t4.5", {"separator": "tab"}, 12.3),
        (b"12.3 4.5", {}, 12.3),
        (b"ANGLE: 12.3", {}, 12.3),
        (b"ANGLE=12.3 deg", {}, 12.3),
        (b"X12.3", {}, 12.3),
        (b".5", {}, 0.5),
        (b"5.", {}, 5.0),
    ],
)
def test_ways_to_write_an_angle(line: bytes, options: dict[str, Any], expected: float) -> None:
    assert angle_of(line, **options) == [expected]


@pytest.mark.parametrize(
    ("line", "options", "reason"),
    [
        (b"12.3 %", {}, "unit"),
        (b"12.3 rad", {}, "unit"),
        (b"nan", {}, "format"),
        (b"infinity", {}, "format"),
        (b"----", {}, "format"),
        (b"1.2.3", {}, "number"),
        (b"12,3", {}, "number"),
        (b"12.3", {"decimal": "comma"}, "number"),
        (b"hold 12.3", {}, "incomplete"),
        (b"9" * 70, {}, "format"),
        (b"9" * 2000, {}, "too long"),
        ("١٢".encode(), {}, "number"),
    ],
)
def test_refused_and_counted(line: bytes, options: dict[str, Any], reason: str) -> None:
    codec = codecs.make(profile_of("text-line", format={"options": KEEP | options}))
    assert codec.feed(0, line + b"\n") == []
    assert dict(codec.refused) == {reason: 1}


def test_half_a_line_after_connecting_is_not_a_number() -> None:
    codec = codecs.make(profile_of("text-line"))
    assert angles(codec, b"2.5\r\n12.5\r\n") == [12.5]
    codec.feed(0, b"99.")
    codec.reset()
    assert angles(codec, b"2.5\r\n12.75\r\n") == [12.75]


@pytest.mark.parametrize("mode", ["on-press", "on-change"])
def test_first_press_of_a_quiet_level_is_not_lost(mode: str) -> None:
    codec = codecs.make(profile_of("text-line", reporting={"mode": mode}))
    assert angles(codec, b"12.5\r\n") == [12.5]


def test_pattern_names_two_axes() -> None:
    codec = bare_codec(
        "text-line",
        {"pattern": "X={x} Y={y} {*}", "first_line": "keep"},
        {"roll": {"source": "x"}, "pitch": {"source": "y", "scale": -1.0}},
        convention="roll-pitch",
    )
    line = b"X=+1.5\xc2\xb0   Y= 2.5\xc2\xb0 T=21.5\r\n"
    assert codec.feed(0, line) == [Sample({"roll": 1.5, "pitch": -2.5})]


def test_labels_name_numbers_without_a_pattern() -> None:
    codec = bare_codec(
        "text-line",
        {"separator": "comma", "first_line": "keep"},
        {"angle": {"source": "TILT"}, "battery": {"source": "BAT", "unit": "percent"}},
    )
    assert codec.feed(0, b"BAT=81%, TILT=-3.25\n") == [Sample({"angle": -3.25, "battery": 81.0})]
    assert codec.feed(0, b"BAT=81%\n") == []
    assert dict(codec.refused) == {"incomplete": 1}


def test_checksum_where_the_level_sends_one() -> None:
    options = {"checksum": "xor", "first_line": "keep"}
    codec = codecs.make(profile_of("text-line", format={"options": options}))
    good = b"12.5"
    value = 0
    for byte in good:
        value ^= byte
    assert angles(codec, b"%s*%02x\n$%s*%02X\n12.6*%02X\n12.5\n" % (good, value, good, value, value)) == [12.5, 12.5]  # fmt: skip
    assert dict(codec.refused) == {"checksum": 2}


def test_comment_lines_are_silent() -> None:
    options = KEEP | {"comment": "#"}
    codec = codecs.make(profile_of("text-line", format={"options": options}))
    assert angles(codec, b"# ready\n1.5\n") == [1.5]
    assert not codec.refused


@pytest.mark.parametrize(
    ("unit", "raw", "expected"),
    [
        ("percent", b"100 %", 45.0),
        ("mm/m", b"1000 mm/m", 45.0),
        ("rad", b"0.7853981633974483", 45.0),
    ],
)
def test_units_become_degrees(unit: str, raw: bytes, expected: float) -> None:
    fields = {"angle": {"source": "1", "unit": unit}}
    codec = codecs.make(profile_of("text-line", fields=fields, format={"options": KEEP}))
    assert angles(codec, raw + b"\n") == pytest.approx([expected])


@pytest.mark.parametrize(
    "options",
    [
        {"separator": "comma", "decimal": "comma"},
        {"pattern": "no field"},
        {"pattern": "{a}{b}"},
        {"pattern": "{a} {a}"},
        {"pattern": "{other}"},
        {"separator": "dot"},
    ],
)
def test_options_that_cannot_be(options: dict[str, Any]) -> None:
    with pytest.raises(BadInputError):
        profile_of("text-line", format={"options": options})


def test_no_pattern_makes_a_line_slow() -> None:
    pattern = "{*}a{*}a{*}a{*}a{*}b {angle}"
    fields = {"angle": {"source": "angle"}}
    codec = codecs.make(
        profile_of("text-line", fields=fields, format={"options": KEEP | {"pattern": pattern}})
    )
    for _ in range(200):  # a matcher that goes back would need 10^12 steps a line
        assert codec.feed(0, b"a" * 1000 + b"\n") == []
