"""A file that is there whole or not at all, and never over another."""

import contextlib
import os
from pathlib import Path

from shared.errors import BadInputError, OutsideError


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet, at once.

    Raises:
        BadInputError: it is there.
        OutsideError: it cannot be written.
    """
    made = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with made.open("x", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        _place(made, path)
    except FileExistsError as error:
        raise BadInputError(str(path), "", "is there already", "name another file") from error
    except OSError as error:
        raise _failed(path, error) from error
    finally:
        with contextlib.suppress(OSError):
            made.unlink()


def _place(made: Path, path: Path) -> None:
    """Give a file its name, unless something has it."""
    try:
        os.link(made, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links
        if path.exists():
            raise FileExistsError from None
        made.rename(path)


def _failed(path: Path, error: OSError) -> OutsideError:
    return OutsideError(
        f"{path} cannot be written: {error.strerror}", "choose a folder you may write to"
    )
