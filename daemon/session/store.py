"""The session file: one SQLite database a session, written by one connection.

Each commit holds inputs, the events they caused and the session time reached, so that after
a crash the recorded outputs are exactly the replay of the recorded inputs.
"""

import json
import sqlite3
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Self

from daemon.core.rules import FORMAT
from daemon.session.chunks import Packet, pack, unpack
from daemon.session.recording import Recording
from shared.errors import BadInputError, OutsideError
from shared.events import Event
from shared.inputs import Bytes, Input
from shared.job import Header
from shared.messages import event_from_dict, event_to_dict, input_from_dict, input_to_dict

APPLICATION_ID = 0x53424C44  # "SBLD"

UNREADABLE = (sqlite3.Error, UnicodeDecodeError)
"""What reading a damaged file raises; the words of some errors are broken themselves."""

SCHEMA = """
CREATE TABLE header (json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE chunks (id INTEGER PRIMARY KEY, level TEXT NOT NULL, first_ns INTEGER NOT NULL,
    count INTEGER NOT NULL, crc INTEGER NOT NULL, data BLOB NOT NULL);
CREATE TABLE inputs (t_ns INTEGER PRIMARY KEY, json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE events (n INTEGER PRIMARY KEY, json TEXT NOT NULL, crc INTEGER NOT NULL);
CREATE TABLE reach (t_ns INTEGER NOT NULL);
"""


class Store:
    """The one writer of a session file. Every method is synchronous and may wait for the disk.

    Raises:
        OutsideError: the disk is full, read-only or failing; nothing of the call was kept.
    """

    def __init__(self, path: Path, database: sqlite3.Connection) -> None:
        self.path = path
        self._database = database

    @classmethod
    def create(cls, path: Path, header: Header) -> Self:
        """Begin a new file.

        Raises:
            BadInputError: a file of that name is already there.
        """
        if path.exists():
            raise BadInputError(str(path), "", "already exists", "name another session file")
        store = cls._open(path)
        store._begin(header)  # noqa: SLF001 - its own class
        return store

    @classmethod
    def append(cls, path: Path) -> Self:
        """Go on with a file that is already there (read it first: `read` checks it)."""
        return cls._open(path)

    @classmethod
    def _open(cls, path: Path) -> Self:
        with _outside(path):
            database = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
            database.execute("PRAGMA journal_mode = WAL")
            database.execute("PRAGMA synchronous = FULL")
        return cls(path, database)

    def _begin(self, header: Header) -> None:
        text, database = header.model_dump_json(), self._database
        with _outside(self.path):
            database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            database.execute(f"PRAGMA user_version = {FORMAT}")
            database.executescript("BEGIN;" + SCHEMA)
            database.execute("INSERT INTO header VALUES (?, ?)", (text, _crc(text)))
            database.execute("INSERT INTO reach VALUES (0)")
            database.commit()

    def commit(self, inputs: Sequence[Input], events: Sequence[Event], reach_ns: int) -> None:
        """Write inputs, the events they caused and the time reached, all or nothing."""
        with _outside(self.path):
            try:
                self._database.execute("BEGIN IMMEDIATE")
                self._write(inputs, events, reach_ns)
                self._database.execute("COMMIT")
            except sqlite3.Error:
                if self._database.in_transaction:
                    self._database.execute("ROLLBACK")
                raise

    def close(self) -> None:
        """Leave one plain file behind."""
        with _outside(self.path):
            self._database.execute("PRAGMA journal_mode = DELETE")
            self._database.close()

    def _write(self, inputs: Sequence[Input], events: Sequence[Event], reach_ns: int) -> None:
        write = self._database.executemany
        write(
            "INSERT INTO chunks (level, first_ns, count, crc, data) VALUES (?, ?, ?, ?, ?)",
            [(p.level, p.first_ns, p.count, p.crc, p.data) for p in _packets(inputs)],
        )
        others = [item for item in inputs if not isinstance(item, Bytes)]
        write(
            "INSERT INTO inputs VALUES (?, ?, ?)",
            [(item.t_ns, *_sealed(input_to_dict(item))) for item in others],
        )
        write(
            "INSERT INTO events VALUES (?, ?, ?)",
            [(event.n, *_sealed(event_to_dict(event))) for event in events],
        )
        self._database.execute("UPDATE reach SET t_ns = ?", (reach_ns,))


def read(path: Path) -> Recording:
    """Read a whole session file; what is damaged is left out and named in `damage`.

    Raises:
        BadInputError: it is not a session of this program, or not even its header can be read.
    """
    database = sqlite3.connect(f"file:{_quoted(path)}?mode=ro", uri=True)
    # a flipped bit may break a letter: the checksum tells, not the decoder
    database.text_factory = lambda data: data.decode("utf-8", "replace")
    try:
        return _read(path, database)
    except UNREADABLE as error:
        raise BadInputError(
            str(path), "", f"the session is damaged: its header cannot be read ({error})"
        ) from error
    finally:
        database.close()


