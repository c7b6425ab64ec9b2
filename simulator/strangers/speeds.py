"""Bytes sent at one speed and read at another: what a receiver makes of the bits.

Eight data bits, no parity, one stop bit, lowest bit first. The receiver waits for a falling
edge, looks at the middle of every bit by its own clock, and takes what it sees.
"""

import math

USUAL = (9600, 19200, 38400, 57600, 115200)
"""Speeds that invented levels talk at."""


def read_at(data: bytes, sent_baud: int, read_baud: int) -> bytes:
    """Return what is read; the same bytes where the speeds are the same."""
    if sent_baud == read_baud:
        return data
    bits = [1, 1]
    for byte in data:
        bits += [0, *(byte >> place & 1 for place in range(8)), 1]
    bits += [1] * 20
    ratio, at, found = sent_baud / read_baud, 1.0, bytearray()
    while True:
        start = _falling(bits, at)
        if start is None or start + 9.5 * ratio >= len(bits):
            return bytes(found)
        seen = [bits[int(start + (place + 1.5) * ratio)] for place in range(8)]
        found.append(sum(bit << place for place, bit in enumerate(seen)))
        at = start + 9.5 * ratio


def _falling(bits: list[int], at: float) -> int | None:
    """Return where the line next goes from 1 to 0, None where it does no more."""
    index = max(1, math.ceil(at))
    while index < len(bits):
        if bits[index] == 0 and bits[index - 1] == 1:
            return index
        index += 1
    return None
