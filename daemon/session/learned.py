"""What sessions taught about their levels, kept beside the jobs for the next session's header.

A finished session says `learned` events; they are pooled here, one entry a level. The next
header carries what is known well enough, so that a replay needs nothing but its recording.
What a profile or a job says was measured (n > 0) is never replaced.
"""

import contextlib
import logging
import math
import os
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Literal

from pydantic import Field, ValidationError

from daemon.measure.stream.learning import ENOUGH_PLACEMENTS
from shared.errors import BadInputError
from shared.events import Event, Learned
from shared.job import Header, LevelEntry
from shared.model import Written, first_problem
from shared.profile import Accuracy, LevelProfile, Noise, Seating

ENOUGH_NOISE = 120
"""Samples from which on a learned noise is better than an assumed one."""
log = logging.getLogger(__name__)

NAME = "stillblade-levels.json"
MOST_COUNTED = 2000
"""What was learned before counts as at most so many, because levels age."""


class LevelKnown(Written):
    """What is known of one level."""

    noise: Noise = Noise()
    seating: Seating = Seating()
    zero_date: str = ""
    """When `levels zero` last found its zero within what is stated."""


class Known(Written):
    """The file: an entry a level, by its profile and where it is connected."""

    stillblade_levels: Literal[1] = 1
    levels: dict[str, LevelKnown] = Field(default_factory=dict)


def known(folder: Path) -> Known:
    """Return what earlier sessions of the jobs in this folder learned; empty without a file.

    A file that may not be read (another user's) is told and does not stop a job.

    Raises:
        BadInputError: the file is damaged.
    """
    try:
        return _read(folder / NAME)
    except FileNotFoundError:
        return Known()
    except OSError as error:
        log.warning(
            "%s cannot be read (%s): the levels are taken as unknown", folder / NAME, error.strerror
        )
        return Known()


def _read(path: Path) -> Known:
    """Read the file; a system that refuses is not damage, so its OSError comes out."""
    try:
        return Known.model_validate_json(path.read_text("utf-8"))
    except ValidationError as error:
        key, problem, _ = first_problem(error)
        remedy = "mend it, or delete it: the levels are then learned anew"
        raise BadInputError(str(path), key, problem, remedy) from error
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error}", "mend or move it") from error


def applied(entry: LevelEntry, profile: LevelProfile, levels: Known) -> LevelProfile:
    """Return the profile with what is known of this level where nobody stated a measurement."""
    one = levels.levels.get(_key(entry), LevelKnown())
    changes: dict[str, Noise | Seating | Accuracy] = {}
    if profile.noise.n == 0 and one.noise.n >= ENOUGH_NOISE:
        changes["noise"] = one.noise
    if profile.seating.n == 0 and one.seating.n > ENOUGH_PLACEMENTS:
        changes["seating"] = one.seating
    if one.zero_date > profile.accuracy.zero_date:
        changes["accuracy"] = profile.accuracy.model_copy(update={"zero_date": one.zero_date})
    return profile.model_copy(update=changes) if changes else profile


def same_but_for_learning(a: Mapping[str, LevelProfile], b: Mapping[str, LevelProfile]) -> bool:
    """Whether profiles differ in nothing but what was learned."""

    def bare(profile: LevelProfile) -> LevelProfile:
        accuracy = profile.accuracy.model_copy(update={"zero_date": ""})
        learned = {"noise": Noise(), "seating": Seating(), "accuracy": accuracy}
        return profile.model_copy(update=learned)

    return {name: bare(one) for name, one in a.items()} == {
        name: bare(one) for name, one in b.items()
    }


def remember(folder: Path, header: Header, events: Iterable[Event]) -> None:
    """Pool what a session said it learned into the folder's file; a failure is only told."""
    bodies = [event.body for event in events]
    said = [body for body in bodies if isinstance(body, Learned) and body.what != "rate"]
    if not said:
        return
    entries = {entry.name: entry for entry in header.job.level}
    date = header.started[:10]
    try:
        levels = dict(_before(folder / NAME).levels)
        for body in said:
            key = _key(entries[body.level])
            levels[key] = _pooled(levels.get(key, LevelKnown()), body, date)
        _write(folder / NAME, Known(levels=levels))
    except (OSError, BadInputError) as error:
        log.warning("what was learned of the levels is not kept: %s", error)


def _before(path: Path) -> Known:
    """Return what is kept; what may not be read is not replaced either."""
    try:
        return _read(path)
    except FileNotFoundError:
        return Known()


def remember_zero(folder: Path, entry: LevelEntry, date: str) -> None:
    """Keep the date on which a level's zero was proven.

    Raises:
        BadInputError: the folder's file is damaged.
        OSError: it cannot be written.
    """
    levels = dict(known(folder).levels)
    before = levels.get(_key(entry), LevelKnown())
    levels[_key(entry)] = before.model_copy(update={"zero_date": date})
    _write(folder / NAME, Known(levels=levels))


def _key(entry: LevelEntry) -> str:
    return f"{entry.profile} at {entry.port or entry.name}"


def _pooled(before: LevelKnown, body: Learned, date: str) -> LevelKnown:
    if body.what == "noise":
        old = before.noise
        n, sd = _together(old.n, old.sd_deg, body.samples, body.value)
        share = body.samples / n
        lag1 = round((1.0 - share) * old.lag1 + share * body.lag1, 6)
        return before.model_copy(update={"noise": Noise(sd_deg=sd, lag1=lag1, n=n, date=date)})
    # n placements have n - 1 degrees of freedom, and those are what adds up
    known_dof = max(before.seating.n - 1, 0)
    dof, u = _together(known_dof, before.seating.u_deg, body.samples - 1, body.value)
    return before.model_copy(update={"seating": Seating(u_deg=u, n=dof + 1, date=date)})


def _together(old_n: int, old: float, new_n: int, new: float) -> tuple[int, float]:
    """Number and root mean square of both; the older one counts as at most MOST_COUNTED."""
    kept = min(old_n, MOST_COUNTED)
    n = kept + new_n
    return n, round(math.sqrt((kept * old**2 + new_n * new**2) / n), 6)


def _write(path: Path, levels: Known) -> None:
    """Replace the file at once, so that nothing ever sees half of it."""
    handle, name = tempfile.mkstemp(prefix=path.name, dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(levels.model_dump_json(indent=1, exclude_unset=True) + "\n")
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o666 & ~_umask())  # whoever works on these jobs next may read it
        Path(name).replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


def _umask() -> int:
    """Return what the person wants new files to lack; it can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
