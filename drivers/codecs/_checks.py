"""Check values at the end of a frame: sums, exclusive or, and catalogue CRCs.

CRC parameters as in the Catalogue of parametrised CRC algorithms (G. Cook), by its names:
width, polynomial, initial value, reflected, final exclusive or.
"""

from collections.abc import Callable
from functools import reduce
from operator import xor
from typing import Literal, get_args

CheckName = Literal[
    "none",
    "sum8",
    "sum8-negative",
    "xor8",
    "crc8-smbus",
    "crc16-modbus",
    "crc16-ccitt-false",
    "crc16-xmodem",
    "crc32",
]
NAMES: tuple[str, ...] = get_args(CheckName)

Check = Callable[[bytes], int]


def sum8(data: bytes) -> int:
    """Return the sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def sum8_negative(data: bytes) -> int:
    """Return what makes the sum of all bytes zero modulo 256."""
    return -sum(data) & 0xFF


def xor8(data: bytes) -> int:
    """Return the exclusive or of all bytes."""
    return reduce(xor, data, 0)


def _reflect(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


def _reflected_crc(width: int, polynomial: int, initial: int, final: int) -> Check:
    reversed_polynomial = _reflect(polynomial, width)
    table = []
    for index in range(256):
        value = index
        for _ in range(8):
            value = (value >> 1) ^ (reversed_polynomial if value & 1 else 0)
        table.append(value)

    def crc(data: bytes) -> int:
        value = initial
        for byte in data:
            value = (value >> 8) ^ table[(value ^ byte) & 0xFF]
        return value ^ final

    return crc


def _plain_crc(width: int, polynomial: int, initial: int) -> Check:
    top, mask = 1 << (width - 1), (1 << width) - 1
    table = []
    for index in range(256):
        value = index << (width - 8)
        for _ in range(8):
            value = (value << 1) ^ (polynomial if value & top else 0)
        table.append(value & mask)

    def crc(data: bytes) -> int:
        value = initial
        for byte in data:
            value = ((value << 8) & mask) ^ table[(value >> (width - 8)) ^ byte]
        return value

    return crc


crc16_modbus = _reflected_crc(16, 0x8005, 0xFFFF, 0)

_CHECKS: dict[str, tuple[int, Check]] = {
    "none": (0, lambda _data: 0),
    "sum8": (1, sum8),
    "sum8-negative": (1, sum8_negative),
    "xor8": (1, xor8),
    "crc8-smbus": (1, _plain_crc(8, 0x07, 0)),
    "crc16-modbus": (2, crc16_modbus),
    "crc16-ccitt-false": (2, _plain_crc(16, 0x1021, 0xFFFF)),
    "crc16-xmodem": (2, _plain_crc(16, 0x1021, 0)),
    "crc32": (4, _reflected_crc(32, 0x04C11DB7, 0xFFFFFFFF, 0xFFFFFFFF)),
}


def check(name: CheckName) -> tuple[int, Check]:
    """Return size in bytes and function of a check."""
    return _CHECKS[name]
