"""Which session `run` works on: a new one, the unfinished one, or one that continues it."""

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from daemon.clocks import stamp_for_name, wall
from daemon.core.engine import Engine
from daemon.core.rules import RULES
from daemon.headers import make_header
from daemon.learned import known, same_but_for_learning
from daemon.session.recording import Recording, read
from daemon.session.replay import rebuilt, verify
from daemon.session.store import Store
from daemon.workflow.carry import carried
from shared.errors import BadInputError, OutsideError
from shared.events import Event
from shared.job import Job

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Begun:
    """A session ready to be run.

    Attributes:
        say: in words, whether it is new, taken up again or continues another.
        reach_ns: session time it goes on from.
    """

    path: Path
    engine: Engine
    store: Store
    say: str
    before: list[Event] = field(default_factory=list)
    reach_ns: int = 0


@contextmanager
def only_one(path: Path) -> Iterator[None]:
    """Hold the lock of a job's sessions.

    Raises:
        BadInputError: another process works on this job.
        OutsideError: the folder cannot be written to.
    """
    lock = FileLock(path.with_suffix(".lock"))
    try:
        lock.acquire(timeout=0)
    except Timeout as error:
        raise BadInputError(
            str(path), "", "another stillblade works on this job", "end it first"
        ) from error
    except OSError as error:
        raise OutsideError(
            f"cannot write beside {path}: {error.strerror}", "choose a folder you may write to"
        ) from error
    try:
        yield
    finally:
        lock.release()


def begin(job_path: Path, job: Job, *, new: bool = False) -> Begun:
    """Take up the job's unfinished session, or begin one.

    Raises:
        BadInputError: the newest session is damaged and `new` was not asked for.
        OutsideError: the session file cannot be written.
    """
    newest = None if new else newest_session(job_path)
    if newest is None:
        return _fresh(job_path, job, None)
    recording = read(newest)
    if recording.finished:
        return _fresh(job_path, job, None)
    why_not = _cannot_resume(recording, job_path, job)
    if why_not:
        log.warning("%s is not taken up again: %s", newest.name, why_not)
        return _fresh(job_path, job, recording)
    engine, events = rebuilt(recording)
    say = f"taken up again: {newest.name}, {len(events)} events"
    return Begun(newest, engine, Store.append(newest), say, events, recording.reach_ns)


def newest_session(job_path: Path) -> Path | None:
    """Return the job's newest session file, if there is one."""
    named = re.compile(re.escape(job_path.stem) + r"-\d{8}-\d{6}\.session")
    found = [path for path in job_path.parent.iterdir() if named.fullmatch(path.name)]
    return max(found, default=None)


def _cannot_resume(recording: Recording, job_path: Path, job: Job) -> str:
    """Return why the session's state cannot be rebuilt under today's rules and job, or ""."""
    header = recording.header
    if header.rules != RULES:
        return f"it was recorded under rules {header.rules}, this program has {RULES}"
    wanted = make_header(job, job_path.parent)
    same = header.job == wanted.job
    if not (same and same_but_for_learning(header.profiles, wanted.profiles)):
        return "the job file or a profile has changed since"
    found = verify(recording, rebuilt(recording)[1])
    return "" if found.agrees or not recording.events else found.say


def _same_blades(old: Recording, job: Job) -> bool:
    """Whether the held blades of an earlier session mean anything to this job."""
    before = old.header.job
    same = (before.propeller, before.target.angle_deg) == (job.propeller, job.target.angle_deg)
    return same and old.header.procedure == "set"


def _carried(old: Recording | None, job: Job) -> dict[str, Any]:
    """Return what a new session takes over from the one before; often nothing."""
    if old is None or not _same_blades(old, job):
        return {}
    return carried(old.events, old.header.job.setup.reference)


def _fresh(job_path: Path, job: Job, old: Recording | None) -> Begun:
    levels = known(job_path.parent)
    header = make_header(job, job_path.parent, started=wall(), levels=levels)
    say = "new session"
    state = _carried(old, job)
    if old is not None and state:
        header = header.model_copy(update={"continues": old.header.session, "carried": state})
        say = f"continues session {old.header.session} with its held blades"
    path = job_path.with_name(f"{job_path.stem}-{stamp_for_name()}.session")
    return Begun(path, Engine(header), Store.create(path, header), say)
