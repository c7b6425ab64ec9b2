"""Check values against the catalogue of CRC algorithms (G. Cook): CRC of "123456789"."""

import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.codecs._checks import NAMES, check, sum8, sum8_negative, xor8
from simulator.wire.framed_binary import crc16

# From the catalogue's "check" column.
CATALOGUE = {
    "crc16-modbus": 0x4B37,
    "crc16-ccitt-false": 0x29B1,
    "crc16-xmodem": 0x31C3,
    "crc8-smbus": 0xF4,
    "crc32": 0xCBF43926,
}


@pytest.mark.parametrize(("name", "value"), CATALOGUE.items())
def test_catalogue_check_values(name: str, value: int) -> None:
    assert check(name)[1](b"123456789") == value  # type: ignore[arg-type]


def test_every_check_is_there() -> None:
    assert set(CATALOGUE) < set(NAMES)
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
