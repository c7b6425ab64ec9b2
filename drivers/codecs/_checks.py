"""Check values at the end of a frame: sums, exclusive or, and the CRCs of the catalogue.

The model of a CRC is that of the catalogue in `_crc_catalogue`: width, poly, init, refin,
refout, xorout.
"""

from collections.abc import Callable
from functools import cache, reduce
from operator import xor
from typing import Annotated

from pydantic import AfterValidator

from drivers.codecs._crc_catalogue import CATALOGUE, Crc

Check = Callable[[bytes], int]


def sum8(data: bytes) -> int:
    """Return the sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def sum8_negative(data: bytes) -> int:
    """Return what makes the sum of all bytes zero modulo 256."""
    return -sum(data) & 0xFF


def sum16(data: bytes) -> int:
    """Return the sum of all bytes modulo 65536."""
    return sum(data) & 0xFFFF


def xor8(data: bytes) -> int:
    """Return the exclusive or of all bytes."""
    return reduce(xor, data, 0)


_SUMS: dict[str, tuple[int, Check]] = {
    "none": (0, lambda _data: 0),
    "sum8": (1, sum8),
    "sum8-negative": (1, sum8_negative),
    "sum16": (2, sum16),
    "xor8": (1, xor8),
}
_SHORT = {
    "crc8-smbus": "CRC-8/SMBUS",
    "crc16-modbus": "CRC-16/MODBUS",
    "crc16-ccitt-false": "CRC-16/IBM-3740",
    "crc16-xmodem": "CRC-16/XMODEM",
    "crc32": "CRC-32/ISO-HDLC",
}
"""Short names of five common ones."""
NAMES: tuple[str, ...] = (*_SUMS, *_SHORT)
"""All names but those of the catalogue."""


def known_check(name: str) -> str:
    """Return the name.

    Raises:
        ValueError: there is no such check; says which there are.
    """
    if name not in NAMES and name not in CATALOGUE:
        raise ValueError(
            f"no such check: one of {', '.join(NAMES)}, or a CRC of 8, 16 or 32 bits by its name "
            "in the catalogue of CRC algorithms (CRC-16/KERMIT)"
        )
    return name


CheckName = Annotated[str, AfterValidator(known_check)]


@cache
def check(name: CheckName) -> tuple[int, Check]:
    """Return size in bytes and function of a check."""
    if name in _SUMS:
        return _SUMS[name]
    parameters = CATALOGUE[_SHORT.get(name, name)]
    return parameters.width // 8, crc_function(parameters)


def checks_of(size: int) -> list[str]:
    """Return the names of all checks of so many bytes, the usual ones first."""
    usual = [name for name in NAMES if name != "none"]
    return [name for name in (*usual, *CATALOGUE) if check(name)[0] == size]


def _reflect(value: int, width: int) -> int:
    return int(f"{value:0{width}b}"[::-1], 2)


def crc_function(crc: Crc) -> Check:
    """Return the CRC with these parameters; its width is a multiple of 8."""
    final = (lambda value: _reflect(value, crc.width)) if crc.refin != crc.refout else None
    register = _reflected(crc) if crc.refin else _plain(crc)

    def function(data: bytes) -> int:
        value = register(data)
        return (final(value) if final else value) ^ crc.xorout

    return function


def _reflected(crc: Crc) -> Check:
    """The register after the data, lowest bit first."""
    poly, init = _reflect(crc.poly, crc.width), _reflect(crc.init, crc.width)
    table = []
    for index in range(256):
        value = index
        for _ in range(8):
            value = (value >> 1) ^ (poly if value & 1 else 0)
        table.append(value)

    def register(data: bytes) -> int:
        value = init
        for byte in data:
            value = (value >> 8) ^ table[(value ^ byte) & 0xFF]
        return value

    return register


def _plain(crc: Crc) -> Check:
    """The register after the data, highest bit first."""
    top, mask, shift = 1 << (crc.width - 1), (1 << crc.width) - 1, crc.width - 8
    table = []
    for index in range(256):
        value = index << shift
        for _ in range(8):
            value = (value << 1) ^ (crc.poly if value & top else 0)
        table.append(value & mask)

    def register(data: bytes) -> int:
        value = crc.init
        for byte in data:
            value = ((value << 8) & mask) ^ table[(value >> shift) ^ byte]
        return value

    return register


crc16_modbus = check("crc16-modbus")[1]
