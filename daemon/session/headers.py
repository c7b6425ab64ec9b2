"""The header of a new session: everything it depends on besides its inputs."""

import importlib.metadata
import uuid
from collections.abc import Mapping
from pathlib import Path

from daemon.core.rules import FORMAT, RULES
from daemon.measure.angle.suspicion import azimuth_doubt
from daemon.session.jobs import resolve_profiles
from daemon.session.learned import Known, applied
from shared.errors import BadInputError
from shared.job import Header, Job
from shared.profile import LevelProfile


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
        BadInputError: a level's profile cannot be used, or not as this job presents the blades.
    """
    profiles = resolve_profiles(job, beside)
    for entry in job.level if levels else ():
        profiles[entry.name] = applied(entry, profiles[entry.name], levels or Known())
    _presented(job, profiles)
    return Header(
        stillblade=importlib.metadata.version("stillblade"),
        format=FORMAT,
        rules=RULES,
        session=session or uuid.uuid4().hex,
        started=started,
        job=job,
        profiles=profiles,
    )


def _presented(job: Job, profiles: Mapping[str, LevelProfile]) -> None:
    """Refuse a level whose reading hangs on an azimuth that nobody knows well enough."""
    if any(entry.role == "hub" for entry in job.level):
        return
    for entry in job.level:
        doubt, words = azimuth_doubt(profiles[entry.name], job.setup.psi_u_deg)
        if doubt == "refuse" and entry.role == "blade":
            raise BadInputError(f"level {entry.name}", "setup.psi_u_deg", words)
