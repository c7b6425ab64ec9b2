"""Each kind of damage to a file of our own form is said in its own sentence, and nothing else is."""

import sqlite3
from pathlib import Path

import pytest

from daemon.session.recording import read
from daemon.session.tables import crc_of
from tests.session.test_strangers import made, packet, row

NOTE = '{"event": "noted", "n": %d, "t_ns": 0, "kind": "note", "say": "tools counted"}'
END = '{"input": "end", "t_ns": 5, "reason": "tools away"}'


def sound(database: sqlite3.Connection) -> None:
    packet(database, 1, b"\x00\x00\x01x")
    row(database, "inputs", 5, END)
    row(database, "events", 1, NOTE % 1)


def damage(folder: Path, *statements: str) -> list[str]:
    path = made(folder / "some.session", sound)
    with sqlite3.connect(path) as database:
        for statement in statements:
            database.execute(statement)
    database.close()
    return read(path, salvage=True).damage


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
