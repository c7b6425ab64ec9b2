"""Which job is meant where none is named: the newest of the folder, else of those that were run."""

import contextlib
import json
import sys
from dataclasses import dataclass
from pathlib import Path

from shared.errors import BadInputError

MOST = 9
"""So many are offered, by one digit; and so many are remembered."""


@dataclass(frozen=True, slots=True)
class Offered:
    """A job file, what its job is called, and when it or its last session changed (seconds)."""

    path: Path
    name: str
    changed_s: float


def asked() -> Path:
    """Return the job that the person at this terminal means.

    Raises:
        BadInputError: there is nobody to ask, nothing to offer, or the person wants none.
    """
    here = jobs_in(Path())
    found = here or _known()
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        named = ", ".join(str(one.path) for one in found)
        raise _none_named(f"stillblade run JOB.toml; there is {named}" if named else _BEGIN)
    if not found:
        raise _none_named(_BEGIN)
    return _chosen(found, "in this folder" if here else "of those that were run before")


_BEGIN = "`stillblade new` makes one by questions and answers"


def jobs_in(folder: Path) -> list[Offered]:
    """Return the job files of a folder, the newest first."""
    try:
        found = [_read(path) for path in folder.glob("*.toml")]
    except OSError:
        return []
    return _newest_first([one for one in found if one is not None])


def remember(job: Path) -> None:
    """Keep that this job was run, for whoever starts `run` in another folder; a failure is nothing."""
    kept = [str(job.resolve()), *(one for one in _remembered() if one != str(job.resolve()))]
    with contextlib.suppress(OSError):
        _file().parent.mkdir(parents=True, exist_ok=True)
        _file().write_text(json.dumps(kept[:MOST]), "utf-8")


def _chosen(found: list[Offered], where: str) -> Path:
    from shared.plain import plain

    found = found[:MOST]
    print(plain(f'The newest job {where} is "{found[0].name}" ({found[0].path}).'))
    for number, one in enumerate(found[1:], 2):
        print(plain(f'  {number}  "{one.name}" ({one.path})'))
    more = "; its number takes another" if len(found) > 1 else ""
    while True:
        try:
            typed = input(f"Enter does it{more}; no leaves\n> ").strip().lower()
        except EOFError:
            typed = "no"
        if typed in {"", "y", "yes", "1"}:
            return found[0].path
        if typed in {"n", "no", "q"}:
            raise _none_named(_BEGIN)
        if len(typed) == 1 and typed.isdecimal() and 2 <= int(typed) <= len(found):
            return found[int(typed) - 1].path
        print(plain(f"  {typed!r} is none of these."))


def _none_named(remedy: str) -> BadInputError:
    return BadInputError("command line", "JOB", "no job is named", remedy)


def _read(path: Path) -> Offered | None:
    """Return what a file is offered as; None where it is no job."""
    import tomllib

    try:
        tables = tomllib.loads(path.read_text("utf-8-sig"))
        changed = [path.stat().st_mtime]
        changed += [one.stat().st_mtime for one in path.parent.glob("*.session") if _of(one, path)]
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError):
        return None
    if "stillblade_job" not in tables:
        return None
    return Offered(path, str(tables.get("name", path.stem)), max(changed))


def _of(session: Path, job: Path) -> bool:
    return session.name.startswith(f"{job.stem}-")


def _newest_first(found: list[Offered]) -> list[Offered]:
    return sorted(found, key=lambda one: (-one.changed_s, one.path.name))


def _known() -> list[Offered]:
    read = [_read(Path(one)) for one in _remembered()]
    return [one for one in read if one is not None]


def _remembered() -> list[str]:
    try:
        kept = json.loads(_file().read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        return []
    return [one for one in kept if isinstance(one, str)] if isinstance(kept, list) else []


def _file() -> Path:
    from platformdirs import user_state_path

    return user_state_path("stillblade") / "jobs.json"
