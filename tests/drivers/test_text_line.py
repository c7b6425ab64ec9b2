"""Lines of text in the many ways people write them."""

import binascii
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


@pytest.mark.parametrize(
    ("line", "options", "expected"),
    [
        ("4° 45'", {}, 4.75),
        ("4°45'", {}, 4.75),
        ("-0° 30\N{PRIME}", {}, -0.5),
        ("- 4º 45.6'", {}, -4.76),
        ("4° 45' 36\"", {}, 4.76),
        ("12 deg 30 min", {}, 12.5),
        ("4° 45,6'", {"decimal": "comma"}, 4.76),
        ("ANGLE: 4° 45'", {}, 4.75),
        ("12 30", {"notation": "minutes"}, 12.5),
        ("-4:45", {"notation": "minutes"}, -4.75),
        ("4° 45'", {"notation": "minutes"}, 4.75),
        ("0 30 36", {"notation": "seconds"}, 0.51),
        ("4:45:36", {"notation": "seconds"}, 4.76),
        ("12 30", {"notation": "columns"}, 12.0),
        ("12.5 30", {}, 12.5),
        ("12 75", {}, 12.0),
        ("4° 45'", {"notation": "columns"}, 4.75),
        ("12 123.5", {"notation": "columns"}, 12.0),
        ("12 -30", {}, 12.0),
        ("12 21.5C", {}, 12.0),
        ("12 ---", {}, 12.0),
    ],
)
def test_degrees_and_minutes(line: str, options: dict[str, Any], expected: float) -> None:
    assert angle_of(line.encode(), **options) == pytest.approx([expected], abs=1e-8)


@pytest.mark.parametrize(
    ("line", "options", "reason"),
    [
        ("12 30", {}, "minutes"),
        ("-12 30.5", {}, "minutes"),
        ("12° 30", {}, "minutes"),
        ("X=12 30", {}, "minutes"),
        ("4° 75'", {}, "minutes"),
        ("4.5° 30'", {}, "minutes"),
        ("4° -45'", {}, "minutes"),
        ("4° 45.5' 30\"", {}, "minutes"),
        ("4° 45' 30", {}, "minutes"),
        ("4d 45m", {}, "minutes"),
        ("12 deg 3 m", {}, "minutes"),
        ("4°,45'", {"separator": "comma"}, "minutes"),
        ("4.75", {"notation": "minutes"}, "minutes"),
        ("4 75", {"notation": "minutes"}, "minutes"),
        ("4 45 21", {"notation": "minutes"}, "minutes"),
        ("4 45", {"notation": "seconds"}, "minutes"),
        ("4.75 -", {}, "sign"),
        ("4.75° -", {}, "sign"),
        ("4.75-", {}, "unit"),
        ("4.75 - 3.20", {}, "sign"),
        ("4.75,-", {"separator": "comma"}, "sign"),
        ("D4.75", {}, "sign"),
        ("1 000.5", {}, "thousands"),
        ("4° 75'", {"notation": "columns"}, "minutes"),
        ("X=12 30'", {}, "minutes"),
        ("4.75° S", {}, "sign"),
        ("4.75,up", {"separator": "comma"}, "sign"),
        ("Left4.75", {}, "sign"),
        ("E1", {}, "format"),
        ("Err 1", {}, "incomplete"),
        ("Err1", {}, "format"),
        ("0x1F", {}, "unit"),
        ("(4.75)", {}, "format"),
        ("X=1 X=2", {}, "several sensors"),
        ("32767", {}, "no angle"),
        ("655.35", {}, "out of range"),
        ("-327.68", {}, "out of range"),
    ],
)
def test_what_may_mean_something_else_is_refused(
    line: str, options: dict[str, Any], reason: str
) -> None:
    source = "X" if line.startswith("X") else "1"
    settings = {"format": {"options": KEEP | options}, "fields": {"angle": {"source": source}}}
    codec = codecs.make(profile_of("text-line", **settings))
    assert codec.feed(0, line.encode() + b"\n") == []
    assert dict(codec.refused) == {reason: 1}


