"""Job files: from TOML on disk to a Job with the profiles of its levels."""

import tomllib
from pathlib import Path

from pydantic import ValidationError

from drivers import profiles
from shared.errors import BadInputError
from shared.job import Job
from shared.model import first_problem
from shared.profile import LevelProfile


def load_job(path: Path) -> Job:
    """Read a job file.

    Raises:
        BadInputError: missing, not TOML, or a key is wrong, missing or unknown.
    """
    try:
        tables = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", "not a text file in UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise BadInputError(str(path), "", f"not TOML: {error}") from error
    try:
        return Job.model_validate(tables)
    except ValidationError as error:
        raise BadInputError(str(path), *first_problem(error)) from error


def resolve_profiles(job: Job, beside: Path) -> dict[str, LevelProfile]:
    """Return the whole profile of every level of the job, by the level's name.

    Raises:
        BadInputError: a level names no profile, or its settings do not fit it.
    """
    return {entry.name: profiles.for_level(entry, beside) for entry in job.level}
