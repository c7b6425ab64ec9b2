"""Read a session file into a Recording: everything that is sound, and what is not in words.

What a file may cost is bounded by its size, so that a stranger's small file cannot fill the
memory: rows, bytes read and bytes unpacked all come out of one allowance.
"""

import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from daemon.core.rules import FORMAT
from daemon.session.chunks import MOST_CHUNKS, UNPACKED_LIMIT, Packet, unpack
from daemon.session.opening import SCHEMAS, Opened, opened
from daemon.session.recording import LeftoverError, Recording
from daemon.session.stored_inputs import StoredInputs
from daemon.session.tables import APPLICATION_ID, SCHEMA, Seal, crc_of, statements
from shared.errors import BadInputError
from shared.inputs import Input
from shared.job import Header
from shared.messages import LATEST_NS, event_from_dict, input_from_dict
from shared.model import first_problem

UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
"""What reading a damaged file raises; the words of some errors are broken themselves."""
LAST_KEY = (1 << 63) - 1
"""No row of SQLite has a larger number."""


class _AlteredError(Exception):
    """The first page or the header is not what was written."""


@dataclass(slots=True)
class _Allowance:
    """What the file may still cost."""

    size: int
    rows: int = field(init=False)
    payload: int = field(init=False)
    chunks: int = field(init=False)
    unpacked: int = field(init=False)

    def __post_init__(self) -> None:
        self.rows = 1000 + self.size // 8
        self.payload = 1_000_000 + 2 * self.size
        self.chunks = 100_000 + 8 * self.size
        self.unpacked = UNPACKED_LIMIT + 16 * self.size

    def row(self, row: Sequence[Any]) -> bool:
        """Take one row; False where there are more than the file can hold."""
        self.rows -= 1
        self.payload -= sum(len(one) for one in row if isinstance(one, str | bytes))
        return self.rows >= 0 and self.payload >= 0


def read(path: Path) -> Recording:
    """Read a whole session file; what is damaged is left out and named in `damage`.

    Raises:
        BadInputError: it is not a session of this program, or not even its header can be read.
        LeftoverError: a start that was cut short; nothing was recorded.
    """
    try:
        with opened(path) as found:
            recording = _read(path, found)
    except _AlteredError as error:
        return _under_another_first_page(path, str(error))
    except UNREADABLE as error:
        return _under_another_first_page(path, _words(error))
    if not recording.damage:
        return recording
    try:
        other = _under_another_first_page(path, recording.damage[0])
    except BadInputError:
        return recording
    return other if _content(other) > _content(recording) else recording


def _content(recording: Recording) -> int:
    return len(recording.inputs) + len(recording.events)


def _under_another_first_page(path: Path, why: str) -> Recording:
    """Read it again behind the first page that every session begins with."""
    for schema in SCHEMAS:
        try:
            with opened(path, begins_with=schema) as found:
                recording = _read(path, found, begins_with=schema)
        except (_AlteredError, LeftoverError, *UNREADABLE):
            continue
        recording.damage.insert(0, f"its first page: {why}")
        return recording
    raise BadInputError(str(path), "", f"the session is damaged: its header cannot be read ({why})")


def _read(path: Path, found: Opened, *, begins_with: str = "") -> Recording:
    database, left = found.database, _Allowance(found.size)
    sealed = _check_tables(path, database)
    recording = Recording(_header(path, database, found), notes=found.notes, damage=found.damage)
    stored, others = StoredInputs(path, begins_with), list[Input]()
    chunks = _read_chunks(database, recording, left, stored)
    inputs = _read_sealed(database, recording, left, _INPUTS, others)
    events = _read_sealed(database, recording, left, _EVENTS, recording.events)
    stored.add_others(sorted(others, key=lambda item: item.t_ns))
    recording.inputs = stored
    seal = _seal(database, recording, (chunks, inputs, events)) if sealed else None
    recording.reach_ns = max(_reach(database, recording, seal), stored.last_ns)
    _check_numbers(recording)
    return recording


# --- what kind of file it is --------------------------------------------------------------


