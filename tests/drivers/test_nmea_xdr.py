"""XDR sentences: standard examples, and what talkers of all kinds really send."""

import pytest

from drivers import codecs
from drivers.codecs.nmea_xdr import checksum
from shared.errors import BadInputError
from shared.samples import Sample
from tests.drivers.making import angles, profile_of

# Sentences with the checksums of NMEA 0183 (exclusive or), computed apart from this program.
TWO = b"$YXXDR,A,14.6,D,PTCH,A,-2.3,D,ROLL*42"
BLADE = b"$IIXDR,A,12.34,D,BLADE1*1E"
PITCH = b"$YXXDR,A,14.6,D,PTCH*58"


def framed(body: str) -> bytes:
    return f"${body}*{checksum(body.encode()):02X}\r\n".encode()


def field(source: str) -> dict[str, object]:
    return {"fields": {"angle": {"source": source}}}


def test_standard_sentences() -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field("PTCH")))
    assert angles(codec, b"\r\n".join([TWO, BLADE, PITCH, b""])) == [14.6, 14.6]
    assert not codec.refused


@pytest.mark.parametrize("end", [b"\r\n", b"\n", b"\r", b"\n\n\r"])
def test_line_ends(end: bytes) -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field("PTCH")))
    assert angles(codec, end.join([TWO, BLADE, PITCH, b""])) == [14.6, 14.6]


@pytest.mark.parametrize(("source", "expected"), [("ROLL", -2.3), ("ptch", 14.6), ("#2", -2.3)])
def test_source_names_the_group(source: str, expected: float) -> None:
    assert angles(codecs.make(profile_of("nmea-xdr", **field(source))), TWO + b"\r\n") == [expected]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("HCXDR,A,171,D,PITCH,G,367,,MAGX,G,2420,,MAGY", [171.0]),
        ("WIXDR,A,+02.9,D,PITCH,A,,D,ROLL", [2.9]),
        ("YXXDR,A,803.924,M,N,A,-64.189,D,E,C,17.09,C,T", [-64.189]),
        ("YDXDR,A,-.5,D,Pitch", [-0.5]),
        ("SDXDR,C,23.15,C,WTHI", []),
        ("IIXDR,A,6.,D,PTCH", [6.0]),
        ("IIXDR,A,6.5,D,PTCH,", [6.5]),
        ("IIXDR,A,6.5,,PTCH", [6.5]),
        ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", []),
        ("P123,whatever", []),
        ("IIXDR,C,,C,AIR,A,1.5,D,X", [1.5]),
    ],
)
def test_forms_that_other_instruments_send(body: str, expected: list[float]) -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert angles(codec, framed(body)) == expected
    assert not codec.refused


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"$YXXDR,A,14.7,D,PTCH*58\r\n", "checksum"),
        (b"$YXXDR,A,14.6,D,PTCH*5\r\n", "checksum"),
        (b"$YXXDR,A,14.6,D,PTCH*5G\r\n", "checksum"),
        (b"$YXXDR,A,14.6,D,PTCH\r\n", "no checksum"),
        (framed("IIXDR,A,,D,X"), "empty"),
        (framed("IIXDR,A,nan,D,X"), "number"),
        (framed("IIXDR,A,inf,D,X"), "number"),
        (framed("IIXDR,A,0x1F,D,X"), "number"),
        (framed("IIXDR,A,1_0,D,X"), "number"),
        (framed("IIXDR,A,1e999,D,X"), "number"),
        (framed("IIXDR,A,25.0,P,X"), "unit"),
        (framed("IIXDR,A,1.0,D"), "format"),
        (b"4.6,D,PTCH*58\r\n", "format"),
        (b"$" + b"x" * 3000 + b"\r\n", "too long"),
    ],
)
def test_refused_and_counted(line: bytes, reason: str) -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert codec.feed(0, line + BLADE + b"\r\n") == [Sample({"angle": 12.34})]
    assert dict(codec.refused) == {reason: 1}