@pytest.mark.parametrize(("raw", "scale"), [("32767", 0.01), ("65535", 0.005), ("999", 1.0)])
def test_what_stands_for_no_angle_is_refused(raw: str, scale: float) -> None:
    fields = {"angle": {"scale": scale, "none": [999]}}
    codec = codecs.make(profile_of("text-line", fields=fields, format={"options": KEEP}))
    assert angles(codec, raw.encode() + b"\n") == []
    assert dict(codec.refused) == {"no angle": 1}


LETTERS = {"minus": ["D", "NEG"], "plus": ["U"]}
TRAILING = {"minus": ["-"], "plus": ["", "+"]}


@pytest.mark.parametrize(
    ("line", "options", "expected"),
    [
        ("4.75 D", LETTERS, -4.75),
        ("4.75D", LETTERS, -4.75),
        ("4.75° U", LETTERS, 4.75),
        ("U 4.75", LETTERS, 4.75),
        ("NEG4.75", LETTERS, -4.75),
        ("4° 45' D", LETTERS, -4.75),
        ("4.75,D", LETTERS | {"separator": "comma"}, -4.75),
        ("D,4.75", LETTERS | {"separator": "comma"}, -4.75),
        ("4,75;D", LETTERS | {"separator": "semicolon", "decimal": "comma"}, -4.75),
        ("4.75 -", TRAILING, -4.75),
        ("4.75-", TRAILING, -4.75),
        ("4.75+", TRAILING, 4.75),
        ("4.75", TRAILING, 4.75),
        ("4.75 - 3.20 -", TRAILING, -4.75),
        ("A 4.75 D", LETTERS | {"pattern": "A {angle}"}, -4.75),
    ],
)
def test_signs_as_words(line: str, options: dict[str, Any], expected: float) -> None:
    source = "angle" if "pattern" in options else "1"
    fields = {"angle": {"source": source}}
    codec = codecs.make(profile_of("text-line", fields=fields, format={"options": KEEP | options}))
    assert angles(codec, line.encode() + b"\n") == [expected]


@pytest.mark.parametrize(
    ("line", "reason"),
    [("4.75", "sign"), ("-4.75 D", "sign"), ("4.75 X", "unit"), ("ID 4.75", "incomplete")],
)
def test_a_sign_that_cannot_be_told_is_refused(line: str, reason: str) -> None:
    codec = codecs.make(profile_of("text-line", format={"options": KEEP | LETTERS}))
    assert codec.feed(0, line.encode() + b"\n") == []
    assert dict(codec.refused) == {reason: 1}


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("4° 59.9'", [4.0 + 59.9 / 60.0]),
        ("4° 60'", []),
        ("4° 75'", []),
        ("4° 45' 59.9\"", [4.75 + 59.9 / 3600.0]),
        ("4° 45' 60\"", []),
        ("4° 45' 75\"", []),
    ],
)
def test_sixty_minutes_or_seconds_are_none(line: str, expected: list[float]) -> None:
    assert angle_of(line.encode()) == pytest.approx(expected, abs=1e-8)


def read(options: dict[str, Any], fields: dict[str, Any], data: bytes, **tables: Any) -> Any:
    codec = bare_codec("text-line", KEEP | options, fields, **tables)
    return [one.values for one in codec.feed(0, data)], dict(codec.refused)


TWO_AXES = {"roll": {"source": "x"}, "pitch": {"source": "y"}}
AXES = {"convention": "roll-pitch"}


