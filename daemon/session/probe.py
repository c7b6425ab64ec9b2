"""Whether sessions can be recorded in a folder: tried, as it will be done, and cleaned up."""

import contextlib
import os
import shutil
import sqlite3
import tempfile
from dataclasses import dataclass
from pathlib import Path

from daemon.session.store import writable


@dataclass(frozen=True, slots=True)
class Disk:
    """What was found of a folder.

    free_bytes: room on its disk; None where that could not be asked.
    why_not: what the system said when a record was tried, "" where it went well.
    """

    folder: Path
    free_bytes: int | None
    why_not: str = ""


def tried(folder: Path) -> Disk:
    """Commit something in this folder, have it synced, and take it away again."""
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        return Disk(folder, None, error.strerror or str(error))
    try:
        _try(folder)
    except OSError as error:
        return Disk(folder, free, error.strerror or str(error))
    except sqlite3.Error as error:
        return Disk(folder, free, str(error))
    return Disk(folder, free)


def _try(folder: Path) -> None:
    descriptor, name = tempfile.mkstemp(".check", ".stillblade-", folder)
    try:
        os.fsync(descriptor)
        with contextlib.closing(writable(Path(name))) as database:
            database.execute("CREATE TABLE tried (what TEXT)")
            database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            database.execute("PRAGMA journal_mode = DELETE")
    finally:
        os.close(descriptor)
        for path in folder.glob(f"{Path(name).name}*"):
            path.unlink()