def test_without_checksum_only_if_the_profile_says_so() -> None:
    settings = {"format": {"options": {"checksum": "if present"}}}
    codec = codecs.make(profile_of("nmea-xdr", **settings))
    assert angles(codec, b"$IIXDR,A,3,D,X\n$IIXDR,A,4,D,X*00\n") == [3.0]
    assert dict(codec.refused) == {"checksum": 1}


def test_talker_may_be_chosen() -> None:
    codec = codecs.make(profile_of("nmea-xdr", format={"options": {"talker": "II"}}))
    assert angles(codec, PITCH + b"\n" + BLADE + b"\n") == [12.34]


def test_cut_sentence_does_not_take_the_next_with_it() -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert angles(codec, b"$YXXDR,A,14." + BLADE + b"\r\n") == [12.34]


def test_two_axes_come_together_or_not_at_all() -> None:
    both = {"fields": {"roll": {"source": "ROLL"}, "pitch": {"source": "PTCH"}}}
    codec = codecs.make(profile_of("nmea-xdr", convention="roll-pitch", **both))
    assert codec.feed(0, TWO + b"\n") == [Sample({"roll": -2.3, "pitch": 14.6})]
    assert codec.feed(0, PITCH + b"\n") == []
    assert dict(codec.refused) == {"incomplete": 1}


@pytest.mark.parametrize("source", ["#0", "#x", "#"])
def test_bad_position_is_bad_input(source: str) -> None:
    with pytest.raises(BadInputError, match="position"):
        profile_of("nmea-xdr", **field(source))


@pytest.mark.parametrize(
    "body",
    [
        "HCXDR,A,171,D,HDG",
        "HCXDR,A,171.5,D,HEADING,A,2.0,D,PTCH",
        "HCXDR,A,2.0,D,PTCH,A,171.5,D,Yaw",
        "HCXDR,A,171.5,D,MAGHDT",
        "WIXDR,A,+02.9,D,PITCH,A,+00.7,D,ROLL",
        "WIXDR,A,2.9,D,,A,0.7,D,",
    ],
)
def test_empty_source_never_chooses_an_angle(body: str) -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert angles(codec, framed(body) * 3) == []
    assert dict(codec.refused) == {"several angles": 3}


@pytest.mark.parametrize("source", ["", "#1"])
def test_pitch_and_roll_in_sentences_of_their_own_are_not_mixed(source: str) -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field(source)))
    both = framed("IIXDR,A,14.6,D,PTCH") + framed("IIXDR,A,-2.3,D,ROLL")
    assert angles(codec, both * 20) == [14.6], "the second was not known yet at the first"
    assert sum(codec.refused.values()) == 39


def test_one_axis_of_two_is_read_by_its_name() -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field("ROLL")))
    both = framed("IIXDR,A,14.6,D,PTCH") + framed("IIXDR,A,-2.3,D,ROLL")
    assert angles(codec, both * 20) == [-2.3] * 20
    assert not codec.refused


def test_a_second_name_is_forgotten_after_two_hundred_sentences() -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert angles(codec, framed("IIXDR,A,3.0,D,ELSE")) == [3.0]
    assert angles(codec, (BLADE + b"\n") * 250) == [12.34] * 50


@pytest.mark.parametrize(
    "sentences",
    [
        framed("IIXDR,A,1.0,D,TILT") + framed("YXXDR,A,9.0,D,TILT"),
        framed("IIXDR,A,1.0,D,TILT,A,9.0,D,tilt"),
    ],
)
def test_two_sensors_under_one_name_are_refused(sentences: bytes) -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field("TILT")))
    codec.feed(0, sentences)
    assert angles(codec, sentences * 5) == []
    assert codec.refused["several sensors"] >= 6
    chosen = codecs.make(
        profile_of("nmea-xdr", **field("TILT"), format={"options": {"talker": "YX"}})
    )
    assert angles(chosen, framed("IIXDR,A,1.0,D,TILT") + framed("YXXDR,A,9.0,D,TILT")) == [9.0]