@pytest.mark.parametrize(
    ("pattern", "options", "why"),
    [
        ("x y", {}, "at least one"),
        ("{x} {x}", {}, "each once"),
        ("{x}{y}", {}, "something between them, or a width"),
        ("{x}.{y}", {}, "'.' cannot both separate"),
        ("{x} , {y}", {"decimal": "comma"}, "',' cannot both separate"),
        ("{x} {*} {*} {y}", {}, "once is enough"),
    ],
)
def test_a_pattern_that_cannot_be_told_apart_is_refused_with_the_reason(
    pattern: str, options: dict[str, Any], why: str
) -> None:
    with pytest.raises(BadInputError, match=why):
        read({"pattern": pattern} | options, TWO_AXES, b"", **AXES)


@pytest.mark.parametrize(
    ("pattern", "options", "line", "expected"),
    [
        ("{x},{y}", {}, "12,34", {"roll": 12.0, "pitch": 34.0}),
        ("{x}, {y}", {}, "12.5, -3", {"roll": 12.5, "pitch": -3.0}),
        ("R{x},P{y}", {"decimal": "comma"}, "R12,5,P3", {"roll": 12.5, "pitch": 3.0}),
        ("R{x},P{y}", {"decimal": "comma"}, "R12,P3,25", {"roll": 12.0, "pitch": 3.25}),
        ("{x} {y} {*}", {}, "1.5 2.5 and what not", {"roll": 1.5, "pitch": 2.5}),
        ("{x} {y} {*}", {}, "1.5 2.5 deg each", {"roll": 1.5, "pitch": 2.5}),
        ("{x} {y} {*}", {}, "1.5 2.5", {"roll": 1.5, "pitch": 2.5}),
        ("{*} {x} {y}", {}, "level b at 1.5 2.5", {"roll": 1.5, "pitch": 2.5}),
        ("{*}X={x} {*}Y={y}", {}, "a b X=1 c d Y=2", {"roll": 1.0, "pitch": 2.0}),
        ("{x:5}{y:5}", {}, "-1.50+2.50", {"roll": -1.5, "pitch": 2.5}),
        ("{x:5}{y:5}", {}, "  1.5 -2.5", {"roll": 1.5, "pitch": -2.5}),
        ("{x:4}{y:4}", {"digits": "hex signed"}, "000CFFFB", {"roll": 12.0, "pitch": -5.0}),
    ],
)
def test_patterns(
    pattern: str, options: dict[str, Any], line: str, expected: dict[str, float]
) -> None:
    found = read({"pattern": pattern} | options, TWO_AXES, line.encode() + b"\n", **AXES)
    assert found == ([expected], {})


@pytest.mark.parametrize(
    ("pattern", "line", "reason"),
    [
        ("{x} {*}", "12,5 deg", "format"),
        ("{x} {*}", "12.5.1 deg", "format"),
        ("{x} {*}", "12 30 and more", "minutes"),
        ("{x} {*}", "12.5 - and more", "sign"),
        ("{x} {*}", "4° 75' west", "minutes"),
        ("{x} {*}", "12.5 % slope", "unit"),
        ("{x:5} {*}", "1 2.5 a", "number"),
    ],
)
def test_a_pattern_never_cuts_a_number(pattern: str, line: str, reason: str) -> None:
    fields = {"angle": {"source": "x"}}
    assert read({"pattern": pattern}, fields, line.encode() + b"\n") == ([], {reason: 1})


def test_axes_in_lines_of_their_own() -> None:
    options = {"patterns": ["Roll: {x}", "Pitch: {y}"], "gather": ["roll", "pitch"]}
    data = b"Roll: 1.5 deg\nPitch: 2.5 deg\nmode 3\nPitch: 9\nRoll: 3\nPitch: 4\n"
    found, refused = read(options, TWO_AXES, data, **AXES)
    assert found == [{"roll": 1.5, "pitch": 2.5}, {"roll": 3.0, "pitch": 4.0}]
    assert refused == {"format": 1, "incomplete": 1}


def test_axes_in_lines_of_their_own_by_label() -> None:
    fields = {"roll": {"source": "R"}, "pitch": {"source": "P"}}
    found, refused = read({"gather": ["pitch", "roll"]}, fields, b"P:2\nR:1\nQ:7\n", **AXES)
    assert (found, refused) == ([{"roll": 1.0, "pitch": 2.0}], {"incomplete": 1})


