"""The file of trial flights of a hub, beside its sessions: TOML that a person completes, never half written.

A point is put at its end; what a person wrote above it, remarks too, stays as it is.
"""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomli_w
from pydantic import ValidationError

from daemon.session.recording import Recording
from daemon.sheet.put_beside import beside, put_at_end, read_as
from daemon.sheet.settings_of_hub import Setting, setting_of
from daemon.trial.points import Point, Trial
from shared.errors import BadInputError
from shared.events import Judged
from shared.model import first_problem

AFTER_TORQUE = {"torque", "final"}
TEMPLATE = """\
# Trial flights of hub {hub}. Points are put at the end by stillblade trial add; the limits are yours to enter.
# Take every number from the manuals of engine, propeller and aircraft; none is guessed, and without them nothing
# is advised. Take the # away from what you fill in.
stillblade_trial = 1
aircraft = {aircraft}

[manual]
# may_change = true           # only where every manual allows this change of setting
# sources = ["title, revision, page"]
# step_deg = 0.5              # the largest step at a time, where a manual names one
# least_deg = 0.0             # the settings that the propeller's manual allows
# most_deg = 0.0
# never_exceed_kt = 0         # true airspeed
# level_above_static_percent = 0   # rpm at full throttle in level flight above static, where its maker says so

# [[limit]]                   # one for each: static least, static most, redline
# name = "static, least"
# manual = "title, revision, page"
# runs = ["static"]           # of static, climb, level
# least_rpm = 0               # or most_rpm
# minutes = 5                 # where it holds for a time only

[propeller]
"""


def place(folder: Path, hub: str) -> Path:
    """Return where the trial flights of a hub are kept."""
    return beside(folder, hub, "trial")


def trial_in(path: Path) -> Trial:
    """Read a file of trial flights.

    Raises:
        BadInputError: it is not there, no TOML, or a key is wrong; it says which and what to do.
    """
    try:
        return read_as(Trial, path.read_text("utf-8"), path)
    except FileNotFoundError as error:
        remedy = "add a point first: stillblade trial add SESSION"
        raise BadInputError(str(path), "", "is not there", remedy) from error
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise BadInputError(str(path), "", "not a text file in UTF-8", "mend it by hand") from error


def flown_beside(folder: Path, hub: str) -> tuple[Trial | None, str]:
    """Return the trial flights of a hub beside its sessions, None where there are none, and what is wrong with them."""
    path = place(folder, hub)
    if not hub or not path.exists():
        return None, ""
    try:
        return trial_in(path), ""
    except BadInputError as error:
        return None, str(error)


def measured(name: str, recording: Recording) -> Setting:
    """Return what a session measured, where it read every blade after torque.

    Raises:
        BadInputError: it is not finished, names no hub, or lacks a blade or the reading after torque.
    """
    found = setting_of(name, recording)
    if found is None:
        raise BadInputError(name, "", "has no result", "finish it first: run its job")
    if not found.hub:
        remedy = "enter propeller.hub in the job: points are kept by hub"
        raise BadInputError(name, "propeller.hub", "its job names no hub", remedy)
    rounds = {event.body.stage for event in recording.events if isinstance(event.body, Judged)}
    if not rounds & AFTER_TORQUE or len(found.angles) < found.propeller.blades:
        problem = "not every blade was read after torque"
        raise BadInputError(
            name, "", problem, "a setting counts as measured then, never as aimed at"
        )
    return found


def set_since(found: Setting, others: Sequence[Setting], flown: str) -> Setting | None:
    """Return the newest session that set the hub after this one and may have set it before a flight; None: none did.

    flown: date of the flight, with its time or without: then a session of that day may be before it; "": not said.
    """
    moment = flown[:16].replace(" ", "T")
    later = [
        one
        for one in others
        if one.hub == found.hub
        and one.started > found.started
        and (not moment or one.started[: len(moment)] <= moment)
    ]
    return max(later, key=lambda one: one.started, default=None)


def check_flown(found: Setting, others: Sequence[Setting], flown: str) -> None:
    """Refuse a point whose session is not the one that set the propeller as it was flown, as far as dates tell.

    Raises:
        BadInputError: another session set the hub since, or this one is later than the flight.
    """
    since = set_since(found, others, flown)
    if since is not None:
        problem = f"{since.name} of {since.started[:16]} set hub {found.hub} again after it"
        remedy = "name that session; or give --flown, with the time, where the flight was before it"
        raise BadInputError(found.name, "", problem, remedy)
    moment = flown[:16].replace(" ", "T")
    if moment and moment < found.started[: len(moment)]:
        problem = f"{flown} is before {found.name}, of {found.started[:16]}"
        raise BadInputError(
            "command line", "--flown", problem, "name the session before the flight"
        )


def point_of(found: Setting, recording: Recording, given: Mapping[str, Any]) -> Point:
    """Return a point: the measured mean of all blades, its U95 as if they shared all of it, and what was given.

    Raises:
        BadInputError: a value that cannot be; nobody says when it was flown.
    """
    if not (found.started or given.get("flown")):
        remedy = "say on which: --flown 2027-05-31"
        raise BadInputError(found.name, "", "its session was of no day", remedy)
    many = len(found.angles)
    tables = {
        "session": recording.header.session,
        "file": found.name,
        "flown": found.started[:10],
        "angle_deg": round(math.fsum(angle for angle, _ in found.angles.values()) / many, 4),
        "u95_deg": round(math.fsum(u95 for _, u95 in found.angles.values()) / many, 4),
        "spread_deg": found.spread_deg,
        "hub": found.hub,
        "serials": list(found.serials.values()),
        "station": found.propeller.station,
        **{key: value for key, value in given.items() if value is not None and value != ""},
    }
    try:
        return Point.model_validate(tables)
    except ValidationError as error:
        key, problem, remedy = first_problem(error)
        option = f"--{key.replace('_', '-')}" if key else "point"
        raise BadInputError("command line", option, problem, remedy) from error


def add(path: Path, recording: Recording, point: Point) -> Trial:
    """Put a point at the end of a file, which is made where it is not there.

    Raises:
        BadInputError: the file is not right as it is; nothing is written.
        OutsideError: it cannot be written; what was there stays.
    """
    values = {k: v for k, v in point.model_dump().items() if v not in (None, "", [])}
    return put_at_end(path, Trial, "point", values, lambda: _first(recording, point))


def _first(recording: Recording, point: Point) -> str:
    job = recording.header.job
    aircraft = tomli_w.dumps({"a": job.aircraft}).removeprefix("a = ").strip()
    propeller = {
        "hub": point.hub,
        "blades": job.propeller.blades,
        "station": point.station,
        "serials": point.serials,
    }
    return TEMPLATE.format(hub=ascii(point.hub), aircraft=aircraft) + tomli_w.dumps(propeller)