def _check_tables(path: Path, database: sqlite3.Connection) -> bool:
    """Hold the tables against what they must be; whether there is a seal.

    Raises:
        _AlteredError: it was a session once.
        BadInputError: it never was, or is of a later format.
    """
    mark = database.execute("PRAGMA application_id").fetchone()[0]
    rows = database.execute("SELECT name, type, sql FROM sqlite_schema LIMIT 50").fetchall()
    if not rows and mark in (0, APPLICATION_ID):
        raise LeftoverError(str(path))
    want, have = statements(SCHEMA), {name: sql for name, kind, sql in rows if kind == "table"}
    if mark != APPLICATION_ID and not have.keys() & want.keys():
        raise BadInputError(str(path), "", "an SQLite file, but not a session of stillblade")
    version = database.execute("PRAGMA user_version").fetchone()[0]
    same = all(sql == want.get(name) for name, sql in have.items()) and len(have) == len(rows)
    if mark == APPLICATION_ID and FORMAT < version < 1000:
        raise BadInputError(
            str(path), "", f"session format {version} is newer than this program", "update it"
        )
    if mark != APPLICATION_ID or not same or want.keys() - have.keys() - {"seal"}:
        raise _AlteredError("it is not what was written")
    return "seal" in have


def _header(path: Path, database: sqlite3.Connection, found: Opened) -> Header:
    """Return the header, from whichever copy of it is sound."""
    for number in (1, 2):
        try:
            row = database.execute("SELECT json, crc FROM header WHERE rowid = ?", (number,))
            text, crc = row.fetchone() or ("", -1)
        except UNREADABLE:
            continue
        if isinstance(text, str) and text and crc_of(text) == crc:
            if number > 1:
                found.damage.append("the first copy of its header was altered")
            return _header_from(path, text)
    raise _AlteredError("its header was altered")


def _header_from(path: Path, text: str) -> Header:
    try:
        return Header.model_validate_json(text)
    except ValidationError as error:
        raise BadInputError(f"{path}: header", *first_problem(error)) from error


# --- rows ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Table:
    name: str
    key: str
    build: Callable[[dict[str, Any]], Any]


_INPUTS = _Table("inputs", "t_ns", input_from_dict)
_EVENTS = _Table("events", "n", event_from_dict)


def _read_chunks(
    database: sqlite3.Connection, recording: Recording, left: _Allowance, stored: StoredInputs
) -> int:
    """Look at every packet; what is sound stays where it is."""
    count = 0
    columns = "id, level, first_ns, count, crc, data"
    for row in _rows(database, recording, left, "chunks", "id", columns):
        count += 1
        try:
            limit, most = min(UNPACKED_LIMIT, left.unpacked), min(MOST_CHUNKS, left.chunks)
            chunks = unpack(_packet(row), limit, most)
            _found_again(database, row)
            left.chunks -= len(chunks)
            left.unpacked -= sum(len(chunk.data) for chunk in chunks)
            stored.add_packet(row[0], chunks)
        except (ValueError, TypeError, OverflowError, sqlite3.Error) as error:
            where = f"{row[2] / 1e9:.1f} s" if isinstance(row[2], int) else "an unknown time"
            whose = row[1] if isinstance(row[1], str) else "an unknown level"
            recording.damage.append(f"raw data of {whose} at {where}: {error}")
    return count


def _found_again(database: sqlite3.Connection, row: tuple[Any, ...]) -> None:
    """Refuse a packet that is there when all are looked at, and not when it is asked for."""
    ask = "SELECT level, first_ns, crc FROM chunks WHERE id = ?"
    found = database.execute(ask, row[:1]).fetchone()
    if found != (row[1], row[2], row[4]):
        raise ValueError("it is not found again by its number")


def _packet(row: tuple[Any, ...]) -> Packet:
    """Return the packet of a row; SQLite keeps any kind of value in any column."""
    wanted = (int, str, int, int, int, bytes)
    if not all(isinstance(one, kind) for one, kind in zip(row, wanted, strict=True)):
        raise ValueError("it is not what was written")
    return Packet(*row[1:])


def _read_sealed(
    database: sqlite3.Connection,
    recording: Recording,
    left: _Allowance,
    table: _Table,
    keep: list[Any],
) -> int:
    count = 0
    columns = f"{table.key}, json, crc"
    for number, text, crc in _rows(database, recording, left, table.name, table.key, columns):
        count += 1
        try:
            keep.append(table.build(_unsealed(text, crc)))
        except ValueError as error:
            recording.damage.append(f"{table.name} {number}: {error}")
    return count


def _unsealed(text: object, crc: object) -> dict[str, Any]:
    if not isinstance(text, str) or crc_of(text) != crc:
        raise ValueError("checksum differs")
    try:
        data = json.loads(text)
    except RecursionError as error:
        raise ValueError("nested too deep") from error
    if not isinstance(data, dict):
        raise ValueError("not an object")  # noqa: TRY004 - what is wrong is the file
    return data