PARTS = {
    "convention": "roll-pitch",
    "fields": {"roll": {"source": "ROLL"}, "pitch": {"source": "PTCH"}},
    "format": {"options": {"gather": ["pitch", "roll"]}},
}


def part(name: str, value: float) -> bytes:
    return framed(f"IIXDR,A,{value},D,{name}")


def test_axes_in_sentences_of_their_own_are_put_together_in_their_order() -> None:
    codec = codecs.make(profile_of("nmea-xdr", **PARTS))
    sent = part("PTCH", 1.0) + part("ROLL", 2.0) + part("PTCH", 3.0) + part("ROLL", 4.0)
    assert codec.feed(0, sent) == [
        Sample({"pitch": 1.0, "roll": 2.0}),
        Sample({"pitch": 3.0, "roll": 4.0}),
    ]
    assert not codec.refused


def test_a_lost_half_takes_no_other_moments_half() -> None:
    codec = codecs.make(profile_of("nmea-xdr", **PARTS))
    sent = part("ROLL", 2.0) + part("PTCH", 3.0) + part("PTCH", 5.0) + part("ROLL", 6.0)
    assert codec.feed(0, sent) == [Sample({"pitch": 5.0, "roll": 6.0})]
    assert dict(codec.refused) == {"incomplete": 2}
    codec.feed(0, part("PTCH", 7.0))
    codec.reset()
    assert codec.feed(0, part("ROLL", 8.0)) == []


def test_gather_must_name_the_parts_of_the_tilt() -> None:
    wrong = PARTS | {"format": {"options": {"gather": ["pitch"]}}}
    with pytest.raises(BadInputError, match="gather"):
        profile_of("nmea-xdr", **wrong)


def test_two_axes_cannot_both_be_the_only_angle() -> None:
    with pytest.raises(BadInputError, match="source of its own"):
        profile_of("nmea-xdr", convention="roll-pitch", fields={"roll": {}, "pitch": {}})


@pytest.mark.parametrize(("value", "scale"), [("32767", 0.01), ("65535", 0.005), ("-32768", 0.005)])
def test_what_stands_for_no_data_is_no_angle(value: str, scale: float) -> None:
    codec = codecs.make(profile_of("nmea-xdr", fields={"angle": {"scale": scale}}))
    assert angles(codec, framed(f"IIXDR,A,{value},D,X")) == []
    assert dict(codec.refused) == {"no angle": 1}


def test_a_position_without_units_must_carry_one_name_too() -> None:
    """Whose angle it is hangs on the name alone."""
    codec = codecs.make(profile_of("nmea-xdr", **field("#1")))
    assert angles(codec, framed("IIXDR,A,1.5,,PTCH") + framed("IIXDR,A,7.5,,ROLL")) == [1.5]
    assert codec.refused["several sensors"] == 1


def test_a_position_without_a_value_may_carry_any_name() -> None:
    """An instrument that has nothing to say leaves value and name out."""
    codec = codecs.make(profile_of("nmea-xdr", **field("#1")))
    sent = framed("IIXDR,A,1.5,D,PTCH") + framed("IIXDR,A,,D,") + framed("IIXDR,A,2.5,D,PTCH")
    assert angles(codec, sent) == [1.5, 2.5]


def test_half_a_sentence_before_a_break_is_forgotten() -> None:
    codec = codecs.make(profile_of("nmea-xdr"))
    assert angles(codec, PITCH[:12]) == []
    codec.reset()
    assert angles(codec, PITCH[12:] + b"\r\n" + BLADE + b"\r\n") == [12.34]


def test_a_position_that_a_sentence_does_not_have_is_no_angle() -> None:
    codec = codecs.make(profile_of("nmea-xdr", **field("#2")))
    assert angles(codec, PITCH + b"\r\n" + TWO + b"\r\n") == [-2.3]
