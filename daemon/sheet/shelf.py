"""The settings of a folder's sessions, with an index so that a thousand are found at once.

The index is nothing but what was read before: it may be deleted, and is made again from the sessions.
"""

import contextlib
import json
from pathlib import Path
from typing import Any

from daemon.session.recording import read
from daemon.sheet.settings_of_hub import Setting, from_data, setting_of, to_data
from shared.errors import BadInputError, OutsideError

INDEX = "stillblade-history.json"
FORMAT = 4
"""Of 1 were indexes with numbers of damaged sessions; in 2 was nothing of what was found, in 3 parts in words only."""


def settings_in(folder: Path) -> tuple[list[Setting], list[str]]:
    """Return the settings of a folder, the oldest first, and which files could not be read.

    Raises:
        BadInputError: there is no such folder, or it may not be looked into.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".session")
        signs = {path.name: _sign(path) for path in paths}
    except OSError as error:
        raise BadInputError(
            str(folder), "", f"cannot be looked into: {error.strerror}", "name a folder"
        ) from error
    before = _indexed(folder)
    known: dict[str, Any] = {}
    unread: list[str] = []
    for path in paths:
        kept = before.get(path.name)
        if isinstance(kept, dict) and kept.get("sign") == signs[path.name]:
            known[path.name] = kept
            continue
        try:
            found = setting_of(path.name, read(path))
        except (BadInputError, OutsideError) as error:
            unread.append(str(error))
            continue
        known[path.name] = {"sign": signs[path.name], "setting": to_data(found) if found else None}
    if known != before:
        _keep(folder, known)
    settings = [from_data(one["setting"]) for one in known.values() if one["setting"]]
    return sorted(settings, key=lambda one: (one.started, one.name)), unread


def _sign(path: Path) -> list[int]:
    status = path.stat()
    return [status.st_size, status.st_mtime_ns]


def _indexed(folder: Path) -> dict[str, Any]:
    """Return the index; empty where it is none, or of another version."""
    try:
        told = json.loads((folder / INDEX).read_text("utf-8"))
        if told["stillblade_history"] != FORMAT:
            return {}
        sessions: dict[str, Any] = told["sessions"]
        for one in sessions.values():
            if one["setting"] is not None:
                from_data(one["setting"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}
    return sessions


def _keep(folder: Path, known: dict[str, Any]) -> None:
    """Write the index in one step; a folder that takes none is read anew the next time."""
    part = folder / f"{INDEX}.part"
    with contextlib.suppress(OSError):
        part.write_text(json.dumps({"stillblade_history": FORMAT, "sessions": known}), "utf-8")
        part.replace(folder / INDEX)
