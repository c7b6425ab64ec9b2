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
        BadInputError: missing, not TOML, or a key is wrong, missing or unknown; two blades have the same label;
            what record and screen name it by is empty.
    """
    tables = _tables(path)
    plan = tables.get("plan")
    if isinstance(plan, dict) and isinstance(plan.get("procedure"), str) and plan["procedure"]:
        below = _procedure(path.parent / plan["procedure"])
        tables = {**tables, "plan": laid_over(below, plan)}
    job = _checked(Job, tables, path)
    _check_names(job, path)
    _check_labels(job.propeller.labels, path)
    return job


def _check_names(job: Job, path: Path) -> None:
    """Here and not in `Job`, as with the labels."""
    named = {"name": job.name, "propeller.station": job.propeller.station}
    named |= {f"people {number}: name": one.name for number, one in enumerate(job.people, 1)}
    for key, words in named.items():
        if not words.strip():
            remedy = "the record, the screen and the sheet say it: give it in your own words"
            raise BadInputError(str(path), key, "is empty", remedy)


def _check_labels(labels: list[str], path: Path) -> None:
    """Here and not in `Propeller`: what was recorded with two alike must still be read."""
    told = [" ".join(label.split()).casefold() for label in labels]
    twice = next(
        (label for label, one in zip(labels, told, strict=True) if told.count(one) > 1), None
    )
    if twice is not None:
        problem = f"{twice!r} stands for more than one blade"
        remedy = "screen and voice name a blade by it: give each its own"
        raise BadInputError(str(path), "propeller.labels", problem, remedy)


def _procedure(path: Path) -> dict[str, Any]:
    """Return the plan of a procedure file as it is written, once it is known to be right."""
    tables = _tables(path)
    _checked(Procedure, tables, path)
    return dict(tables["plan"])


def _tables(path: Path) -> dict[str, Any]:
    if path.exists() and not path.is_file():
        raise BadInputError(str(path), "", "cannot be read: it is no file")
    try:
        return tomllib.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", "not a text file in UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(str(path), "", f"not TOML: {error}") from error
    except RecursionError as error:
        raise BadInputError(str(path), "", "tables or lists nested too deep to be a job") from error


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