def _rows(
    database: sqlite3.Connection,
    recording: Recording,
    left: _Allowance,
    table: str,
    key: str,
    columns: str,
) -> Iterator[tuple[Any, ...]]:
    """Yield rows in order of key; over a broken page, from the first key that reads again."""
    start = 0
    ask = f"SELECT {columns} FROM {table} WHERE {key} >= ? ORDER BY {key}"  # noqa: S608
    while True:
        try:
            for row in _in_order(database, ask, start):
                if not left.row(row):
                    recording.damage.append(f"{table}: more rows than the file can hold")
                    return
                start = max(start, row[0] + 1)
                yield row
        except UNREADABLE as error:
            whence = f"after {start - 1}" if start else "from the first on"
            recording.damage.append(f"{table} {whence}: {_words(error)}")
            found = _next_that_reads(database, table, key, start)
            if found is None or len(recording.damage) > _MOST_BREAKS:
                return
            start = found
        else:
            return


def _in_order(database: sqlite3.Connection, ask: str, start: int) -> Iterator[tuple[Any, ...]]:
    """Yield rows until one cannot be read; then the driver keeps back the one before it, a sound one."""
    try:
        for row in database.execute(ask, (start,)):
            start = max(start, row[0] + 1)
            yield row
    except UNREADABLE:
        if start <= LAST_KEY:
            yield from database.execute(f"{ask} LIMIT 1", (start,))
        raise


_MOST_BREAKS = 1000


def _next_that_reads(database: sqlite3.Connection, table: str, key: str, bad: int) -> int | None:
    """Return the smallest key after one that breaks: look ever further ahead, then halve the way."""
    step = 1
    while bad + step <= LAST_KEY and not _reads(database, table, key, bad + step):
        bad, step = bad + step, 2 * step
    if bad + step > LAST_KEY:
        return None
    good = bad + step
    while good - bad > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if _reads(database, table, key, middle) else (good, middle)
    return good


def _reads(database: sqlite3.Connection, table: str, key: str, start: int) -> bool:
    """Whether a row at or after this key can be read."""
    ask = f"SELECT * FROM {table} WHERE {key} >= ? ORDER BY {key} LIMIT 1"  # noqa: S608
    try:
        return database.execute(ask, (start,)).fetchone() is not None
    except UNREADABLE:
        return False


# --- whether all of it is there -----------------------------------------------------------


def _seal(
    database: sqlite3.Connection, recording: Recording, have: tuple[int, int, int]
) -> Seal | None:
    """Return the seal where it is sound; name the rows that are missing by it."""
    try:
        rows = database.execute("SELECT * FROM seal LIMIT 2").fetchall()
        seal = Seal(*rows[0][:-1]) if len(rows) == 1 else None
        sound = seal is not None and seal.row() == rows[0]
    except (*UNREADABLE, TypeError):
        sound = False
    if not sound or seal is None:
        recording.damage.append("what counts its rows was altered")
        return None
    for name, want, there in zip(
        ("raw packets", "inputs", "events"),
        (seal.chunks, seal.inputs, seal.events),
        have,
        strict=True,
    ):
        if there != want:
            recording.damage.append(f"{want} {name} were recorded, {there} are there")
    return seal


def _reach(database: sqlite3.Connection, recording: Recording, seal: Seal | None) -> int:
    """Return the time reached: what is stored, or what was recorded last."""
    try:
        row = database.execute("SELECT t_ns FROM reach").fetchone()
    except UNREADABLE:
        row = None
    reached = row[0] if row else None
    if not isinstance(reached, int) or (seal is not None and seal.reach_ns != reached):
        recording.damage.append("the time reached was altered")
        reached = seal.reach_ns if seal is not None else 0
    if not 0 <= reached < LATEST_NS:
        recording.damage.append("the time reached is no time of a session")
        reached = 0
    return max([reached, *(event.t_ns for event in recording.events)])


def _check_numbers(recording: Recording) -> None:
    numbers = [event.n for event in recording.events]
    missing = next((want for want, n in enumerate(numbers, 1) if n != want), 0)
    if missing and not recording.damage:
        recording.damage.append(f"event {missing} is missing")


def _words(error: Exception) -> str:
    return str(error).encode("ascii", "backslashreplace").decode()
