"""Check values against the catalogue of CRC algorithms (G. Cook): CRC of "123456789"."""

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.codecs._checks import NAMES, check, crc_function, sum8, sum8_negative, sum16, xor8
from drivers.codecs._crc_catalogue import CATALOGUE, Crc
from shared.errors import BadInputError
from simulator.wire.framed_binary import crc16
from tests.drivers.making import bare_codec

# From the catalogue's "check" column; 60 of these 63 were compared with fastcrc 0.5 too.
CHECK_VALUES = {
    "crc16-modbus": 0x4B37,
    "crc16-ccitt-false": 0x29B1,
    "crc16-xmodem": 0x31C3,
    "crc8-smbus": 0xF4,
    "crc32": 0xCBF43926,
    "CRC-8/AUTOSAR": 0xDF,
    "CRC-8/BLUETOOTH": 0x26,
    "CRC-8/CDMA2000": 0xDA,
    "CRC-8/DARC": 0x15,
    "CRC-8/DVB-S2": 0xBC,
    "CRC-8/GSM-A": 0x37,
    "CRC-8/GSM-B": 0x94,
    "CRC-8/HITAG": 0xB4,
    "CRC-8/I-432-1": 0xA1,
    "CRC-8/I-CODE": 0x7E,
    "CRC-8/LTE": 0xEA,
    "CRC-8/MAXIM-DOW": 0xA1,
    "CRC-8/MIFARE-MAD": 0x99,
    "CRC-8/NRSC-5": 0xF7,
    "CRC-8/OPENSAFETY": 0x3E,
    "CRC-8/ROHC": 0xD0,
    "CRC-8/SAE-J1850": 0x4B,
    "CRC-8/SMBUS": 0xF4,
    "CRC-8/TECH-3250": 0x97,
    "CRC-8/WCDMA": 0x25,
    "CRC-16/ARC": 0xBB3D,
    "CRC-16/CDMA2000": 0x4C06,
    "CRC-16/CMS": 0xAEE7,
    "CRC-16/DDS-110": 0x9ECF,
    "CRC-16/DECT-R": 0x007E,
    "CRC-16/DECT-X": 0x007F,
    "CRC-16/DNP": 0xEA82,
    "CRC-16/EN-13757": 0xC2B7,
    "CRC-16/GENIBUS": 0xD64E,
    "CRC-16/GSM": 0xCE3C,
    "CRC-16/IBM-3740": 0x29B1,
    "CRC-16/IBM-SDLC": 0x906E,
    "CRC-16/ISO-IEC-14443-3-A": 0xBF05,
    "CRC-16/KERMIT": 0x2189,
    "CRC-16/LJ1200": 0xBDF4,
    "CRC-16/M17": 0x772B,
    "CRC-16/MAXIM-DOW": 0x44C2,
    "CRC-16/MCRF4XX": 0x6F91,
    "CRC-16/MODBUS": 0x4B37,
    "CRC-16/NRSC-5": 0xA066,
    "CRC-16/OPENSAFETY-A": 0x5D38,
    "CRC-16/OPENSAFETY-B": 0x20FE,
    "CRC-16/PROFIBUS": 0xA819,
    "CRC-16/RIELLO": 0x63D0,
    "CRC-16/SPI-FUJITSU": 0xE5CC,
    "CRC-16/T10-DIF": 0xD0DB,
    "CRC-16/TELEDISK": 0x0FB3,
    "CRC-16/TMS37157": 0x26B1,
    "CRC-16/UMTS": 0xFEE8,
    "CRC-16/USB": 0xB4C8,
    "CRC-16/XMODEM": 0x31C3,
    "CRC-32/AIXM": 0x3010BF7F,
    "CRC-32/AUTOSAR": 0x1697D06A,
    "CRC-32/BASE91-D": 0x87315576,
    "CRC-32/BZIP2": 0xFC891918,
    "CRC-32/CD-ROM-EDC": 0x6EC2EDC4,
    "CRC-32/CKSUM": 0x765E7680,
    "CRC-32/ISCSI": 0xE3069283,
    "CRC-32/ISO-HDLC": 0xCBF43926,
    "CRC-32/JAMCRC": 0x340BC6D9,
    "CRC-32/MEF": 0xD2C22F51,
    "CRC-32/MPEG-2": 0x0376E6E7,
    "CRC-32/XFER": 0xBD0BE338,
}


@pytest.mark.parametrize(("name", "value"), CHECK_VALUES.items())
def test_catalogue_check_values(name: str, value: int) -> None:
    assert check(name)[1](b"123456789") == value


def test_every_check_is_there() -> None:
    assert set(CHECK_VALUES) | set(NAMES) >= set(CATALOGUE)
    assert set(CATALOGUE) < set(CHECK_VALUES)
    assert check("none") == (0, check("none")[1])
    assert check("none")[1](b"anything") == 0


@given(st.binary(max_size=64))
def test_crc32_equals_the_standard_library(data: bytes) -> None:
    assert check("crc32")[1](data) == zlib.crc32(data)


@given(st.binary(max_size=64))
def test_modbus_crc_equals_the_bitwise_one(data: bytes) -> None:
    assert check("crc16-modbus")[1](data) == crc16(data)


@given(st.binary(max_size=64))
def test_sums(data: bytes) -> None:
    assert (sum8(data) + sum8_negative(data)) % 256 == 0
    assert sum8(data) == sum(data) % 256
    assert xor8(data + data) == 0
    assert sum16(b"\xff" * 300) == 300 * 255 % 65536


def test_output_may_be_reflected_alone() -> None:
    """The catalogue has one such row, CRC-12/UMTS; of whole bytes there is none."""
    plain = crc_function(Crc(8, 0x07, 0, False, False, 0))
    turned = crc_function(Crc(8, 0x07, 0, False, True, 0))
    value = plain(b"123456789")
    assert turned(b"123456789") == int(f"{value:08b}"[::-1], 2)


def test_unknown_check_says_what_there_is() -> None:
    with pytest.raises(BadInputError, match="CRC-16/KERMIT"):
        bare_codec(
            "framed-binary",
            {"sync": "aa55", "layout": "angle:i16", "check": "crc-16/kermitt"},
            {"angle": {}},
        )


def test_of_whole_bytes_the_catalogue_reflects_output_where_it_reflects_input() -> None:
    assert {name for name, crc in CATALOGUE.items() if crc.refin != crc.refout} == set()


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_check_takes_as_many_bytes_as_its_name_says(name: str) -> None:
    bits = int(name.removeprefix("CRC-").partition("/")[0])
    assert check(name)[0] * 8 == bits


@pytest.mark.parametrize(
    ("data", "eight", "thirty_two"),
    [
        ("00000000", 0x12, 0x6FB32240),
        ("F20183", 0xC2, 0x4F721A25),
        ("0FAA0055", 0xC6, 0x20662DF8),
        ("00FF5511", 0x77, 0x9BD7996E),
        ("332255AABBCCDDEEFF", 0x11, 0xA65A343D),
        ("926B55", 0x33, 0xEE688A78),
        ("FFFFFFFF", 0x6C, 0xFFFFFFFF),
    ],
)
def test_one_value_of_eight_bits_may_be_right_by_chance_and_seven_are_not(
    data: str, eight: int, thirty_two: int
) -> None:
    """The vectors of AUTOSAR's specification of its CRC library, from memory.

    Of "123456789" the polynomial 30 gives DF as 2F does.
    """
    assert check("CRC-8/AUTOSAR")[1](bytes.fromhex(data)) == eight
    assert check("CRC-32/AUTOSAR")[1](bytes.fromhex(data)) == thirty_two
