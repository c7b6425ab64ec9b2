"""Open a session file for reading, in whatever state it was left, and change nothing of it.

A closed session is one plain file and is read where it lies. One that is being recorded, or was
cut off, has a journal beside it; then file and journal are copied, and what is read is the
copy: it may be written to, so that a journal left by a kill while closing is rolled back, it
needs no permission in the folder, and the one who records is never held up.
"""

import errno
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from daemon.session.tables import OLDEST, PAGE, SCHEMA, first_page
from shared.errors import BadInputError, OutsideError

WAL_HEADER, FRAME_HEADER = 32, 24
"""Bytes before the frames of a -wal, and before the page in each (SQLite file format, 4)."""
LARGEST_VALUE = 64 * 1024 * 1024
LARGEST_FILE = 2 * 1024**3
"""No session comes near it; a larger file is not copied."""
TRIES = 200
NEVER_STILL = "was written all the while it was copied: what was recorded last may be missing"
CLOSED, IN_JOURNAL = b"\x01\x01", b"\x02\x02"
NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
"""What a system says of a copy that it has no room for, whichever of the two files it names."""


@dataclass(slots=True)
class Opened:
    """A session file that can be asked.

    notes: what a person should know though nothing is damaged.
    damage: what is missing for certain.
    """

    database: sqlite3.Connection
    size: int
    notes: list[str] = field(default_factory=list)
    damage: list[str] = field(default_factory=list)


@contextmanager
def opened(path: Path, *, begins_with: str = "") -> Iterator[Opened]:
    """Open a session file.

    begins_with: a schema; the file's first page is then replaced (in a copy) by what such a
        file begins with.

    Raises:
        BadInputError: it cannot be read, or is larger than any session.
        OutsideError: there is no room for the copy.
    """
    if not begins_with and _is_plain(path):
        found = Opened(_connected(path, "mode=ro&immutable=1"), path.stat().st_size)
        try:
            yield _with_its_length(found, path)
        finally:
            found.database.close()
        return
    with _room_for(path) as folder:
        copy = folder / path.name
        still = _copied(path, copy)
        found = _recovered(path, copy)
        if not still:
            found.notes.append(f"{path.name} {NEVER_STILL}")
        if begins_with:
            found.database.close()
            _replace_first_page(copy, begins_with)
            found.database = _connected(copy, "mode=rw")
        try:
            yield _with_its_length(found, copy)
        finally:
            found.database.close()


def _is_plain(path: Path) -> bool:
    """Whether it was closed: no journal beside it, and marked as needing none."""
    return _mark(path) == CLOSED and not any(_size(one) for one in _journals(path))


def _mark(path: Path) -> bytes:
    """Return how it is written and read (SQLite file format, 1.3.3)."""
    with path.open("rb") as file:
        file.seek(18)
        return file.read(2)


def _journals(path: Path) -> tuple[Path, Path]:
    return path.with_name(f"{path.name}-wal"), path.with_name(f"{path.name}-journal")


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _connected(path: Path, ways: str) -> sqlite3.Connection:
    quoted = str(path.absolute()).replace("%", "%25").replace("?", "%3f").replace("#", "%23")
    database = sqlite3.connect(f"file:{quoted}?{ways}", uri=True, isolation_level=None)
    # a flipped bit may break a letter: the checksum tells, not the decoder
    database.text_factory = lambda data: data.decode("utf-8", "replace")
    database.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LARGEST_VALUE)
    # a file that is short by a page would not be opened at all
    database.execute("PRAGMA writable_schema = ON")
    database.execute("PRAGMA trusted_schema = OFF")
    return database


@contextmanager
def _room_for(path: Path) -> Iterator[Path]:
    """Give a folder for the copy; it is gone afterwards."""
    try:
        room = tempfile.TemporaryDirectory(prefix="stillblade-")
    except OSError as error:
        raise _no_room(path, error) from error
    with room as folder:
        yield Path(folder)


def _copied(path: Path, copy: Path) -> bool:
    """Copy file and journals as they are at one moment; False where they never stood still so long."""
    before = _state(path)
    for _ in range(TRIES):
        try:
            _copy_all(path, copy)
        except OSError as error:
            raise _refused(path, error) from error
        after = _state(path)
        if after == before:
            return True
        before = after
    return False


def _copy_all(path: Path, copy: Path) -> None:
    shutil.copyfile(path, copy)
    for one in _journals(path):
        there = copy.with_name(one.name)
        there.unlink(missing_ok=True)
        with suppress(FileNotFoundError):  # most have none, and whoever closes takes it away
            shutil.copyfile(one, there)


