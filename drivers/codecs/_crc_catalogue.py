"""CRC parameters after the Catalogue of parametrised CRC algorithms (G. Cook), by its names.

Of one, two and four bytes; all of them reflect their output where they reflect their input.
"""

from typing import NamedTuple


class Crc(NamedTuple):
    """One row of the catalogue."""

    width: int
    poly: int
    init: int
    refin: bool
    refout: bool
    xorout: int


CATALOGUE: dict[str, Crc] = {
    "CRC-8/AUTOSAR": Crc(8, 0x2F, 0xFF, False, False, 0xFF),
    "CRC-8/BLUETOOTH": Crc(8, 0xA7, 0x00, True, True, 0x00),
    "CRC-8/CDMA2000": Crc(8, 0x9B, 0xFF, False, False, 0x00),
    "CRC-8/DARC": Crc(8, 0x39, 0x00, True, True, 0x00),
    "CRC-8/DVB-S2": Crc(8, 0xD5, 0x00, False, False, 0x00),
    "CRC-8/GSM-A": Crc(8, 0x1D, 0x00, False, False, 0x00),
    "CRC-8/GSM-B": Crc(8, 0x49, 0x00, False, False, 0xFF),
    "CRC-8/HITAG": Crc(8, 0x1D, 0xFF, False, False, 0x00),
    "CRC-8/I-432-1": Crc(8, 0x07, 0x00, False, False, 0x55),
    "CRC-8/I-CODE": Crc(8, 0x1D, 0xFD, False, False, 0x00),
    "CRC-8/LTE": Crc(8, 0x9B, 0x00, False, False, 0x00),
    "CRC-8/MAXIM-DOW": Crc(8, 0x31, 0x00, True, True, 0x00),
    "CRC-8/MIFARE-MAD": Crc(8, 0x1D, 0xC7, False, False, 0x00),
    "CRC-8/NRSC-5": Crc(8, 0x31, 0xFF, False, False, 0x00),
    "CRC-8/OPENSAFETY": Crc(8, 0x2F, 0x00, False, False, 0x00),
    "CRC-8/ROHC": Crc(8, 0x07, 0xFF, True, True, 0x00),
    "CRC-8/SAE-J1850": Crc(8, 0x1D, 0xFF, False, False, 0xFF),
    "CRC-8/SMBUS": Crc(8, 0x07, 0x00, False, False, 0x00),
    "CRC-8/TECH-3250": Crc(8, 0x1D, 0xFF, True, True, 0x00),
    "CRC-8/WCDMA": Crc(8, 0x9B, 0x00, True, True, 0x00),
    "CRC-16/ARC": Crc(16, 0x8005, 0x0000, True, True, 0x0000),
    "CRC-16/CDMA2000": Crc(16, 0xC867, 0xFFFF, False, False, 0x0000),
    "CRC-16/CMS": Crc(16, 0x8005, 0xFFFF, False, False, 0x0000),
    "CRC-16/DDS-110": Crc(16, 0x8005, 0x800D, False, False, 0x0000),
    "CRC-16/DECT-R": Crc(16, 0x0589, 0x0000, False, False, 0x0001),
    "CRC-16/DECT-X": Crc(16, 0x0589, 0x0000, False, False, 0x0000),
    "CRC-16/DNP": Crc(16, 0x3D65, 0x0000, True, True, 0xFFFF),
    "CRC-16/EN-13757": Crc(16, 0x3D65, 0x0000, False, False, 0xFFFF),
    "CRC-16/GENIBUS": Crc(16, 0x1021, 0xFFFF, False, False, 0xFFFF),
    "CRC-16/GSM": Crc(16, 0x1021, 0x0000, False, False, 0xFFFF),
    "CRC-16/IBM-3740": Crc(16, 0x1021, 0xFFFF, False, False, 0x0000),
    "CRC-16/IBM-SDLC": Crc(16, 0x1021, 0xFFFF, True, True, 0xFFFF),
    "CRC-16/ISO-IEC-14443-3-A": Crc(16, 0x1021, 0xC6C6, True, True, 0x0000),
    "CRC-16/KERMIT": Crc(16, 0x1021, 0x0000, True, True, 0x0000),
    "CRC-16/LJ1200": Crc(16, 0x6F63, 0x0000, False, False, 0x0000),
    "CRC-16/M17": Crc(16, 0x5935, 0xFFFF, False, False, 0x0000),
    "CRC-16/MAXIM-DOW": Crc(16, 0x8005, 0x0000, True, True, 0xFFFF),
    "CRC-16/MCRF4XX": Crc(16, 0x1021, 0xFFFF, True, True, 0x0000),
    "CRC-16/MODBUS": Crc(16, 0x8005, 0xFFFF, True, True, 0x0000),
    "CRC-16/NRSC-5": Crc(16, 0x080B, 0xFFFF, True, True, 0x0000),
    "CRC-16/OPENSAFETY-A": Crc(16, 0x5935, 0x0000, False, False, 0x0000),
    "CRC-16/OPENSAFETY-B": Crc(16, 0x755B, 0x0000, False, False, 0x0000),
    "CRC-16/PROFIBUS": Crc(16, 0x1DCF, 0xFFFF, False, False, 0xFFFF),
    "CRC-16/RIELLO": Crc(16, 0x1021, 0xB2AA, True, True, 0x0000),
    "CRC-16/SPI-FUJITSU": Crc(16, 0x1021, 0x1D0F, False, False, 0x0000),
    "CRC-16/T10-DIF": Crc(16, 0x8BB7, 0x0000, False, False, 0x0000),
    "CRC-16/TELEDISK": Crc(16, 0xA097, 0x0000, False, False, 0x0000),
    "CRC-16/TMS37157": Crc(16, 0x1021, 0x89EC, True, True, 0x0000),
    "CRC-16/UMTS": Crc(16, 0x8005, 0x0000, False, False, 0x0000),
    "CRC-16/USB": Crc(16, 0x8005, 0xFFFF, True, True, 0xFFFF),
    "CRC-16/XMODEM": Crc(16, 0x1021, 0x0000, False, False, 0x0000),
    "CRC-32/AIXM": Crc(32, 0x814141AB, 0x00000000, False, False, 0x00000000),
    "CRC-32/AUTOSAR": Crc(32, 0xF4ACFB13, 0xFFFFFFFF, True, True, 0xFFFFFFFF),
    "CRC-32/BASE91-D": Crc(32, 0xA833982B, 0xFFFFFFFF, True, True, 0xFFFFFFFF),
    "CRC-32/BZIP2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, False, 0xFFFFFFFF),
    "CRC-32/CD-ROM-EDC": Crc(32, 0x8001801B, 0x00000000, True, True, 0x00000000),
    "CRC-32/CKSUM": Crc(32, 0x04C11DB7, 0x00000000, False, False, 0xFFFFFFFF),
    "CRC-32/ISCSI": Crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, True, 0xFFFFFFFF),
    "CRC-32/ISO-HDLC": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, True, 0xFFFFFFFF),
    "CRC-32/JAMCRC": Crc(32, 0x04C11DB7, 0xFFFFFFFF, True, True, 0x00000000),
    "CRC-32/MEF": Crc(32, 0x741B8CD7, 0xFFFFFFFF, True, True, 0x00000000),
    "CRC-32/MPEG-2": Crc(32, 0x04C11DB7, 0xFFFFFFFF, False, False, 0x00000000),
    "CRC-32/XFER": Crc(32, 0x000000AF, 0x00000000, False, False, 0x00000000),
}
