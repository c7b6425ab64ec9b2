"""A stranger's file: a sentence, and bounded memory, whatever it claims to hold."""

import json
import sqlite3
import tracemalloc
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from daemon.session import reader
from daemon.session.recording import Recording, read
from daemon.session.replay import replay, verify
from daemon.session.tables import PAGE, crc_of, write_new
from daemon.session.text import lines
from shared.errors import BadInputError
from tests.daemon.bench import Person, header

MOST_BYTES = 200 * 1024 * 1024


def made(path: Path, fill: Callable[[sqlite3.Connection], None]) -> Path:
    """A session file of our own form that somebody else filled."""
    write_new(path, header())
    with sqlite3.connect(path) as database:
        fill(database)
        chunks, inputs, events = (
            database.execute(f"SELECT count(*) FROM {t}").fetchone()[0]
            for t in ("chunks", "inputs", "events")
        )
        row = (1, chunks, inputs, events, 0)
        crc = crc_of(" ".join(map(str, row)))
        database.execute("UPDATE seal SET commits=?, chunks=?, inputs=?, events=?, reach_ns=?", row)
        database.execute("UPDATE seal SET crc = ?", (crc,))
    database.close()
    return path


def packet(database: sqlite3.Connection, count: int, body: bytes, level: str = "chord") -> None:
    data = zlib.compress(body, 9)
    crc = zlib.crc32(data, zlib.crc32(f"{level} 0 {count} ".encode()))
    database.execute(
        "INSERT INTO chunks (level, first_ns, count, crc, data) VALUES (?, 0, ?, ?, ?)",
        (level, count, crc, data),
    )


def row(database: sqlite3.Connection, table: str, key: int, text: str) -> None:
    database.execute(f"INSERT INTO {table} VALUES (?, ?, ?)", (key, text, crc_of(text)))


def many_chunks(database: sqlite3.Connection) -> None:
    for _ in range(6):
        packet(database, 916_000, b"\x01\x00\x00" * 916_000)


def unpacks_to_gigabytes(database: sqlite3.Connection) -> None:
    body = (b"\x01\x00" + b"\x80\x80\x40" + bytes(1 << 20)) * 15
    data = zlib.compress(body, 9)
    crc = zlib.crc32(data, zlib.crc32(b"chord 0 15 "))
    database.executemany(
        "INSERT INTO chunks (level, first_ns, count, crc, data) VALUES ('chord', 0, 15, ?, ?)",
        [(crc, data)] * 210,
    )