def test_a_makers_sentence_is_chosen_by_its_address() -> None:
    fields = {"angle": {"source": "2"}, "temperature": {"source": "3", "unit": "degC"}}
    options = {"begins": "$PXYZ,", "separator": "comma", "checksum": "xor"}
    body = b"PXYZ,A,-3.25,21.5"
    value = 0
    for byte in body:
        value ^= byte
    data = b"$GPGGA,1,2,3*00\r\n$%s*%02X\r\n$%s*%02X\r\n" % (body, value, body, value ^ 1)
    assert read(options, fields, data) == (
        [{"angle": -3.25, "temperature": 21.5}],
        {"checksum": 1},
    )


def test_other_checks_at_the_end_of_a_line() -> None:
    fields = {"angle": {"source": "1"}}
    data = b"12.5*%04X\n" % binascii.crc_hqx(b"12.5", 0)  # CRC-16/XMODEM of the standard library
    assert read({"checksum": "CRC-16/XMODEM"}, fields, data)[0] == [{"angle": 12.5}]
    assert read({"checksum": "CRC-16/KERMIT"}, fields, data)[1] == {"checksum": 1}


@pytest.mark.parametrize(
    ("digits", "data", "scale", "expected"),
    [
        ("hex signed", b"04D2\n", 0.01, 12.34),
        ("hex signed", b"0xFB2E\n", 0.01, -12.34),
        ("hex signed", b"4000\n", 0.01, 163.84),
        ("hex", b"A=8CA0\n", 0.01, 360.0),
        ("hex signed", b"7FFF\n", 0.01, None),
        ("hex signed", b"8000\n", 0.01, None),
        ("hex", b"FFFF\n", 0.005, None),
        ("hex", b"FFFF\n", 360 / 65536, 359.99450683594),
    ],
)
def test_hexadecimal_digits(digits: str, data: bytes, scale: float, expected: float | None) -> None:
    fields = {"angle": {"source": "1", "scale": scale}}
    found, refused = read({"digits": digits}, fields, data)
    assert found == ([{"angle": pytest.approx(expected)}] if expected is not None else [])
    assert refused == ({} if expected is not None else {"no angle": 1})


@pytest.mark.parametrize("end", [";", "\x03", "\r\n.\r\n", "END"])
@pytest.mark.parametrize("size", [1, 3, 100])
def test_end_marks_of_their_own(end: str, size: int) -> None:
    codec = bare_codec("text-line", KEEP | {"end": end}, {"angle": {"source": "1"}})
    data = end.join(["1.5", "\r\n2.5", "", "3" * 3000, "4.5", ""]).encode()
    found = angles(codec, *(data[at : at + size] for at in range(0, len(data), size)))
    assert found == [1.5, 2.5, 4.5]
    assert dict(codec.refused) == {"too long": 1}


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


def test_a_label_that_looks_like_a_sign_is_a_label_where_it_is_the_source() -> None:
    options = {"separator": "comma", "first_line": "keep"}
    codec = bare_codec("text-line", options, {"angle": {"source": "R"}})
    assert angles(codec, b"R4.75,P1\n") == [4.75]


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
        {"decimal": "comma", "pattern": "{a},{b}"},
        {"pattern": "{a}.{b}"},
        {"pattern": "{a} {*} {*}"},
        {"pattern": "{a}", "patterns": ["{a}"]},
        {"minus": ["D"]},
        {"minus": ["D"], "plus": ["D"]},
        {"minus": [""], "plus": ["U"]},
        {"checksum": "crc99"},
        {"end": "\u2028"},
        {"gather": ["roll"]},
    ],
)
def test_options_that_cannot_be(options: dict[str, Any]) -> None:
    with pytest.raises(BadInputError):
        profile_of("text-line", format={"options": options})


