"""The header of a new session: everything it depends on besides its inputs."""

import importlib.metadata
import uuid
from pathlib import Path

from daemon.jobs import resolve_profiles
from daemon.learned import Known, applied
from daemon.rules import FORMAT, RULES
from shared.job import Header, Job


def make_header(
    job: Job, beside: Path, *, session: str = "", started: str = "", levels: Known | None = None
) -> Header:
    """Return the header of a new session of this job.

    Args:
        job: the job; frozen into the header with the whole profiles of its levels.
        beside: folder that profile paths start from.
        session: its id; drawn where not given.
        started: wall time for people.
        levels: what earlier sessions learned of the levels.

    Raises:
        BadInputError: a level's profile cannot be used.
    """
    profiles = resolve_profiles(job, beside)
    for entry in job.level if levels else ():
        profiles[entry.name] = applied(entry, profiles[entry.name], levels or Known())
    return Header(
        stillblade=importlib.metadata.version("stillblade"),
        format=FORMAT,
        rules=RULES,
        session=session or uuid.uuid4().hex,
        started=started,
        job=job,
        profiles=profiles,
    )
