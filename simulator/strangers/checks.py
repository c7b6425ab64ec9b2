"""Check values at the end of a frame, worked out bit by bit, apart from the program's own.

Parameters after the Catalogue of parametrised CRC algorithms (G. Cook), by its names.
"""

from typing import NamedTuple


class Parameters(NamedTuple):
    """Of one CRC: width, polynomial, initial value, reflected or not, final exclusive or."""

    width: int
    poly: int
    init: int
    reflected: bool
    xorout: int


CRCS = {
    "CRC-8/SMBUS": Parameters(8, 0x07, 0x00, reflected=False, xorout=0x00),
    "CRC-8/MAXIM-DOW": Parameters(8, 0x31, 0x00, reflected=True, xorout=0x00),
    "CRC-8/SAE-J1850": Parameters(8, 0x1D, 0xFF, reflected=False, xorout=0xFF),
    "CRC-16/MODBUS": Parameters(16, 0x8005, 0xFFFF, reflected=True, xorout=0x0000),
    "CRC-16/ARC": Parameters(16, 0x8005, 0x0000, reflected=True, xorout=0x0000),
    "CRC-16/XMODEM": Parameters(16, 0x1021, 0x0000, reflected=False, xorout=0x0000),
    "CRC-16/IBM-3740": Parameters(16, 0x1021, 0xFFFF, reflected=False, xorout=0x0000),
    "CRC-16/KERMIT": Parameters(16, 0x1021, 0x0000, reflected=True, xorout=0x0000),
    "CRC-16/DNP": Parameters(16, 0x3D65, 0x0000, reflected=True, xorout=0xFFFF),
    "CRC-32/ISO-HDLC": Parameters(32, 0x04C11DB7, 0xFFFFFFFF, reflected=True, xorout=0xFFFFFFFF),
}
SUMS = ("sum8", "sum8-negative", "xor8", "sum16")
NAMES = (*SUMS, *CRCS)


def size(name: str) -> int:
    """Return the bytes a check takes."""
    if name in CRCS:
        return CRCS[name].width // 8
    return 2 if name == "sum16" else 1


def check(name: str, data: bytes) -> int:
    """Return the check of these bytes."""
    if name in CRCS:
        return _crc(CRCS[name], data)
    if name == "xor8":
        value = 0
        for byte in data:
            value ^= byte
        return value
    total = sum(data)
    return {"sum8": total % 256, "sum8-negative": -total % 256, "sum16": total % 65536}[name]


def _mirrored(value: int, width: int) -> int:
    return sum(1 << (width - 1 - bit) for bit in range(width) if value >> bit & 1)


def _crc(crc: Parameters, data: bytes) -> int:
    """Shift the message through the register, highest bit first."""
    top, mask, value = 1 << (crc.width - 1), (1 << crc.width) - 1, crc.init
    for byte in data:
        for bit in range(8):
            sent = byte >> (bit if crc.reflected else 7 - bit) & 1
            over = bool(value & top) != bool(sent)
            value = (value << 1 & mask) ^ (crc.poly if over else 0)
    return (_mirrored(value, crc.width) if crc.reflected else value) ^ crc.xorout
