"""Level profiles: one TOML file a kind of level. A new level is a new file, no code.

The shipped ones are generic and named by what they are. A user's own profile is a file
beside the job; what differs on one instrument is laid over a profile by `overlay`.
"""

import importlib.resources
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from drivers import codecs
from shared.errors import BadInputError, unread
from shared.job import LevelEntry
from shared.model import first_problem, laid_over
from shared.profile import LevelProfile

_FOLDER = importlib.resources.files(__name__)


def names() -> list[str]:
    """Return the kinds that are shipped, sorted."""
    return sorted(
        entry.name.removesuffix(".toml")
        for entry in _FOLDER.iterdir()
        if entry.name.endswith(".toml")
    )


def load(kind: str) -> LevelProfile:
    """Return a shipped profile.

    Raises:
        BadInputError: there is none of that kind.
    """
    return read(text_of(kind), f"{kind}.toml")


def text_of(kind: str) -> str:
    """Return a shipped profile as it is written, comments and all: a start for one's own.

    Raises:
        BadInputError: there is none of that kind.
    """
    if kind not in names():
        raise BadInputError("profile", "", f"no profile {kind!r}", f"one of {', '.join(names())}")
    return (_FOLDER / f"{kind}.toml").read_text("utf-8")


def read(text: str, where: str) -> LevelProfile:
    """Read a profile from TOML text; its codec's options are checked too.

    Raises:
        BadInputError: not TOML, a key unknown or missing, a value out of range.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(where, "", f"not TOML: {error}") from error
    except RecursionError as error:
        raise BadInputError(where, "", "tables or lists nested too deep to be a profile") from error
    return from_tables(tables, where)


def overlay(profile: LevelProfile, settings: Mapping[str, Any]) -> LevelProfile:
    """Lay the tables of `settings` over the profile: tables merge, everything else replaces.

    With another convention the level sends other numbers: then [fields] is replaced whole.

    Raises:
        BadInputError: the result is no valid profile.
    """
    if not settings:
        return profile
    tables = profile.model_dump(mode="python", exclude_unset=True)
    if settings.get("convention", profile.convention) != profile.convention:
        tables.pop("fields")
    return from_tables(laid_over(tables, settings), f"settings over profile {profile.kind}")


def for_level(entry: LevelEntry, beside: Path) -> LevelProfile:
    """Return the profile of one level of a job: shipped kind or file, with its settings.

    beside: the folder that relative paths start from (the job file's).

    Raises:
        BadInputError: no such profile or file, or the result is not valid.
    """
    if entry.profile in names():
        return overlay(load(entry.profile), entry.settings)
    path = beside / entry.profile
    try:
        text = path.read_text("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(
            f"level {entry.name}",
            "profile",
            f"{entry.profile!r} is neither a shipped kind nor a readable file ({path}: {unread(error)})",
            f"one of {', '.join(names())}, or the path of a TOML file",
        ) from error
    return overlay(read(text, str(path)), entry.settings)


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a profile file."""
    return LevelProfile.model_json_schema()


def from_tables(tables: Mapping[str, Any], where: str) -> LevelProfile:
    """Make a profile of its tables; its codec's options are checked too.

    Raises:
        BadInputError: a key unknown or missing, a value out of range.
    """
    try:
        profile = LevelProfile.model_validate(tables)
    except ValidationError as error:
        raise BadInputError(where, *first_problem(error)) from error
    codecs.make(profile)
    return profile
