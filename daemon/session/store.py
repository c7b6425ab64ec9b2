"""The writer of a session file: one SQLite database a session, written by one connection.

Each commit holds inputs, the events they caused and the session time reached, so that after
a crash the recorded outputs are exactly the replay of the recorded inputs. `settle` moves it from
the journal (`-wal`) into the file, so that no more than a few commits hang on a journal.
"""

import contextlib
import json
import logging
import os
import sqlite3
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Never, Self

from daemon.session.chunks import Packet, packed
from daemon.session.tables import SEAL, Seal, crc_of, write_new
from shared.errors import BadInputError, OutsideError
from shared.events import Event
from shared.inputs import Bytes, Input
from shared.job import Header
from shared.messages import event_to_dict, input_to_dict

log = logging.getLogger(__name__)

OPEN_WITHIN_S = 5.0


class HeldError(OutsideError):
    """Another program holds the session file for writing: nothing was written, try again."""


class Store:
    """The one writer of a session file. Every method is synchronous and may wait for the disk.

    Attributes:
        path: where the session is now.
        held: another program holds the file: the last commit was not written.

    Raises:
        OutsideError: the disk is full, read-only or failing; nothing of the call was kept.
    """

    def __init__(self, path: Path, database: sqlite3.Connection) -> None:
        self.path = path
        self.held = False
        self._database = database
        self._identity = _identity(path)
        self._moved = ""
        self._in_journal = ""
        with _outside(path):
            self._seal = _sealed_so_far(database)
        self._journal = _identity(_journal_of(path))

    @property
    def notices(self) -> tuple[str, ...]:
        """What a person should know of the recording now, in words; mostly nothing."""
        held = f"{self.path.name} is held by another program: nothing new is told until that lets it go"
        return tuple(filter(None, (held if self.held else "", self._moved, self._in_journal)))

    @classmethod
    def create(cls, path: Path, header: Header) -> Self:
        """Begin a new file. Under its name it is there whole, header and all, or not at all.

        Raises:
            BadInputError: a file of that name is already there.
        """
        path = path.absolute()
        if path.exists():
            raise BadInputError(str(path), "", "already exists", "name another session file")
        with _outside(path), _making(path) as making:
            write_new(making, header)
            making.rename(path)
            _settle_name(path)
        return cls._open(path)

    @classmethod
    def append(cls, path: Path) -> Self:
        """Go on with a file that is already there (read it first: `read` checks it)."""
        return cls._open(path.absolute())

    @classmethod
    def _open(cls, path: Path) -> Self:
        with _outside(path):
            return cls(path, writable(path))

    def commit(
        self,
        inputs: Collection[Input],
        events: Sequence[Event],
        reach_ns: int,
        syncing: Callable[[], None] = lambda: None,
    ) -> None:
        """Write inputs, the events they caused and the time reached, all or nothing.

        syncing: called when all of it is handed over and only the disk is waited for.

        Raises:
            HeldError: another program holds the file; try again. That is said once.
        """
        packets = list(_packets(inputs))
        others = [_input_row(item) for item in inputs if not isinstance(item, Bytes)]
        told = [(event.n, *_sealed(event_to_dict(event))) for event in events]
        seal = self._seal.after(len(packets), len(others), len(told), reach_ns)
        with _outside(self.path):
            self._come_back()
            if not self._wrote(packets, others, told, seal, syncing):
                self._say_it_is_held()
            self._seal = seal

    def settle(self) -> None:
        """Move what was committed out of the journal into the one file.

        It is on the disk before that too, so nobody waits for it, and a failure is told and no error.
        """
        try:
            way = self._database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            _, there, moved = way.fetchone()
            why = "" if moved == there else "another program reads what it was before"
        except sqlite3.Error as error:
            why = str(error)
        if why and not self._in_journal:
            log.warning("%s stays in its journal: %s", self.path, why)
        self._in_journal = f"{self.path.name} stays in its journal: {why}" if why else ""

    def close(self) -> None:
        """Leave one plain file behind; where another program reads it, its journal beside it."""
        with _outside(self.path):
            try:
                self._come_back()
                self._database.execute("PRAGMA journal_mode = DELETE")
            except sqlite3.OperationalError as error:
                if not _busy(error):
                    raise
                log.warning(
                    "%s is complete, but another program has it open: keep %s-wal beside it",
                    self.path,
                    self.path.name,
                )
            finally:
                self._database.close()

    # --- one commit -----------------------------------------------------------------------

    def _wrote(
        self,
        packets: list[Packet],
        inputs: list[Any],
        events: list[Any],
        seal: Seal,
        syncing: Callable[[], None],
    ) -> bool:
        """Write one transaction; False where another program holds the file."""
        database = self._database
        try:
            database.execute("BEGIN IMMEDIATE")
            database.executemany(
                "INSERT INTO chunks (level, first_ns, count, crc, data) VALUES (?, ?, ?, ?, ?)",
                [(p.level, p.first_ns, p.count, p.crc, p.data) for p in packets],
            )
            database.executemany("INSERT INTO inputs VALUES (?, ?, ?)", inputs)
            database.executemany("INSERT INTO events VALUES (?, ?, ?)", events)
            database.execute("UPDATE reach SET t_ns = ?", (seal.reach_ns,))
            database.execute("DELETE FROM seal")
            database.execute("INSERT INTO seal VALUES (?, ?, ?, ?, ?, ?)", seal.row())
            syncing()
            database.execute("COMMIT")
        except sqlite3.Error as error:
            if database.in_transaction:
                database.execute("ROLLBACK")
            if _busy(error):
                return False
            raise
        if self.held:
            log.warning("%s is free again: recording goes on", self.path)
            self.held = False
        return True

    def _say_it_is_held(self) -> Never:
        if not self.held:
            self.held = True
            log.warning("%s", self.notices[0])
        raise HeldError(
            f"{self.path} was held by another program: what was not told is not in it",
            "end that program; the same command goes on",
        )

    # --- a file that went away ------------------------------------------------------------

    def _come_back(self) -> None:
        """Write everything anew where the file was deleted or replaced while it is recorded."""
        if _identity(self.path) == self._identity:
            return
        gone, self.path = self.path, _free(self.path)
        self.path.parent.mkdir(parents=True, exist_ok=True)
        with _making(self.path) as making:
            copy = sqlite3.connect(making)
            try:
                self._database.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")
            finally:
                copy.close()
            making.rename(self.path)
            _settle_name(self.path)
        with contextlib.suppress(sqlite3.Error):
            self._database.close()
        if self.path != gone:
            self._take_journal_away(gone)
        self._database = writable(self.path)
        self._identity = _identity(self.path)
        self._journal = _identity(_journal_of(self.path))
        self._moved = (
            f"{gone.name} was deleted or replaced while it was recorded: "
            f"all of it is now in {self.path}"
        )
        log.warning("%s", self._moved)

    def _take_journal_away(self, gone: Path) -> None:
        """Leave nothing of ours beside a file that is not ours: it would be read as that file's."""
        journal = _journal_of(gone)
        if self._journal is None or _identity(journal) != self._journal:
            return
        with contextlib.suppress(OSError):
            journal.unlink()
            gone.with_name(f"{gone.name}-shm").unlink(missing_ok=True)


