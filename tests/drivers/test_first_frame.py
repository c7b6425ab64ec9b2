"""Bytes that mean nothing are told in one sentence, and only when they are suspicious."""

import random

import pytest

from drivers import sentences
from drivers.codecs._checks import check
from drivers.codecs.modbus_rtu import with_crc
from drivers.links.first_frame import FirstFrame
from drivers.links.sink import Announcer
from tests.drivers.making import profile_of
from tests.drivers.sinks import Heard

GOOD = b"$IIXDR,A,12.34,D,BLADE1*1E\r\n"


class Line:
    """A level's announcer with a clock in hand."""

    def __init__(self, kind: str, **tables: object) -> None:
        self.now = 0.0
        self.heard = Heard()
        first = FirstFrame(profile_of(kind, **tables), 3.0, lambda: self.now)
        self.announcer = Announcer("a", self.heard, first)
        self.announcer.up("here")

    def garbage(self, seconds: float) -> None:
        source = random.Random(1)
        for _ in range(round(seconds * 10)):
            self.announcer.bytes(0, bytes(int(source.random() * 256) for _ in range(20)))
            self.now += 0.1


@pytest.mark.parametrize("kind", ["text-line", "framed-binary", "nmea-xdr"])
def test_wrong_speed_is_said_once(kind: str) -> None:
    line = Line(kind)
    line.garbage(2.9)
    assert line.heard.log == [("up", "here")]
    line.garbage(10)
    baud = profile_of(kind).transport.baud
    assert line.heard.log[1:] == [("down", sentences.wrong_speed(baud, 3.0))]
    assert len(line.heard.chunks) == 129, "the bytes are recorded all the same"


def test_first_valid_frame_ends_it() -> None:
    line = Line("nmea-xdr")
    line.garbage(4)
    line.announcer.bytes(0, b"\r\n" + GOOD)
    assert [kind for kind, _ in line.heard.log] == ["up", "down", "up"]
    line.garbage(10)
    assert len(line.heard.log) == 3, "later trouble is the gate's to tell"


def test_a_new_link_begins_anew() -> None:
    line = Line("nmea-xdr")
    line.garbage(4)
    line.announcer.down("unplugged")
    line.announcer.up("here")
    line.garbage(2)
    assert [text for _, text in line.heard.log][-2:] == ["unplugged", "here"]
    line.garbage(2)
    assert line.heard.reasons()[-1] == sentences.wrong_speed(9600, 3.0)


def test_a_quiet_level_among_other_talkers_is_no_fault() -> None:
    line = Line("nmea-xdr", reporting={"mode": "on-press"})
    for _ in range(100):
        line.announcer.bytes(0, b"$IITXT,01,01,02,ALIVE\r\n")
        line.now += 0.1
    assert line.heard.log == [("up", "here")]


def test_over_the_air_it_is_the_profile() -> None:
    line = Line("bthome")
    for _ in range(40):
        line.announcer.bytes(0, bytes.fromhex("413f85ff"))
        line.now += 0.1
    assert line.heard.reasons() == [sentences.wrong_format(3.0)]


def test_a_busy_device_is_the_right_one() -> None:
    line = Line("modbus-rtu")
    for _ in range(40):
        line.announcer.bytes(0, with_crc(bytes([1, 0x83, 6])))
        line.now += 0.1
    assert line.heard.reasons() == []


def said(line: Line, data: bytes) -> list[str]:
    for _ in range(40):
        line.announcer.bytes(0, data)
        line.now += 0.1
    return line.heard.reasons()


@pytest.mark.parametrize(
    ("kind", "data", "reason"),
    [
        ("text-line", b"12.5 %\r\n", "unit"),
        ("text-line", b"tilt;12,5\xb0\r\n", "format"),
        ("nmea-xdr", b"$IIXDR,A,12.34,D,BLADE1*00\r\n", "checksum"),
        ("nmea-xdr", b"$GPGGA,1,2\r\n", "no line or frame as the profile describes it"),
        ("json-line", b'{"tilt": 1}\r\n', "no line or frame as the profile describes it"),
    ],
)
def test_text_that_can_be_read_is_not_the_wrong_speed(kind: str, data: bytes, reason: str) -> None:
    reasons = said(Line(kind), data)
    assert len(reasons) == 1
    assert "speed and parity are right" in reasons[0]
    assert reason in reasons[0]


def test_a_frame_whose_check_is_right_is_not_the_wrong_speed() -> None:
    payload = b"\x00\xff\x7f\x00\x00"
    frame = b"\xaa\x55" + payload + check("crc16-modbus")[1](payload).to_bytes(2, "little")
    reasons = said(Line("framed-binary"), frame)
    assert [reason.count("no angle") for reason in reasons] == [1]
    other = check("CRC-16/KERMIT")[1](payload).to_bytes(2, "little")
    reasons = said(Line("framed-binary"), b"\xaa\x55" + payload + other)
    assert reasons == [sentences.wrong_speed(115200, 3.0)], "nothing tells it from noise"
