"""Files that a command writes for a person: never over a record."""

import contextlib
from collections.abc import Iterable
from pathlib import Path

from daemon.cli.options import check
from shared.errors import OutsideError


def refuse_record(out: Path | None, option: str, *sources: Path) -> None:
    """Refuse to write over what a command reads, or over any session file.

    Raises:
        BadInputError: it names the option.
    """
    if out is None or not out.exists():
        return
    over = any(source.exists() and out.samefile(source) for source in sources)
    remedy = "name another file: a record is never written over"
    check(not over, option, f"{out} is the session itself", remedy)
    check(not _is_session(out), option, f"{out} is a session file", remedy)


def write_out(out: Path, option: str, parts: Iterable[bytes]) -> None:
    """Write a file anew.

    Raises:
        OutsideError: it cannot be written; of a new one nothing is left, half of it would pass for the whole.
    """
    new = not out.exists()
    try:
        with out.open("wb") as file:
            file.writelines(parts)
    except OSError as error:
        if new:
            with contextlib.suppress(OSError):
                out.unlink()
        raise OutsideError(f"{out}: {error.strerror}", f"name another file: {option}") from error


def _is_session(path: Path) -> bool:
    from daemon.session.recording import SQLITE_MAGIC

    try:
        with path.open("rb") as file:
            return file.read(len(SQLITE_MAGIC)) == SQLITE_MAGIC
    except OSError:
        return False  # writing will say what is wrong with it
