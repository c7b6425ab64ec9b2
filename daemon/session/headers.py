"""The header of a new session: everything it depends on besides its inputs."""

import importlib.metadata
import uuid
from collections.abc import Mapping
from datetime import date as date_type
from datetime import timedelta
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
        unproven=_unproven(job, profiles, started[:10]),
    )


def _unproven(job: Job, profiles: Mapping[str, LevelProfile], today: str) -> dict[str, str]:
    """Return the levels for blades whose zero was not proven in time, and when it was last.

    today: ISO date; "": not known, and then any date will do.
    """
    days = job.setup.zero_days
    if days is None:
        return {}
    dates = {e.name: profiles[e.name].accuracy.zero_date for e in job.level if e.role == "blade"}
    return {name: date for name, date in dates.items() if _too_old(date, today, days)}


def _too_old(date: str, today: str, days: int) -> bool:
    if not date or not today:
        return not date
    return date_type.fromisoformat(today) - date_type.fromisoformat(date) > timedelta(days=days)


def _presented(job: Job, profiles: Mapping[str, LevelProfile]) -> None:
    """Refuse a level whose reading hangs on an azimuth that nobody knows well enough."""
    if any(entry.role == "hub" for entry in job.level):
        return
    for entry in job.level:
        doubt, words = azimuth_doubt(profiles[entry.name], job.setup.psi_u_deg)
        if doubt == "refuse" and entry.role == "blade":
            raise BadInputError(f"level {entry.name}", "setup.psi_u_deg", words)
