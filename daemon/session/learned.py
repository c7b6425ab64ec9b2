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
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal, TypeVar

from pydantic import Field, ValidationError

from daemon.measure.stream.learning import ENOUGH_PLACEMENTS
from shared.errors import BadInputError
from shared.events import Event, Learned
from shared.job import Header, LevelEntry
from shared.model import Written, first_problem
from shared.profile import Accuracy, LevelProfile, Noise, Seating

ENOUGH_NOISE = 120
"""Samples from which on a learned noise is better than an assumed one."""
SESSIONS = 5
"""So many sessions are remembered of a level, because levels age;"""
ONE_SESSION = 600
"""and each counts as at most so many samples."""
AGREE, SEATS_AGREE = 1.5, 3.0
"""Noises this factor apart are of one level, beyond it they contradict; and seatings, of which
a session knows few degrees of freedom."""
NO_DIFFERENCE_DEG = 0.002
"""Closer than this they agree, however small they are."""
ALONE = 3.0
"""One session alone is believed up to this many times what was assumed."""
log = logging.getLogger(__name__)
One = TypeVar("One", Noise, Seating)

NAME = "stillblade-levels.json"


class LevelKnown(Written):
    """What is known of one level.

    noises, seatings: what the last sessions taught, oldest first. noise, seating: what files
    of before knew, all sessions in one. seated: what `levels seating` last found.
    """

    noise: Noise = Noise()
    seating: Seating = Seating()
    zero_date: str = ""
    """When `levels zero` last found its zero within what is stated."""
    noises: tuple[Noise, ...] = ()
    seatings: tuple[Seating, ...] = ()
    seated: Seating = Seating()


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
    noise = _noise(_remembered(one.noise, one.noises), ALONE * profile.noise.sd_deg)
    if profile.noise.n == 0 and noise.n >= ENOUGH_NOISE:
        changes["noise"] = noise
    seating = _seating_of(one, ALONE * profile.seating.u_deg)
    if profile.seating.n == 0 and seating.n > 0:
        changes["seating"] = seating
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
    """Keep the date on which a level's zero was proven; raises as `remember_seating`."""
    _change(folder, entry, {"zero_date": date})


def remember_seating(folder: Path, entry: LevelEntry, found: Seating) -> None:
    """Keep how well a level was found to seat, with its date, in place of what was found before.

    Raises:
        BadInputError: the folder's file is damaged.
        OSError: it cannot be written, or what is in it not read.
    """
    _change(folder, entry, {"seated": found})


def remember_noise(folder: Path, entry: LevelEntry, found: Noise) -> None:
    """Keep a noise that was listened for, as a session's; raises as `remember_seating`."""
    before = _before(folder / NAME).levels.get(_key(entry), LevelKnown())
    _change(folder, entry, _with_noise(before, found))


Change = Mapping[str, str | Noise | Seating | tuple[Noise, ...] | tuple[Seating, ...]]
"""What becomes of fields of a `LevelKnown`."""


def _change(folder: Path, entry: LevelEntry, update: Change) -> None:
    levels = dict(_before(folder / NAME).levels)
    before = levels.get(_key(entry), LevelKnown())
    levels[_key(entry)] = before.model_copy(update=update)
    _write(folder / NAME, Known(levels=levels))


def _with_noise(before: LevelKnown, found: Noise) -> Change:
    counted = found.model_copy(update={"n": min(found.n, ONE_SESSION)})
    noises = [*_remembered(before.noise, before.noises), counted]
    return {"noise": Noise(), "noises": tuple(noises[-SESSIONS:])}


def _key(entry: LevelEntry) -> str:
    return f"{entry.profile} at {entry.port or entry.name}"


