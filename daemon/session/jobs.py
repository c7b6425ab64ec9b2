"""Job files: from TOML on disk to a Job with the profiles of its levels."""

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from drivers import profiles
from shared.errors import BadInputError
from shared.job import Job
from shared.model import Written, first_problem, laid_over
from shared.plan import Procedure
from shared.profile import LevelProfile

File = TypeVar("File", bound=Written)


def load_job(path: Path) -> Job:
    """Read a job file, and the procedure file that its plan is laid over.

    Raises:
        BadInputError: missing, not TOML, or a key is wrong, missing or unknown.
    """
    tables = _tables(path)
    plan = tables.get("plan")
    if isinstance(plan, dict) and isinstance(plan.get("procedure"), str) and plan["procedure"]:
        below = _procedure(path.parent / plan["procedure"])
        tables = {**tables, "plan": laid_over(below, plan)}
    return _checked(Job, tables, path)


def _procedure(path: Path) -> dict[str, Any]:
    """Return the plan of a procedure file as it is written, once it is known to be right."""
    tables = _tables(path)
    _checked(Procedure, tables, path)
    return dict(tables["plan"])


def _tables(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", "not a text file in UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(str(path), "", f"not TOML: {error}") from error


def _checked(model: type[File], tables: dict[str, Any], path: Path) -> File:
    try:
        return model.model_validate(tables)
    except ValidationError as error:
        raise BadInputError(str(path), *first_problem(error)) from error


def resolve_profiles(job: Job, beside: Path) -> dict[str, LevelProfile]:
    """Return the whole profile of every level of the job, by the level's name.

    Raises:
        BadInputError: a level names no profile, or its settings do not fit it.
    """
    return {entry.name: profiles.for_level(entry, beside) for entry in job.level}