def peak(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("fill", [many_chunks, unpacks_to_gigabytes])
def test_what_unpacks_to_more_than_levels_send_is_left_out(
    tmp_path: Path, fill: Callable[[sqlite3.Connection], None]
) -> None:
    path = made(tmp_path / "bomb.session", fill)
    found: list[Recording] = []
    assert peak(lambda: found.append(read(path, salvage=True))) < MOST_BYTES
    assert any("more than" in one or "larger than" in one for one in found[0].damage)


def test_views_that_never_end_are_no_session(tmp_path: Path) -> None:
    def endless(database: sqlite3.Connection) -> None:
        database.execute("ALTER TABLE events RENAME TO kept")
        database.execute(
            "CREATE VIEW events AS WITH RECURSIVE r(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM r)"
            " SELECT n, 'x' AS json, 0 AS crc FROM r"
        )

    path = tmp_path / "endless.session"
    write_new(path, header())
    with sqlite3.connect(path) as database:
        endless(database)
    database.close()
    with pytest.raises(BadInputError, match="damaged"):
        read(path)
    assert not read(path, salvage=True).events


ODD = {
    "deep": ("events", "[" * 100_000),
    "no object": ("events", "7"),
    "n is no number": ("events", '{"event": "noted", "n": [], "t_ns": 0, "kind": "note"}'),
    "n is infinite": ("events", '{"event": "noted", "n": 1e999, "t_ns": 0, "kind": "note"}'),
    "a field of another kind": ("events", '{"event": "held", "n": 1, "t_ns": 0, "blade": {}}'),
    "an angle in words": (
        "events",
        '{"event":"held","n":1,"t_ns":0,"blade":1,"angle_deg":"x","u95_deg":1,"lift_effect_deg":0,"tolerance":"in"}',
    ),
    "a late input": ("inputs", '{"input": "end", "t_ns": 900000000000000000000}'),
    "no time": ("inputs", '{"input": "end"}'),
    "a list for a kind": ("inputs", '{"input": [1], "t_ns": 5}'),
    "t_s is a list": ("inputs", '{"input": "end", "t_s": []}'),
    "t_s is infinite": ("inputs", '{"input": "end", "t_s": 1e999}'),
    "an infinite blade": (
        "inputs",
        '{"input":"command","t_ns":5,"id":"a","client":"b","seen":0,"kind":"name","args":{"blade":1e999}}',
    ),
}


@pytest.mark.parametrize(("table", "text"), ODD.values(), ids=ODD.keys())
def test_odd_rows_and_lines_are_left_out_in_a_sentence(
    tmp_path: Path, table: str, text: str
) -> None:
    path = made(tmp_path / "odd.session", lambda database: row(database, table, 1, text))
    found = read(path, salvage=True)
    assert found.damage
    assert (list(found.inputs), found.events) == ([], [])
    assert all(len(one) < 600 for one in found.damage)
    form = tmp_path / "odd.jsonl"
    form.write_text(next(lines(found)) + "\n" + text + "\n", "utf-8")
    assert read(form, salvage=True).damage


def leaves(path: Path, table: str) -> list[int]:
    """Return where a table's root keeps the numbers of its leaves (SQLite file format, 1.6)."""
    with sqlite3.connect(path) as database:
        ask = "SELECT rootpage FROM sqlite_schema WHERE name = ?"
        (root,) = database.execute(ask, (table,)).fetchone()
    database.close()
    data, at = path.read_bytes(), PAGE * (root - 1)
    assert data[at] == 5, "an inner page of a table"
    count = int.from_bytes(data[at + 3 : at + 5], "big")
    cells = [int.from_bytes(data[at + 12 + 2 * n : at + 14 + 2 * n], "big") for n in range(count)]
    return [*(at + cell for cell in cells), at + 8]


def test_of_rows_around_a_broken_page_none_is_lost(tmp_path: Path) -> None:
    def fill(database: sqlite3.Connection) -> None:
        for n in range(1, 101):
            note = {"event": "noted", "n": n, "t_ns": n, "kind": "note", "say": "x" * 400}
            row(database, "events", n, json.dumps(note))

    path = made(tmp_path / "broken.session", fill)
    data, (before, broken) = bytearray(path.read_bytes()), leaves(path, "events")[2:4]
    last_before, last_broken = data[before + 4], data[broken + 4]
    assert last_before < last_broken < 100, "keys in one byte each"
    page = int.from_bytes(data[broken : broken + 4], "big")
    data[PAGE * (page - 1) : PAGE * page] = bytes(PAGE)
    path.write_bytes(data)
    numbers = [event.n for event in read(path, salvage=True).events]
    assert numbers == [*range(1, last_before + 1), *range(last_broken + 1, 101)]


def test_a_file_that_leads_round_in_a_circle_is_left_when_it_has_told_more_than_it_holds(
    tmp_path: Path,
) -> None:
    """Every leaf is a page of pages, each of which is the first leaf."""

    def fill(database: sqlite3.Connection) -> None:
        database.executemany("INSERT INTO events VALUES (?, '', 0)", ((n,) for n in range(9000)))

    path = made(tmp_path / "circle.session", fill)
    data, cells = bytearray(path.read_bytes()), leaves(path, "events")
    page, other = (int.from_bytes(data[cell : cell + 4], "big") for cell in cells[:2])
    root = cells[-1] // PAGE
    for cell in cells:
        data[cell : cell + 4] = page.to_bytes(4, "big")
    data[PAGE * (other - 1) : PAGE * other] = data[PAGE * root : PAGE * (root + 1)]
    for cell in cells:
        data[cell : cell + 4] = other.to_bytes(4, "big")
    path.write_bytes(data)
    assert "events: more rows than the file can hold" in read(path, salvage=True).damage


def test_a_file_with_more_breaks_than_one_has_is_read_no_further(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill(database: sqlite3.Connection) -> None:
        for n in range(1, 101):
            row(database, "inputs", n, json.dumps({"input": "end", "t_ns": n, "reason": "x" * 400}))

    path = made(tmp_path / "breaks.session", fill)
    data, cells = bytearray(path.read_bytes()), leaves(path, "inputs")
    for cell in cells[1:8:2]:
        page = int.from_bytes(data[cell : cell + 4], "big")
        data[PAGE * (page - 1) : PAGE * page] = bytes(PAGE)
    path.write_bytes(data)
    whole = len(read(path, salvage=True).inputs)
    monkeypatch.setattr(reader, "_MOST_BREAKS", 1)
    found = read(path, salvage=True)
    assert len([one for one in found.damage if "malformed" in one]) == 2
    assert 0 < len(found.inputs) < whole


def test_behind_the_last_number_that_a_row_can_have_nothing_is_looked_for(tmp_path: Path) -> None:
    """Leaves in another order: the largest number first, then a page that is not there."""
    last = (1 << 63) - 1

    def fill(database: sqlite3.Connection) -> None:
        for key in range(last - 40, last + 1):
            row(database, "events", key, "x" * 1000)

    path = made(tmp_path / "last.session", fill)
    data, (first, second, *_, end) = bytearray(path.read_bytes()), leaves(path, "events")
    data[first : first + 4] = data[end : end + 4]
    data[second : second + 4] = bytes(4)
    path.write_bytes(data)
    found = read(path, salvage=True)
    assert [one for one in found.damage if f"after {last}" in one], found.damage
    assert found.events == []


def test_an_input_of_a_level_the_job_does_not_have_is_a_sentence(tmp_path: Path) -> None:
    path = made(
        tmp_path / "level.session", lambda database: packet(database, 1, b"\x05\x00\x01x", "nobody")
    )
    with pytest.raises(BadInputError, match=r"cannot be replayed.*nobody"):
        replay(read(path))


CARRIED: dict[str, Any] = {
    "no reference": {"blades": {}},
    "a blade without an angle": {
        "reference": {"theta_deg": 1.0, "u_deg": 0.1, "n": 2},
        "blades": {"1": {}},
    },
    "a blade that is a word": {
        "reference": {"theta_deg": 1.0, "u_deg": 0.1, "n": 2},
        "blades": {"left": {"angle_deg": 1.0, "u_deg": 0.1}},
    },
    "words for an angle": {"reference": {"theta_deg": "x", "u_deg": 0.1, "n": 2}, "blades": {}},
    "an unknown key": {"weather": 1},
}


@pytest.mark.parametrize("carried", CARRIED.values(), ids=CARRIED.keys())
def test_what_a_header_carries_is_held_to_its_form(tmp_path: Path, carried: Any) -> None:
    form = tmp_path / "a.jsonl"
    data = header().model_dump(mode="json") | {"carried": carried}
    form.write_text(json.dumps(data) + "\n", "utf-8")
    with pytest.raises(BadInputError, match="carried"):
        read(form)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("profiles", {}, "no profile of level chord"),
        ("session", "\ud800", "line 1"),
        ("carried", {"\udc00": 1}, "line 1"),
    ],
)
def test_a_header_that_nothing_can_be_done_with_is_a_sentence(
    tmp_path: Path, key: str, value: Any, words: str
) -> None:
    form = tmp_path / "a.jsonl"
    form.write_text(json.dumps(header().model_dump(mode="json") | {key: value}) + "\n", "utf-8")
    with pytest.raises(BadInputError, match=words):
        read(form)


def test_a_gap_of_years_between_inputs_is_no_work(tmp_path: Path) -> None:
    person = Person(header())
    person.lay(17.0)
    recording = Recording(person.header, person.inputs, person.events, 9 * 366 * 86_400 * 10**9)
    assert len(replay(recording)) < len(person.events) + 10
    assert not verify(recording, []).agrees
