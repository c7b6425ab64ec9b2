"""Formats that are in no shipped profile, each written apart from the codec that reads it.

Like the simulator's wires: numbers by role in, bytes out, all on channel 0.
"""

import binascii
import json
import zlib

from shared.samples import Role

Values = dict[Role, float]
Sent = list[tuple[int, bytes]]


def nmea(body: str) -> bytes:
    """Return a sentence: the checksum is the exclusive or of all between $ and *."""
    check = 0
    for byte in body.encode():
        check ^= byte
    return f"${body}*{check:02X}\r\n".encode()


class SplitXdr:
    """Heading, pitch and roll, each in an XDR sentence of its own."""

    def write(self, values: Values) -> Sent:
        """Return the three sentences of one sample."""
        numbers = {"HDG": 171.3, "PTCH": values["pitch"], "ROLL": values["roll"]}
        return [(0, nmea(f"HCXDR,A,{value:.2f},D,{name}")) for name, value in numbers.items()]


class MakersSentence:
    """A maker's own sentence among others: degrees and minutes, up or down, mode."""

    def write(self, values: Values) -> Sent:
        """Return one sentence of somebody else and the maker's."""
        angle = values["angle"]
        minutes = round(abs(angle) * 600.0)  # tenths of a minute
        whole, rest = divmod(minutes, 600)
        letter = "D" if angle < 0 else "U"
        written = f"{whole}°{rest / 10.0:04.1f}',{letter}"
        return [(0, nmea("IITXT,01,01,02,HELLO")), (0, nmea(f"PBLDA,4,{written}"))]


class HexText:
    """Four hexadecimal digits of hundredths, CRC-16/XMODEM behind a star, ETX at the end."""

    def write(self, values: Values) -> Sent:
        """Return the characters of one sample."""
        raw = round(values["angle"] * 100.0) & 0xFFFF
        body = f"A{raw:04X}{round(values['temperature']):02X}".encode()
        return [(0, body + b"*%04X\x03" % binascii.crc_hqx(body, 0))]


class JsonLines:
    """Objects of two types, the tilt inside one of them."""

    def write(self, values: Values) -> Sent:
        """Return the two lines of one sample."""
        tilt = {"type": "tilt", "t": {"roll": values["roll"], "pitch": values["pitch"]}}
        lines = [{"type": "heading", "t": {"roll": 99, "pitch": 99}}, tilt]
        return [(0, (json.dumps(line) + "\n").encode()) for line in lines]


class LabelledLines:
    """One axis a line, trailing minus, decimal comma."""

    def write(self, values: Values) -> Sent:
        """Return the two lines of one sample."""
        return [(0, self._line("Roll", values["roll"])), (0, self._line("Pitch", values["pitch"]))]

    def _line(self, label: str, value: float) -> bytes:
        text = f"{abs(value):.2f}".replace(".", ",")
        return f"{label}: {text}{'-' if value < 0 else ''}\r\n".encode()


class FrameKinds:
    """Frames 55 01 (roll) and 55 02 (pitch), 16 bits of 180/32768 degree, CRC-32."""

    def write(self, values: Values) -> Sent:
        """Return the two frames of one sample."""
        return [(0, self._frame(1, values["roll"])), (0, self._frame(2, values["pitch"]))]

    def _frame(self, kind: int, value: float) -> bytes:
        raw = round(value * 32768.0 / 180.0)
        body = bytes([0x55, kind]) + raw.to_bytes(2, "big", signed=True)
        return body + zlib.crc32(body).to_bytes(4, "big")


class MakersAdvert:
    """Manufacturer data: a byte of kind, hundredths; 7FFF while it is moved too fast."""

    def __init__(self) -> None:
        self._count = 0

    def write(self, values: Values) -> Sent:
        """Return the manufacturer data of one sample."""
        self._count += 1
        raw = 0x7FFF if self._count % 20 == 0 else round(values["angle"] * 100.0)
        return [(0, b"\x01" + raw.to_bytes(2, "little", signed=True))]