def writable(path: Path) -> sqlite3.Connection:
    """Open for writing, with the journal beside the file; waits a little for other programs."""
    database = sqlite3.connect(
        path, timeout=OPEN_WITHIN_S, isolation_level=None, check_same_thread=False
    )
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    # from here on `commit` waits by itself, and says so
    database.execute("PRAGMA busy_timeout = 0")
    return database


def _sealed_so_far(database: sqlite3.Connection) -> Seal:
    """Return the file's seal; a file from before there were seals gets one."""
    have = database.execute("SELECT name FROM sqlite_schema WHERE name = 'seal'").fetchone()
    row = database.execute("SELECT * FROM seal").fetchone() if have else None
    if row is not None:
        return Seal(*row[:-1])
    if not have:
        database.execute(SEAL.strip())
    counts = (database.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in _COUNTED)  # noqa: S608
    chunks, inputs, events = counts
    (reach_ns,) = database.execute("SELECT t_ns FROM reach").fetchone()
    return Seal(0, chunks, inputs, events, reach_ns)


_COUNTED = ("chunks", "inputs", "events")


@contextlib.contextmanager
def _making(path: Path) -> Iterator[Path]:
    """Give the name a file is made under before it gets its own; nothing of it stays."""
    making = path.with_name(f".{path.name}.making")
    making.unlink(missing_ok=True)
    try:
        yield making
    finally:
        with contextlib.suppress(OSError):
            making.unlink(missing_ok=True)
            making.with_name(f"{making.name}-journal").unlink(missing_ok=True)


def _settle_name(path: Path) -> None:
    """Have the folder itself on the disk: a file without its name is lost."""
    if os.name == "nt":
        return
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def _identity(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _journal_of(path: Path) -> Path:
    return path.with_name(f"{path.name}-wal")


def _free(path: Path) -> Path:
    """Return the path itself, or where another file has taken its name one beside it."""
    names = [path, *(path.with_stem(f"{path.stem}-kept-{n}") for n in range(1, 1000))]
    return next(one for one in names if not one.exists())


def _packets(inputs: Iterable[Input]) -> Iterator[Packet]:
    by_level: dict[str, list[Bytes]] = {}
    for item in inputs:
        if isinstance(item, Bytes):
            by_level.setdefault(item.level, []).append(item)
    for chunks in by_level.values():
        yield from packed(chunks)


def _input_row(item: Input) -> tuple[int, str, int]:
    return (item.t_ns, *_sealed(input_to_dict(item)))


def _sealed(data: dict[str, Any]) -> tuple[str, int]:
    text = json.dumps(data, separators=(",", ":"))
    return text, crc_of(text)


def _busy(error: sqlite3.Error) -> bool:
    name = str(getattr(error, "sqlite_errorname", ""))
    return name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


class _outside:  # noqa: N801
    """Turn errors of the database and the disk into words about the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if not isinstance(error, sqlite3.Error | OSError):
            return
        full = getattr(error, "sqlite_errorname", "") == "SQLITE_FULL"
        remedy = "make room on the disk" if full else "check the folder and its permissions"
        words = error.strerror if isinstance(error, OSError) else error
        raise OutsideError(f"cannot record to {self.path}: {words}", remedy) from error