def _read(path: Path, database: sqlite3.Connection) -> Recording:
    if database.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        raise BadInputError(str(path), "", "an SQLite file, but not a session of stillblade")
    version = database.execute("PRAGMA user_version").fetchone()[0]
    if version > FORMAT:
        raise BadInputError(
            str(path), "", f"session format {version} is newer than this program", "update it"
        )
    text, crc = database.execute("SELECT json, crc FROM header").fetchone() or ("", -1)
    if not isinstance(text, str) or _crc(text) != crc:
        raise BadInputError(str(path), "", "the session is damaged: its header was altered")
    recording = Recording(Header.model_validate_json(text))
    _read_chunks(database, recording)
    _read_sealed(database, recording, "inputs", "t_ns", input_from_dict, recording.inputs.append)
    _read_sealed(database, recording, "events", "n", event_from_dict, recording.events.append)
    recording.inputs.sort(key=lambda item: item.t_ns)
    recording.reach_ns = _reach(database, recording)
    missing = _first_gap([event.n for event in recording.events])
    if missing and not recording.damage:
        recording.damage.append(f"event {missing} is missing")
    return recording


def _read_chunks(database: sqlite3.Connection, recording: Recording) -> None:
    columns = "id, level, first_ns, count, crc, data"
    for row in _rows(database, recording, "chunks", "id", columns):
        try:
            recording.inputs += unpack(Packet(*row[1:]))
        except (ValueError, IndexError, TypeError, OverflowError) as error:
            where = f"{row[2] / 1e9:.1f} s" if isinstance(row[2], int) else "an unknown time"
            recording.damage.append(f"raw data of {row[1]} at {where}: {error}")


def _read_sealed(
    database: sqlite3.Connection,
    recording: Recording,
    table: str,
    key: str,
    build: Callable[[dict[str, Any]], Any],
    keep: Callable[[Any], None],
) -> None:
    for number, text, crc in _rows(database, recording, table, key, f"{key}, json, crc"):
        try:
            if not isinstance(text, str) or _crc(text) != crc:
                raise ValueError("checksum differs")  # noqa: TRY301
            keep(build(json.loads(text)))
        except ValueError as error:
            recording.damage.append(f"{table} {number}: {error}")


def _rows(
    database: sqlite3.Connection, recording: Recording, table: str, key: str, columns: str
) -> Iterator[tuple[Any, ...]]:
    """Yield rows in order of key; round a broken page, from the other end."""
    seen = None
    try:
        for row in database.execute(f"SELECT {columns} FROM {table} ORDER BY {key}"):  # noqa: S608
            seen = row[0]
            yield row
    except UNREADABLE as error:
        recording.damage.append(f"{table} after {seen}: {error}")
        yield from reversed(list(_rows_backwards(database, table, key, columns, seen)))


def _rows_backwards(
    database: sqlite3.Connection, table: str, key: str, columns: str, seen: int | None
) -> Iterator[tuple[Any, ...]]:
    try:
        for row in database.execute(f"SELECT {columns} FROM {table} ORDER BY {key} DESC"):  # noqa: S608
            if seen is not None and row[0] <= seen:
                return
            yield row
    except UNREADABLE:
        return  # the break was already named on the way forwards


def _reach(database: sqlite3.Connection, recording: Recording) -> int:
    try:
        stored = database.execute("SELECT t_ns FROM reach").fetchone()
    except UNREADABLE:
        stored = None
        recording.damage.append("the time reached cannot be read")
    times = [item.t_ns for item in recording.inputs] + [e.t_ns for e in recording.events]
    reached = stored[0] if stored else None
    if not isinstance(reached, int):
        recording.damage.append("the time reached is not there")
        reached = 0
    return max([reached, *times])


def _packets(inputs: Iterable[Input]) -> list[Packet]:
    by_level: dict[str, list[Bytes]] = {}
    for item in inputs:
        if isinstance(item, Bytes):
            by_level.setdefault(item.level, []).append(item)
    return [pack(chunks) for chunks in by_level.values()]


def _first_gap(numbers: Sequence[int]) -> int:
    return next((want for want, n in enumerate(numbers, 1) if n != want), 0)


def _sealed(data: dict[str, Any]) -> tuple[str, int]:
    text = json.dumps(data, separators=(",", ":"))
    return text, _crc(text)


def _crc(text: str) -> int:
    return zlib.crc32(text.encode())


def _quoted(path: Path) -> str:
    return str(path).replace("%", "%25").replace("?", "%3f").replace("#", "%23")


class _outside:  # noqa: N801
    """Turn database errors into words about the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if not isinstance(error, sqlite3.Error):
            return
        full = getattr(error, "sqlite_errorname", "") == "SQLITE_FULL"
        remedy = "make room on the disk" if full else "check the folder and its permissions"
        raise OutsideError(f"cannot record to {self.path}: {error}", remedy) from error