def _state(path: Path) -> list[tuple[int, int] | None]:
    """Size and time of the last change of file and journals; None: there is none."""
    if _size(path) > LARGEST_FILE:
        raise BadInputError(str(path), "", "the file is larger than any session")
    return [_changed(one) for one in (path, *_journals(path))]


def _changed(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def _refused(path: Path, error: OSError) -> BadInputError | OutsideError:
    """Return what to say of a copy that failed: the session cannot be read, or there is no room."""
    if error.errno not in NO_ROOM and str(error.filename).startswith(str(path)):
        return BadInputError(str(path), "", f"cannot be read: {error.strerror}")
    return _no_room(path, error)


def _no_room(path: Path, error: OSError) -> OutsideError:
    return OutsideError(
        f"no room to read {path}: {error.strerror}", "make room in the folder for temporary files"
    )


def _recovered(path: Path, copy: Path) -> Opened:
    """Open the copy and let SQLite take its journal in; say what of the journal was not whole."""
    wal = _journals(copy)[0]
    was_open = _mark(copy) == IN_JOURNAL
    data = wal.read_bytes() if wal.exists() else None
    database, taken = _taken_in(copy)
    found = Opened(database, _size(copy))
    if was_open and data is None:
        found.notes.append(
            f"{path.name} was not closed, and its journal {path.name}-wal is not beside it: "
            "what was recorded last may be missing"
        )
    elif data:
        _look_past(found, data, taken)
    return found


def _taken_in(copy: Path) -> tuple[sqlite3.Connection, int]:
    """Return the connection and how many frames of the journal were sound."""
    database = _connected(copy, "mode=rw")
    try:
        frames = database.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()[1]
    except sqlite3.Error:
        database.close()
        for one in _journals(copy):
            one.unlink(missing_ok=True)
        return _connected(copy, "mode=rw"), 0
    return database, max(0, frames)


def _look_past(found: Opened, wal: bytes, taken: int) -> None:
    """Look at what comes after the last sound frame of a journal.

    The journal only grows, and a commit is written only when the one before it is on the
    disk. So one commit that is not whole may be one that was cut off; two can only be damage.
    """
    size = FRAME_HEADER + PAGE
    starts = range(WAL_HEADER + taken * size, len(wal), size)
    salts = wal[16:24] if _sound(wal[:WAL_HEADER]) else b""
    frames = [wal[at : at + FRAME_HEADER] for at in starts]
    ours = [one for one in frames if not _of_before(one, salts)]
    commits = sum(any(one[4:8]) for one in ours)
    if commits > 1:
        found.damage.append(f"the journal is broken: its last {commits} commits cannot be read")
    elif ours:
        found.notes.append(
            "the last commit in the journal is not whole: it was cut off while it was written, "
            "or damaged since"
        )


def _of_before(frame: bytes, salts: bytes) -> bool:
    """Whether a frame is left of a time when the journal was longer.

    Once all of it is in the file it is begun again in place, with two other salts (SQLite file
    format, 4.1). A frame that has one of them is of now, and damaged.

    salts: of a sound header; b"": nobody knows them.
    """
    others = [salts[at : at + 4] != frame[8 + at : 12 + at] for at in (0, 4)]
    return bool(salts) and len(frame) == FRAME_HEADER and all(others)


def _sound(header: bytes) -> bool:
    """Whether the header of a journal is as its checksum says (SQLite file format, 4.2)."""
    order: Literal["big", "little"] = "big" if header[3:4] == b"\x83" else "little"
    words = [int.from_bytes(header[at : at + 4], order) for at in range(0, 24, 4)]
    first = second = 0
    for one, other in zip(words[::2], words[1::2], strict=True):
        first = (first + one + second) & 0xFFFFFFFF
        second = (second + other + first) & 0xFFFFFFFF
    return header[24:] == first.to_bytes(4, "big") + second.to_bytes(4, "big")


def _with_its_length(found: Opened, path: Path) -> Opened:
    """Say so where the file is shorter than it says."""
    with path.open("rb") as file:
        want = int.from_bytes(file.read(32)[28:32], "big")
    have = _size(path) // PAGE
    if have < want < LARGEST_FILE // PAGE:
        found.damage.append(f"the file ends short: {have} of {want} pages")
    return found


def _replace_first_page(copy: Path, schema: str) -> None:
    """Put the page in front that every file with this schema has, whatever it holds."""
    for one in _journals(copy):
        one.unlink(missing_ok=True)
    page = bytearray(first_page(schema))
    page[28:32] = (_size(copy) // PAGE).to_bytes(4, "big")
    with copy.open("r+b") as file:
        file.write(page)
        os.ftruncate(file.fileno(), max(PAGE, _size(copy) // PAGE * PAGE))


SCHEMAS = (SCHEMA, OLDEST)
"""What a file may begin with, the newest first."""
