"""Each kind of damage to a file of our own form is said in its own sentence, and nothing else is."""

import sqlite3
from pathlib import Path

import pytest

from daemon.core.rules import FORMAT
from daemon.session.recording import read
from daemon.session.tables import PAGE, crc_of
from shared.errors import BadInputError
from shared.inputs import Bytes
from tests.session.test_strangers import made, packet, row

NOTE = '{"event": "noted", "n": %d, "t_ns": 0, "kind": "note", "say": "tools counted"}'
END = '{"input": "end", "t_ns": 5, "reason": "tools away"}'


def sound(database: sqlite3.Connection) -> None:
    packet(database, 1, b"\x00\x00\x01x")
    row(database, "inputs", 5, END)
    row(database, "events", 1, NOTE % 1)


def spoiled(folder: Path, *statements: str) -> Path:
    path = made(folder / "some.session", sound)
    with sqlite3.connect(path) as database:
        for statement in statements:
            database.execute(statement)
    database.close()
    return path


def damage(folder: Path, *statements: str) -> list[str]:
    return read(spoiled(folder, *statements), salvage=True).damage


def test_a_sound_file_has_none(tmp_path: Path) -> None:
    assert damage(tmp_path) == []


@pytest.mark.parametrize(
    ("statement", "say"),
    [
        ("UPDATE seal SET inputs = 2", "what counts its rows was altered"),
        ("UPDATE seal SET crc = crc + 1", "what counts its rows was altered"),
        ("DELETE FROM seal", "what counts its rows was altered"),
        ("DELETE FROM inputs", "1 inputs were recorded, 0 are there"),
        ("DELETE FROM chunks", "1 raw packets were recorded, 0 are there"),
        ("UPDATE reach SET t_ns = 7", "the time reached was altered"),
        ("UPDATE header SET crc = 0 WHERE rowid = 1", "the first copy of its header was altered"),
    ],
)
def test_what_was_altered_or_is_missing_is_named(tmp_path: Path, statement: str, say: str) -> None:
    assert say in damage(tmp_path, statement)


@pytest.mark.parametrize("altered", ["7", "-1", "'soon'"])
def test_the_time_reached_is_what_the_seal_says(tmp_path: Path, altered: str) -> None:
    """That is 0 here, and one input is later."""
    found = read(spoiled(tmp_path, f"UPDATE reach SET t_ns = {altered}"), salvage=True)
    assert (found.damage, found.reach_ns) == (["the time reached was altered"], 5)


@pytest.mark.parametrize(
    ("altered", "say", "reached"),
    [("'soon'", "was altered", 0), ("-1", "is no time of a session", 0), ("9", "", 9)],
)
def test_without_a_seal_the_time_reached_is_what_stands_there_if_it_is_one(
    tmp_path: Path, altered: str, say: str, reached: int
) -> None:
    """No input or event is later than 0 there."""
    gone = ("DROP TABLE seal", "DELETE FROM inputs", "DELETE FROM chunks")
    path = spoiled(tmp_path, f"UPDATE reach SET t_ns = {altered}", *gone)
    found = read(path, salvage=True)
    assert found.damage == ([f"the time reached {say}"] if say else [])
    assert found.reach_ns == reached


@pytest.mark.parametrize("version", [FORMAT + 1, 999])
def test_a_session_of_a_newer_program_is_no_damaged_one(tmp_path: Path, version: int) -> None:
    path = spoiled(tmp_path, f"PRAGMA user_version = {version}")
    with pytest.raises(BadInputError, match=f"session format {version} is newer than this program"):
        read(path, salvage=True)


@pytest.mark.parametrize("version", [0, 1000])
def test_a_number_that_no_program_has_reached_stops_nobody(tmp_path: Path, version: int) -> None:
    found = read(spoiled(tmp_path, f"PRAGMA user_version = {version}"), salvage=True)
    assert (len(list(found.inputs)), len(found.events)) == (2, 1)


def test_a_packet_that_is_not_found_by_its_number_is_left_out(tmp_path: Path) -> None:
    """Numbers out of order in a page: all are seen in passing, and one is not where it should be."""

    def fill(database: sqlite3.Connection) -> None:
        for level in ("chord", "hub", "left"):
            packet(database, 1, b"\x00\x00\x01x", level=level)

    path = made(tmp_path / "order.session", fill)
    with sqlite3.connect(path) as database:
        ask = "SELECT rootpage FROM sqlite_schema WHERE name = 'chunks'"
        (root,) = database.execute(ask).fetchone()
    database.close()
    data, at = bytearray(path.read_bytes()), PAGE * (root - 1)
    first = at + int.from_bytes(data[at + 8 : at + 10], "big")
    assert data[first + 1] == 1, "its number, behind its length (SQLite file format, 1.6)"
    data[first + 1] = 9
    path.write_bytes(data)
    found = read(path, salvage=True)
    assert "raw data of chord at 0.0 s: it is not found again by its number" in found.damage
    assert [one.level for one in found.inputs if isinstance(one, Bytes)] == ["hub", "left"]


def test_a_header_of_which_one_copy_is_sound_is_read(tmp_path: Path) -> None:
    assert damage(tmp_path, "UPDATE header SET crc = 0 WHERE rowid = 2") == []


def test_a_packet_that_is_not_later_than_the_one_before_is_left_out(tmp_path: Path) -> None:
    def twice(database: sqlite3.Connection) -> None:
        for _ in range(2):
            packet(database, 1, b"\x00\x00\x01x")

    found = read(made(tmp_path / "twice.session", twice), salvage=True)
    assert found.damage == [
        "raw data of chord at 0.0 s: it is not later than what came before",
    ]
    assert len(list(found.inputs)) == 1


def test_packets_of_two_levels_may_be_of_one_time(tmp_path: Path) -> None:
    def fill(database: sqlite3.Connection) -> None:
        packet(database, 1, b"\x00\x00\x01x")
        packet(database, 2, b"\x00\x00\x01y\x01\x00\x01z", level="hub")

    found = read(made(tmp_path / "two.session", fill), salvage=True)
    assert not any("not later" in one for one in found.damage)


def test_a_seal_that_is_sound_again_counts(tmp_path: Path) -> None:
    """Whoever deletes a row and mends the seal has a file in which nothing is missing."""
    counts = (1, 0, 1, 1, 0)
    crc = crc_of(" ".join(map(str, counts)))
    mended = f"UPDATE seal SET chunks = 0, crc = {crc}"
    assert damage(tmp_path, "DELETE FROM chunks", mended) == []
