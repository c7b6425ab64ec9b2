"""Signals as sound files. Pure: bytes out, the same for the same signal and volume."""

import array
import io
import math
import sys
import wave

from shared.signals import Signal

RATE_HZ = 44_100
EDGE_S = 0.008
"""Every tone fades in and out over this, or it would click."""
FULL = 0.9 * 32767


def rendered(signal: Signal, volume: float = 1.0) -> bytes:
    """Return a WAV file (16 bit, one channel). volume: 0 to 1."""
    samples = array.array("h")
    for first_hz, last_hz, ms in signal.tones:
        samples.extend(_tone(first_hz, last_hz, ms / 1000, volume))
    if sys.byteorder == "big":
        samples.byteswap()
    written = io.BytesIO()
    with wave.open(written, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(samples.tobytes())
    return written.getvalue()


def _tone(first_hz: float, last_hz: float, seconds: float, volume: float) -> list[int]:
    """A tone that glides evenly from one frequency to the other; 0 Hz is silence."""
    count = round(seconds * RATE_HZ)
    if first_hz == 0.0:
        return [0] * count
    slope = (last_hz - first_hz) / seconds
    edge = EDGE_S * RATE_HZ
    found = []
    for number in range(count):
        at = number / RATE_HZ
        fade = min(1.0, number / edge, (count - 1 - number) / edge)
        phase = 2 * math.pi * (first_hz * at + slope * at * at / 2)
        found.append(round(FULL * volume * fade * math.sin(phase)))
    return found
