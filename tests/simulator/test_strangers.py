"""Invented levels: drawn from a seed, honest about their checks, their poses and their line."""

import binascii
import math
import zlib

import pytest

from simulator.draws import Draws
from simulator.strangers.checks import NAMES, check, size
from simulator.strangers.level import FULL, WALL_AND_FLOOR, stranger, wedge
from simulator.strangers.meaning import Meaning
from simulator.strangers.person import Performer
from simulator.strangers.poses import Pose
from simulator.strangers.speeds import USUAL, read_at
from simulator.strangers.unlearnable import COUNT, KINDS, unlearnable

# Check values of "123456789", from the Catalogue of parametrised CRC algorithms (G. Cook).
OF_THE_CATALOGUE = {
    "CRC-8/SMBUS": 0xF4,
    "CRC-8/MAXIM-DOW": 0xA1,
    "CRC-8/SAE-J1850": 0x4B,
    "CRC-16/MODBUS": 0x4B37,
    "CRC-16/ARC": 0xBB3D,
    "CRC-16/XMODEM": 0x31C3,
    "CRC-16/IBM-3740": 0x29B1,
    "CRC-16/KERMIT": 0x2189,
    "CRC-16/DNP": 0xEA82,
    "CRC-32/ISO-HDLC": 0xCBF43926,
}
BODY = ((0, 1.0), (1, 1.0), (2, 1.0))


@pytest.mark.parametrize(("name", "value"), OF_THE_CATALOGUE.items())
def test_checks_are_those_of_the_catalogue(name: str, value: int) -> None:
    assert check(name, b"123456789") == value


def test_checks_agree_with_the_standard_library() -> None:
    data = bytes(range(200))
    assert check("CRC-32/ISO-HDLC", data) == zlib.crc32(data)
    assert check("CRC-16/XMODEM", data) == binascii.crc_hqx(data, 0)


def test_every_check_fits_its_size() -> None:
    assert all(check(name, b"\xff" * 40) < 256 ** size(name) for name in NAMES)


def test_one_seed_is_one_level_and_one_performance() -> None:
    first, again = (stranger(7).heard([*FULL, *WALL_AND_FLOOR]) for _ in range(2))
    assert first == again
    assert first.chunks != stranger(8).heard([*FULL, *WALL_AND_FLOOR]).chunks


def test_a_hundred_levels_are_of_every_kind() -> None:
    drawn = [stranger(seed) for seed in range(100)]
    assert {one.family for one in drawn} == {
        "text", "binary", "notification", "text notification",
    }  # fmt: skip
    conventions = {one.meaning.convention for one in drawn}
    assert conventions == {"planar", "projection", "roll-pitch", "vector"}
    assert {one.meaning.unit for one in drawn} >= {"deg", "rad", "percent", "mm/m", "g"}
    assert {one.baud for one in drawn} == {0, *USUAL}
    assert sum(one.line_noise == 0.01 for one in drawn) > 10
    assert {one.meaning.sign for one in drawn} == {-1.0, 1.0}


def test_what_is_read_at_the_speed_it_was_sent_at_is_what_was_sent() -> None:
    assert read_at(b"A=+12.34\r\n", 19200, 19200) == b"A=+12.34\r\n"


def test_at_twelve_times_its_speed_one_bit_is_a_byte() -> None:
    """A start bit of 0 outlasts the whole byte: 00 for each falling edge, of which U has five."""
    assert read_at(b"U", 9600, 115200) == b"\0" * 5


@pytest.mark.parametrize("read_baud", [9600, 38400, 57600, 115200])
def test_what_is_read_at_another_speed_is_something_else(read_baud: int) -> None:
    assert b"12.34" not in read_at(b"A=+12.34\r\n" * 5, 19200, read_baud)


def test_a_byte_read_at_half_its_speed_by_hand() -> None:
    """AA is sent as 0 01010101 1; at half its speed bits 3, 5, 7 and then 1s are seen: 0001 1111."""
    assert read_at(b"\xaa", 19200, 9600)[:1] == b"\xf8"


def test_a_slope_leaned_sideways_shrinks_the_arc_sine_of_the_other_axis_only() -> None:
    """A level on its side with its end raised by 30: planar 90, projection 30, roll 90."""
    on_its_side = Pose(30.0, 90.0)
    shown = {
        name: Meaning(name, "deg", BODY, noise_deg=0.0).numbers(on_its_side, Draws(1, 1))
        for name in ("planar", "projection", "roll-pitch")
    }
    assert shown["planar"]["angle"] == pytest.approx(90.0)
    assert shown["projection"]["angle"] == pytest.approx(30.0)
    assert shown["roll-pitch"]["roll"] == pytest.approx(90.0)
    assert shown["roll-pitch"]["pitch"] == pytest.approx(-30.0)


def test_a_slope_is_a_tangent_and_a_turn_wraps() -> None:
    percent = Meaning("planar", "percent", BODY, noise_deg=0.0)
    assert percent.numbers(Pose(45.0, 0.0), Draws(1, 1))["angle"] == pytest.approx(100.0)
    turn = Meaning("planar", "deg", BODY, noise_deg=0.0, turns=True)
    assert turn.numbers(Pose(-10.0, 0.0), Draws(1, 1))["angle"] == pytest.approx(350.0)
    milli = Meaning("vector", "mg", BODY, noise_deg=0.0).numbers(Pose(30.0, 0.0), Draws(1, 1))
    assert math.hypot(*milli.values()) == pytest.approx(1000.0)


def test_the_person_is_near_what_was_asked_and_not_there() -> None:
    off = []
    for seed in range(60):
        done = Performer(Draws(seed, 3)).show([("still", None), ("tilt", 40.0)])
        off.append(max(key.pose.end_deg for key in done.keys) - 40.0)
    sd = math.sqrt(sum(one * one for one in off) / len(off))
    assert 2.0 < sd < 4.0


def test_a_wedge_is_lain_on_better_than_a_hand_holds() -> None:
    done = Performer(Draws(1, 3)).show([("still", None), *wedge(25.0)])
    assert abs(done.keys[-1].pose.end_deg - 25.0) < 0.5
    assert done.asked[-1].deg == 25.0


def test_turned_end_for_end_the_table_slopes_the_other_way() -> None:
    done = Performer(Draws(1, 3)).show([("still", None), ("turned", None)])
    assert done.keys[-1].pose.end_deg == pytest.approx(-done.keys[0].pose.end_deg)
    assert done.keys[-1].pose.heading_deg == 180.0


def test_there_are_thirty_inputs_in_which_nothing_can_be_found() -> None:
    titles = {unlearnable(number).title for number in range(COUNT)}
    assert len(titles) == len(KINDS) == COUNT == 30
