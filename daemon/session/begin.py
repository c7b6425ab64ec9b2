"""Which session `run` works on: a new one, the unfinished one, or one that continues it."""

import logging
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from filelock import FileLock, Timeout

from daemon.core.engine import Engine
from daemon.core.rules import RULES
from daemon.session.headers import make_header
from daemon.session.learned import known, same_but_for_learning
from daemon.session.parts import filled
from daemon.session.recording import LeftoverError, Recording, read
from daemon.session.replay import Told, rebuilt, untold, verify
from daemon.session.store import Store
from daemon.workflow.carry import carried
from shared.errors import BadInputError, OutsideError
from shared.events import Event
from shared.job import Job, Propeller

log = logging.getLogger(__name__)

Procedure = Literal["set", "read", "watch"]
"""What a session is for, as its header says it."""

BUSY = "see it with `stillblade attach`, or end it first"


@dataclass(frozen=True, slots=True)
class Before:
    """What is known of a job's hub from earlier sessions.

    earlier: when it was set, and what that came to. pulled_deg: how far its bolts turned all blades
    alike. remarks: what is otherwise than then. parts: the propeller as it was known last, from which
    a new session takes what its job leaves out.
    """

    earlier: str = ""
    pulled_deg: float | None = None
    remarks: tuple[str, ...] = ()
    parts: Propeller | None = None


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
def only_one(job_path: Path, procedure: Procedure = "set") -> Iterator[None]:
    """Hold the lock of a job's sessions of this kind.

    Raises:
        BadInputError: another process works on this job.
        OutsideError: the folder cannot be written to.
    """
    lock = FileLock(job_path.with_name(f"{_name(job_path, procedure)}.lock"))
    try:
        lock.acquire(timeout=0)
    except Timeout as error:
        raise BadInputError(
            str(job_path), "", "another stillblade works on this job", BUSY
        ) from error
    except OSError as error:
        raise OutsideError(
            f"cannot write beside {job_path}: {error.strerror}",
            "choose a folder you may write to",
        ) from error
    try:
        yield
    finally:
        lock.release()


def begin(
    job_path: Path,
    job: Job,
    started: str,
    *,
    new: bool = False,
    procedure: Procedure = "set",
    told: Told = untold,
    before: Callable[[], Before] = Before,
) -> Begun:
    """Take up the job's unfinished session, or begin one.

    started: wall time, ISO 8601, for people.
    before: says what is known of the hub; asked only where a session is begun.
    told: hears how far a session that is taken up is rebuilt.

    Raises:
        BadInputError: of the newest session not even the header can be read, and `new` was
            not asked for.
        OutsideError: the session file cannot be written.
    """
    newest, recording = (None, None) if new else _newest_recorded(job_path, procedure)
    if newest is None or recording is None or recording.finished:
        return _fresh(job_path, job, started, None, procedure, before())
    why_not = _cannot_resume(recording, job_path, job)
    found = why_not or _taken_up(newest, recording, told)
    if isinstance(found, str):
        log.warning("%s is not taken up again: %s", newest.name, found)
        return _fresh(job_path, job, started, recording, procedure, before())
    for note in recording.notes:
        log.warning("%s: %s", newest.name, note)
    return found


def _taken_up(path: Path, recording: Recording, told: Told) -> Begun | str:
    """Return the session as its recording left it, or why its state cannot be had back."""
    if not (recording.events or recording.inputs):
        # stopped before its first commit: nothing was ever told, so nothing is replayed
        return Begun(path, Engine(recording.header), Store.append(path), "new session")
    try:
        engine, events = rebuilt(recording, told)
    except BadInputError as error:
        return str(error)
    if recording.events and not (found := verify(recording, events)).agrees:
        return found.say
    say = f"taken up again: {path.name}, {len(events)} events"
    return Begun(path, engine, Store.append(path), say, events, recording.reach_ns)


def sessions_of(job_path: Path, procedure: Procedure = "set") -> list[Path]:
    """Return the job's session files, the newest first.

    The last number of the name counts a job's sessions; its date and time are for people,
    and a clock may be wrong. Names from before there was a number are older than those with.
    """
    return [path for _, path in _numbered(job_path, procedure)]


