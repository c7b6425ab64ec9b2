"""Files of a hub beside its sessions: TOML that a person may write in too, never half written.

A table is put at the end; what a person wrote above it, remarks too, stays as it is.
"""

import contextlib
import fcntl
import os
import re
import tempfile
import tomllib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

import tomli_w
from pydantic import ValidationError

from shared.errors import BadInputError, OutsideError
from shared.model import Written, first_problem

T = TypeVar("T", bound=Written)


def beside(folder: Path, hub: str, kind: str) -> Path:
    """Return where a hub's file of a kind is kept."""
    return folder / f"{re.sub(r'[^A-Za-z0-9._-]', '_', hub)}.{kind}.toml"


def read_as(model: type[T], text: str, path: Path) -> T:
    """Return what the text of such a file says.

    Raises:
        BadInputError: it is no TOML, or a key is wrong.
    """
    try:
        return model.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        remedy = "mend it by hand; nothing was written"
        raise BadInputError(str(path), "", f"not TOML: {error}", remedy) from error
    except ValidationError as error:
        raise BadInputError(str(path), *first_problem(error)) from error


def put_at_end(
    path: Path, model: type[T], table: str, values: Mapping[str, Any], first: Callable[[], str]
) -> T:
    """Put one more table of an array at the end of a file; return what the whole file says then.

    first: what a new file begins with.

    Raises:
        BadInputError: the file is not right as it is; nothing is written.
        OutsideError: it cannot be written; what was there stays.
    """
    try:
        with _alone(path.parent):
            before = path.read_text("utf-8") if path.exists() else first()
            read_as(model, before, path)
            text = f"{before.rstrip()}\n\n[[{table}]]\n{tomli_w.dumps(dict(values))}"
            made = read_as(model, text, path)
            _replace(path, text)
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", "not a text file in UTF-8", "mend it by hand") from error
    except OSError as error:
        raise OutsideError(f"{path}: {error.strerror}", "nothing was written") from error
    return made


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let nobody else add to a file of this folder meanwhile."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _replace(path: Path, text: str) -> None:
    """Write a file so that it is there whole or as before, after a power cut too."""
    handle, name = tempfile.mkstemp(prefix=path.name, suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(path.stat().st_mode if path.exists() else 0o644)
        Path(name).replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
