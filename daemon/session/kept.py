"""Which sessions a folder keeps, the newest first, and what each came to."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from daemon.session.recording import LeftoverError, Recording, read
from shared.errors import BadInputError, OutsideError
from shared.events import Alarm, Captured, Summary, Withdrawn
from shared.inputs import NS


@dataclass(frozen=True, slots=True)
class Kept:
    """One session file.

    started: wall time, ISO 8601. came_to: its result, how it ended, "not finished", or why it
    cannot be read.
    """

    path: Path
    started: str
    job: str
    came_to: str
    minutes: float
    readings: int
    alarms: int


def sessions_in(folder: Path) -> list[Kept]:
    """Return the sessions of a folder, the newest first.

    Raises:
        BadInputError: there is no such folder, or it may not be looked into.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".session")
    except OSError as error:
        raise BadInputError(
            str(folder), "", f"cannot be looked into: {error.strerror}", "name a folder"
        ) from error
    return sorted(_kept(paths), key=lambda one: (one.started, one.path.name), reverse=True)


def _kept(paths: list[Path]) -> Iterator[Kept]:
    for path in paths:
        try:
            yield _told(path, read(path, salvage=True))
        except LeftoverError:
            continue
        except (BadInputError, OutsideError) as error:
            yield Kept(path, "", "", f"cannot be read: {error}", 0.0, 0, 0)


def _told(path: Path, recording: Recording) -> Kept:
    bodies = [event.body for event in recording.events]
    taken = sum(isinstance(body, Captured) for body in bodies)
    taken -= sum(isinstance(body, Withdrawn) for body in bodies)
    return Kept(
        path=path,
        started=recording.header.started,
        job=recording.header.job.name,
        came_to=_came_to(recording),
        minutes=recording.reach_ns / (60 * NS),
        readings=taken,
        alarms=sum(isinstance(body, Alarm) for body in bodies),
    )


def _came_to(recording: Recording) -> str:
    last = recording.events[-1].body if recording.events else None
    if recording.damage:
        return "damaged"
    if recording.header.procedure == "watch":
        return "watched" if isinstance(last, Summary) else "not finished"
    return (last.result or last.state) if isinstance(last, Summary) else "not finished"