def _pooled(before: LevelKnown, body: Learned, date: str) -> LevelKnown:
    if body.what == "noise":
        noise = Noise(sd_deg=body.value, lag1=body.lag1, n=body.samples, date=date)
        return before.model_copy(update=_with_noise(before, noise))
    seating = Seating(u_deg=body.value, n=body.samples, date=date)
    seatings = [*_remembered(before.seating, before.seatings), seating]
    return before.model_copy(update={"seating": Seating(), "seatings": tuple(seatings[-SESSIONS:])})


def _remembered(first: One, later: Sequence[One]) -> list[One]:
    found = list(later)
    if first.n:
        found.insert(0, first)
    return found


def believed(values: Sequence[float], agree: float = AGREE) -> list[int]:
    """Return the places of the sessions that are believed, of values oldest first.

    The newest two neighbours that agree, and all that agree with the newer of them: what two
    later sessions contradict is forgotten, and what one contradicts is not. A session alone is
    believed; of several of which no neighbours agree none is.
    """
    if len(values) < 2:
        return list(range(len(values)))
    for newer in range(len(values) - 1, 0, -1):
        if _alike(values[newer - 1], values[newer], agree):
            return [k for k, value in enumerate(values) if _alike(value, values[newer], agree)]
    return []


def _alike(one: float, other: float, agree: float) -> bool:
    return max(one, other) <= agree * min(one, other) + NO_DIFFERENCE_DEG


def _noise(sessions: Sequence[Noise], most_alone: float) -> Noise:
    """Return one noise of what the sessions taught; n = 0 where nothing is known."""
    kept = [sessions[k] for k in believed([one.sd_deg for one in sessions])]
    n = sum([one.n for one in kept])
    if n == 0:
        return Noise()
    sd = math.sqrt(math.fsum([one.n * one.sd_deg**2 for one in kept]) / n)
    lag1 = math.fsum([one.n * one.lag1 for one in kept]) / n
    sd = min(sd, most_alone) if len(kept) == 1 else sd
    return Noise(sd_deg=round(sd, 6), lag1=round(lag1, 6), n=n, date=kept[-1].date)


def _seating(sessions: Sequence[Seating], most_alone: float) -> Seating:
    """Return one seating of what the sessions taught; one alone is at most so much."""
    kept = [sessions[k] for k in believed([one.u_deg for one in sessions], SEATS_AGREE)]
    found = _together(kept)
    alone = len(kept) == 1 and found.u_deg > most_alone
    return found.model_copy(update={"u_deg": round(most_alone, 6)}) if alone else found


def _together(kept: Sequence[Seating]) -> Seating:
    """Pool seatings; n placements have n - 1 degrees of freedom, and those add up."""
    dof = sum([one.n - 1 for one in kept])
    if dof == 0:
        return Seating()
    u = math.sqrt(math.fsum([(one.n - 1) * one.u_deg**2 for one in kept]) / dof)
    return Seating(u_deg=round(u, 6), n=dof + 1, date=max(one.date for one in kept))


def _seating_of(one: LevelKnown, most_alone: float) -> Seating:
    """Return the seating that is known well enough to be used, else n = 0.

    What was found on purpose holds, with the sessions that agree with it, until two sessions after
    it agree on something else. Sessions alone need more placements than one of them makes.
    """
    sessions, found = _remembered(one.seating, one.seatings), one.seated
    if not found.n:
        learned = _seating(sessions, most_alone)
        return learned if learned.n > ENOUGH_PLACEMENTS else Seating()
    since = [found, *(session for session in sessions if session.date >= found.date)]
    kept = believed([session.u_deg for session in since], SEATS_AGREE)
    if kept and 0 not in kept:
        return _together([since[k] for k in kept])
    agree = [session for session in sessions if _alike(session.u_deg, found.u_deg, SEATS_AGREE)]
    return _together([found, *agree])


def _write(path: Path, levels: Known) -> None:
    """Replace the file at once, so that nothing ever sees half of it."""
    try:
        handle, name = tempfile.mkstemp(prefix=path.name, dir=path.parent)
    except OSError as error:  # nobody knows the name that it would have had
        raise OSError(error.errno, error.strerror, str(path)) from error
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