def _numbered(job_path: Path, procedure: Procedure) -> list[tuple[int, Path]]:
    named = re.compile(
        re.escape(_name(job_path, procedure)) + r"-\d{8}-\d{6}(?:-(\d{1,9}))?\.session"
    )
    found = [(named.fullmatch(path.name), path) for path in job_path.parent.iterdir()]
    return sorted((int(m[1] or 0), path) for m, path in found if m is not None)[::-1]


def _name(job_path: Path, procedure: Procedure) -> str:
    return job_path.stem if procedure == "set" else f"{job_path.stem}-{procedure}"


def _next_path(job_path: Path, started: str, procedure: Procedure) -> Path:
    """Return the name of the job's next session."""
    number = 1 + max((number for number, _ in _numbered(job_path, procedure)), default=0)
    stamp = datetime.fromisoformat(started).strftime("%Y%m%d-%H%M%S")
    return job_path.with_name(f"{_name(job_path, procedure)}-{stamp}-{number}.session")


def _newest_recorded(
    job_path: Path, procedure: Procedure
) -> tuple[Path, Recording] | tuple[None, None]:
    """Return the newest session in which something was recorded, whatever can be read of it."""
    for path in sessions_of(job_path, procedure):
        try:
            recording = read(path, salvage=True)
        except LeftoverError:
            log.warning("%s is empty, left by a start that was cut short: passed over", path.name)
        except BadInputError as error:
            raise BadInputError(
                error.where,
                error.key,
                error.problem,
                "keep the file; --new begins a new session, which starts from nothing",
            ) from error
        else:
            if recording.header.procedure == procedure:  # else of a job whose name ends like that
                return path, recording
    return None, None


def _cannot_resume(recording: Recording, job_path: Path, job: Job) -> str:
    """Return why the session is not one of today's rules and job, or ""."""
    if recording.damage:
        return "it is damaged: " + "; ".join(recording.damage[:3])
    header = recording.header
    if header.rules != RULES:
        return f"it was recorded under rules {header.rules}, this program has {RULES}"
    wanted = make_header(_with_parts(job, header.job.propeller), job_path.parent)
    same = header.job == wanted.job
    if not (same and same_but_for_learning(header.profiles, wanted.profiles)):
        return "the job file or a profile has changed since"
    return ""


def _same_blades(old: Recording, job: Job) -> bool:
    """Whether the held blades of an earlier session mean anything to this job."""
    before = old.header.job
    same = (before.propeller, before.target.angle_deg) == (job.propeller, job.target.angle_deg)
    return same and old.header.procedure == "set"


def _carried(old: Recording | None, job: Job) -> dict[str, Any]:
    """Return what a new session takes over from the one before; often nothing."""
    if old is None or not _same_blades(old, job):
        return {}
    return carried(old.events, old.header.job.setup.reference, old.header.carried)


def _with_parts(job: Job, then: Propeller) -> Job:
    """Return the job with the parts that it leaves out as they were then."""
    return job.model_copy(update={"propeller": filled(job.propeller, then)})


def _fresh(
    job_path: Path,
    job: Job,
    started: str,
    old: Recording | None,
    procedure: Procedure,
    before: Before,
) -> Begun:
    levels = known(job_path.parent)
    job = _with_parts(job, before.parts) if before.parts else job
    header = make_header(job, job_path.parent, started=started, levels=levels)
    known_before = {
        "earlier": before.earlier,
        "pulled_deg": before.pulled_deg,
        "remarks": list(before.remarks),
    }
    header = header.model_copy(update={"procedure": procedure, **known_before})
    say = "new session"
    state = _carried(old, job)
    if old is not None and state:
        header = header.model_copy(update={"continues": old.header.session, "carried": state})
        say = f"continues session {old.header.session} with its held blades"
    path = _next_path(job_path, started, procedure)
    return Begun(path, Engine(header), Store.create(path, header), say)