def test_one_pattern_and_several_are_not_both_given() -> None:
    """Which of them was meant nobody can tell; each by itself is a profile."""
    fields, one, several = {"angle": {"source": "a"}}, {"pattern": "{a}"}, {"patterns": ["{a}"]}
    for options in (one, several):
        profile_of("text-line", fields=fields, format={"options": options})
    with pytest.raises(BadInputError, match="one pattern, or several"):
        profile_of("text-line", fields=fields, format={"options": one | several})


def test_no_pattern_makes_a_line_slow() -> None:
    pattern = "{*}a{*}a{*}a{*}a{*}b {angle}"
    fields = {"angle": {"source": "angle"}}
    codec = codecs.make(
        profile_of("text-line", fields=fields, format={"options": KEEP | {"pattern": pattern}})
    )
    for _ in range(200):  # a matcher that goes back would need 10^12 steps a line
        assert codec.feed(0, b"a" * 1000 + b"\n") == []


@pytest.mark.parametrize("options", [{}, LETTERS, {"notation": "minutes"}, {"separator": "comma"}])
@pytest.mark.parametrize("piece", [" ", "1 ", "1\N{DEGREE SIGN} 1", "D ", "- 1 ", "1:", "1 D"])
def test_no_notation_makes_a_line_slow(options: dict[str, Any], piece: str) -> None:
    codec = codecs.make(profile_of("text-line", format={"options": KEEP | options}))
    line = (piece * 1000).encode()[:1000] + b"\n"
    for _ in range(50):
        assert len(codec.feed(0, line)) <= 1


def test_hexadecimal_numbers_by_blanks_stay_apart() -> None:
    fields = {"angle": {"source": "2", "scale": 0.01}}
    assert read({"digits": "hex signed"}, fields, b"04D2 FB2E\n")[0] == [{"angle": -12.34}]


@pytest.mark.parametrize(("letters", "expected"), [(60, [{"angle": 2.5}]), (61, [])])
def test_a_line_with_an_item_of_more_than_64_characters_is_none_of_numbers(
    letters: int, expected: list[dict[str, float]]
) -> None:
    data = b"A" * letters + b"=1.5,2.5\n"
    assert read({"separator": "comma"}, {"angle": {"source": "2"}}, data)[0] == expected


def test_a_letter_alone_between_commas_may_be_the_sign_of_the_number_before() -> None:
    fields = {"angle": {"source": "1"}}
    assert read({"separator": "comma"}, fields, b"12.5,L,3.0\n") == ([], {"sign": 1})


def test_a_unit_is_checked_where_the_profile_states_one() -> None:
    data, angle = b"A=1.5 B=81%\n", {"angle": {"source": "A"}}
    stated = angle | {"temperature": {"source": "B", "unit": "degC"}}
    assert read({}, stated, data) == ([], {"unit": 1})
    assert read({}, angle | {"battery": {"source": "B"}}, data)[0] == [
        {"angle": 1.5, "battery": 81.0}
    ]


@pytest.mark.parametrize(
    ("line", "source", "found", "refused"),
    [
        (b"12 59\n", "1", [], {"minutes": 1}),
        (b"12 60\n", "1", [12.0], {}),
        (b"   - 12.5\n", "1", [-12.5], {}),
        (b"X - 12.5\n", "2", [-12.5], {}),
        (b"7.5 - 12.5\n", "1", [], {"sign": 1}),
    ],
)
def test_what_stands_apart_by_blanks(
    line: bytes, source: str, found: list[float], refused: dict[str, int]
) -> None:
    """Under sixty it may be minutes; a sign with a number before it may be of either."""
    got = read({}, {"angle": {"source": source}}, line)
    assert got == ([{"angle": angle} for angle in found], refused)


def test_a_sign_alone_between_commas_may_be_of_the_number_behind() -> None:
    fields = {"angle": {"source": "2"}}
    assert read({"separator": "comma"}, fields, b"-,12.5\n") == ([], {"sign": 1})
