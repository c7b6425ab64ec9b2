"""Bytes in which no angle can be found: constant, encrypted, clock-like, random, or of something else.

Thirty of them, each with the motions a person made in vain.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from simulator.draws import Draws
from simulator.strangers.checks import check
from simulator.strangers.level import FULL, WALL_AND_FLOOR, Chunk, Heard
from simulator.strangers.person import NS, Performer
from simulator.strangers.poses import Pose

COUNT = 30
_RATE_HZ = 10.0
Sends = Callable[[int, float, Pose, Draws], bytes]
"""Number of the sample, seconds, pose, chance: what is sent."""


@dataclass(frozen=True, slots=True)
class Unlearnable:
    """One input: what it is, whether it comes as notifications, and what was heard."""

    title: str
    radio: bool
    heard: Heard


def _framed(payload: bytes) -> bytes:
    body = bytes([0xAA, 0x55, len(payload)]) + payload
    return body + check("CRC-16/MODBUS", body[2:]).to_bytes(2, "little")


def _random(count: int, draws: Draws) -> bytes:
    return bytes(int(draws.unit() * 256.0) for _ in range(count))


def _enciphered(number: int, value: int, draws: Draws) -> bytes:
    """The value under a key stream that never comes again: what is left is random bytes."""
    del number
    key = _random(8, draws)
    return bytes(a ^ b for a, b in zip(value.to_bytes(8, "big", signed=True), key, strict=True))


def _walk() -> Sends:
    at = 0.0

    def sends(_n: int, _t: float, _pose: Pose, draws: Draws) -> bytes:
        nonlocal at
        at += draws.normal(0.4)
        return f"{at:.2f}\r\n".encode()

    return sends


def _clock_text(_n: int, t_s: float, _pose: Pose, _draws: Draws) -> bytes:
    whole = int(t_s) + 40_000
    return b"%02d:%02d:%02d\r\n" % (whole // 3600, whole // 60 % 60, whole % 60)


def _sine(period_s: float) -> Sends:
    def sends(_n: int, t_s: float, _pose: Pose, _draws: Draws) -> bytes:
        return f"A={30.0 * math.sin(2.0 * math.pi * t_s / period_s):+.2f}\r\n".encode()

    return sends


def _stuck(at_s: float) -> Sends:
    def sends(_n: int, t_s: float, pose: Pose, _draws: Draws) -> bytes:
        return f"{pose.end_deg if t_s < at_s else 12.34:.2f}\r\n".encode()

    return sends


KINDS: tuple[tuple[str, Sends], ...] = (
    ("nothing at all", lambda _n, _t, _p, _d: b""),
    ("one constant line", lambda _n, _t, _p, _d: b"12.50\r\n"),
    ("constant lines with labels", lambda _n, _t, _p, _d: b"A=0.00;T=21.5;OK\r\n"),
    ("constant frames", lambda _n, _t, _p, _d: _framed(b"\x01\x02\x03\x04")),
    ("one constant byte", lambda _n, _t, _p, _d: b"\x00" * 12),
    ("enciphered angle in frames", lambda n, _t, p, d: _framed(_enciphered(n, int(p.end_deg * 100), d))),
    ("enciphered angle, no frames", lambda n, _t, p, d: _enciphered(n, int(p.end_deg * 100), d)),
    ("enciphered angle in hexadecimal text", lambda n, _t, p, d: _enciphered(n, int(p.end_deg * 100), d).hex().encode() + b"\r\n"),
    ("random bytes", lambda _n, _t, _p, d: _random(16, d)),
    ("random bytes in frames", lambda _n, _t, _p, d: _framed(_random(6, d))),
    ("random numbers in text", lambda _n, _t, _p, d: f"{d.normal(20.0):.2f}\r\n".encode()),
    ("random columns", lambda _n, _t, _p, d: f"{d.normal(9.0):.1f},{d.unit():.3f},{d.between(0, 99):.0f}\n".encode()),
    ("a random walk", _walk()),
    ("time of day", _clock_text),
    ("seconds since the start", lambda _n, t, _p, _d: f"{t:.3f}\r\n".encode()),
    ("milliseconds in frames", lambda _n, t, _p, _d: _framed(int(1000 * t).to_bytes(4, "little"))),
    ("a counter of one byte", lambda n, _t, _p, _d: _framed(bytes([n % 256, 7]))),
    ("a counter of two bytes", lambda n, _t, _p, _d: _framed((n * 37 % 65536).to_bytes(2, "big"))),
    ("counters up and down in text", lambda n, _t, _p, _d: f"{abs(n % 200 - 100)} {n}\r\n".encode()),
    ("temperature alone", lambda _n, t, _p, d: f"T={20 + t / 80 + d.normal(0.02):.2f}C\r\n".encode()),
    ("a battery running down", lambda _n, t, _p, _d: _framed(bytes([100 - int(t / 20)]))),
    ("a swing of 20 s", _sine(20.0)),
    ("a swing of 31 s", _sine(31.0)),
    ("a swing of 7 s", _sine(7.0)),
    ("a compass", lambda _n, _t, p, d: f"HDG {(p.heading_deg + 200 + d.normal(0.4)) % 360:.1f}\r\n".encode()),
    ("a compass in frames", lambda _n, _t, p, d: _framed(round((p.heading_deg + 20 + d.normal(0.4)) % 360 * 10).to_bytes(2, "big"))),
    ("a level stuck after 25 s", _stuck(25.0)),
    ("prose", lambda n, _t, _p, _d: (b"ready\r\n", b"waiting for host\r\n", b"ok 7\r\n")[n % 3]),
    ("a switch of flat and not flat", lambda _n, _t, p, _d: b"1\r\n" if abs(p.end_deg) > 15 else b"0\r\n"),
    ("how strong the shaking is", lambda _n, _t, _p, d: f"{abs(d.normal(0.02)):.4f} g\r\n".encode()),
)  # fmt: skip
"""Title, and what is sent."""


def unlearnable(number: int, seed: int = 1) -> Unlearnable:
    """Return one of the inputs, from 0."""
    title, sends = KINDS[number]
    draws = Draws(1000 * seed + number, 4)
    performance = Performer(draws).show([*FULL, *WALL_AND_FLOOR])
    chunks: list[Chunk] = []
    for sample in range(int(performance.length_s * _RATE_HZ)):
        t_s = sample / _RATE_HZ
        data = sends(sample, t_s, performance.at(t_s, draws), draws)
        if data:
            chunks.append((round(t_s * NS), data))
    return Unlearnable(title, number % 5 == 4, Heard(chunks, performance.asked))
