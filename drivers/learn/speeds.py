"""At which speed a serial line talks: the one at which what is heard can be cut into frames."""

from collections.abc import Mapping
from dataclasses import dataclass

from drivers.codecs import check
from drivers.learn.asked import Heard
from drivers.learn.binary_frames import binary_frames
from drivers.learn.frames import Frames
from drivers.learn.json_frames import json_frames
from drivers.learn.stream import joined
from drivers.learn.text_frames import text_readings

USUAL = (9600, 115200, 19200, 38400, 57600, 4800, 2400)
"""Speeds that levels talk at, the most usual first."""
FEWEST = 5
"""Frames under which a speed is not told."""
_LINES, _WIDE_CHECK, _CHECK, _MARKED, _PLAIN = 6.0, 5.0, 2.0, 2.0, 0.5
_VARIED = 40
"""So many different bytes are there in frames; read too fast, bits come in long runs."""
_TRIES = 6
_ENOUGH = 1000
"""Bytes in which frames are looked for."""


@dataclass(frozen=True, slots=True)
class Speed:
    """One speed: how much of what was heard could be read (more is better), and as what."""

    baud: int
    read: float
    says: str


def speeds(heard: Mapping[int, bytes]) -> list[Speed]:
    """Return the speeds at which something can be read, best first.

    heard: by speed, what was heard at it, each for about as long.
    """
    found = [speed for baud, data in heard.items() if (speed := _speed(baud, data)) is not None]
    return sorted(found, key=lambda one: one.read, reverse=True)


def _speed(baud: int, data: bytes) -> Speed | None:
    if not data:
        return None
    stream = joined(Heard([(0, data)]))
    readings = [list(json_frames(stream, FEWEST)), *text_readings(stream, FEWEST)]
    if not any(readings):
        data = data[:_ENOUGH]
        binary = binary_frames(joined(Heard([(0, data)])), FEWEST, tries=_TRIES)
        readings = [[one] for one in binary]
    read = [(sum(_read(one, data) for one in each if not one.part), each) for each in readings]
    most, best = max(read, key=lambda each: each[0], default=(0.0, []))
    return Speed(baud, most, best[0].says) if best else None


def _read(frames: Frames, data: bytes) -> float:
    """Return the share of the bytes that was read, weighed by what garbage seldom looks like."""
    share = sum(map(len, frames.raw)) / len(data)
    if not frames.says.startswith("lines"):
        size = check(frames.check or "none")[0]
        weight = _WIDE_CHECK if size > 1 else _CHECK if size else _PLAIN
        return min(1.0, share) * weight * min(1.0, len(set(data)) / _VARIED)
    plain = b"\n" in data or b"\r" in data or frames.check
    return share * (_LINES if plain else _MARKED) * (1.0 + _numeric(frames))


def _numeric(frames: Frames) -> float:
    """Return the share of a frame's characters that numbers are made of."""
    row = b"".join(frames.raw)
    return sum(byte in b"0123456789.,+-; \t\r\n" for byte in row) / len(row)
