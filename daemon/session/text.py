"""The text form of a session: JSON Lines that a person can read and write.

Line 1 is the header, then inputs, then outputs, then the time reached. In a session written
by hand the header needs only `job`; profiles come from the job's levels, times may be `t_s`, a
command need not say what its client had `seen`, and an `end` stands for the time reached.
"""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from daemon.core.rules import FORMAT, RULES
from daemon.session.jobs import resolve_profiles
from daemon.session.recording import Recording
from shared.errors import BadInputError
from shared.events import Event
from shared.inputs import ALL_SEEN, NS, End, Input
from shared.job import Header, Job
from shared.messages import (
    LATEST_NS,
    event_from_dict,
    event_to_dict,
    input_from_dict,
    input_to_dict,
)
from shared.model import first_problem
from shared.plain import plain_json

LONGEST_LINE = 16 * 1024 * 1024
"""In characters; a longer line is taken for two."""
MOST_DAMAGE = 1000
"""After so many lines that are none, a file is no session."""

NO_END = (
    'it ends with neither an input "end" nor reach_ns: write {"input": "end", "t_s": ...} as its '
    "last input"
)


def lines(recording: Recording) -> Iterator[str]:
    """Yield the text form, line by line, without line ends."""
    yield plain_json(recording.header.model_dump_json(exclude_defaults=False))
    for item in recording.inputs:
        yield json.dumps(input_to_dict(item))
    for event in recording.events:
        yield json.dumps(event_to_dict(event))
    yield json.dumps({"reach_ns": recording.reach_ns})


def read(path: Path) -> Recording:
    """Read a text form; wrong lines are left out and named in `damage`.

    Raises:
        BadInputError: the first line is not a header.
    """
    with path.open(encoding="utf-8", errors="replace") as file:
        inputs: list[Input] = []
        recording = Recording(_header(path, file.readline(LONGEST_LINE)), inputs)
        recording.reach_ns, last = -1, 1
        for number, line in enumerate(iter(lambda: file.readline(LONGEST_LINE), ""), 2):
            if line.strip():
                last = _line(recording, inputs, number, line, last)
            if len(recording.damage) > MOST_DAMAGE:
                recording.damage.append("and so on: it is read no further")
                break
    if recording.reach_ns < 0 and not any(isinstance(one, End) for one in inputs):
        recording.damage.append(NO_END)
    recording.reach_ns = max(
        [
            recording.reach_ns,
            0,
            *(item.t_ns for item in inputs),
            *(event.t_ns for event in recording.events),
        ]
    )
    return recording


def _header(path: Path, line: str) -> Header:
    try:
        data = _loaded(line)
        json.dumps(data, ensure_ascii=False).encode()  # half of a character cannot be written
    except ValueError as error:
        raise BadInputError(
            str(path), "line 1", f"not a session: its first line is not JSON ({error})"
        ) from error
    if not isinstance(data, dict) or "job" not in data:
        raise BadInputError(str(path), "line 1", "not a session: its first line is no header")
    try:
        return Header.model_validate(_completed(path, data))
    except ValidationError as error:
        raise BadInputError(f"{path}: line 1", *first_problem(error)) from error


def _completed(path: Path, data: Mapping[str, Any]) -> dict[str, Any]:
    """Fill in what a person who writes by hand may leave out."""
    given = {
        "stillblade": "by hand",
        "format": FORMAT,
        "rules": RULES,
        "session": path.stem,
        "started": "",
        **data,
    }
    if "profiles" not in given:
        job = Job.model_validate(given["job"])
        profiles = resolve_profiles(job, path.parent)
        given["profiles"] = {name: p.model_dump() for name, p in profiles.items()}
    return given


def _loaded(line: str) -> Any:
    """Return what a line of JSON says.

    Raises:
        ValueError: it is not JSON, or nested deeper than anything that is written.
    """
    try:
        return _DECODER.decode(line)
    except json.JSONDecodeError as error:
        raise ValueError(f"character {error.colno}") from error
    except RecursionError as error:
        raise ValueError("nested too deep") from error


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")


_DECODER = json.JSONDecoder(parse_constant=_no_constant)


def _line(recording: Recording, inputs: list[Input], number: int, line: str, last: int) -> int:
    """Keep one line; return the number of the last line that held an input. last: up to here."""
    try:
        data = _loaded(line)
        if not isinstance(data, dict):
            raise TypeError("not an object")  # noqa: TRY301
        if _keep(recording, inputs, data, last):
            return number
    except (ValueError, TypeError, OverflowError) as error:
        recording.damage.append(f"line {number}: {error}")
    return last


def _keep(recording: Recording, inputs: list[Input], data: dict[str, Any], last: int) -> bool:
    """Keep what a line holds; return whether that is an input."""
    if "reach_ns" in data:
        reached = int(data["reach_ns"])
        if not 0 <= reached < LATEST_NS:
            raise ValueError(f"reach_ns {reached} is no time of a session")
        recording.reach_ns = reached
    elif "input" in data:
        _next(inputs, data, last)
        return True
    elif "event" in data:
        event: Event = event_from_dict(data)
        recording.events.append(event)
    else:
        raise ValueError("neither an input, an event nor reach_ns")
    return False


def _next(inputs: list[Input], data: dict[str, Any], last: int) -> None:
    """Keep an input, if it comes later than the one before."""
    if data["input"] == "command":
        data = {"seen": ALL_SEEN, **data}
    item: Input = input_from_dict(data)
    before = inputs[-1].t_ns if inputs else -1
    if item.t_ns <= before:
        raise ValueError(
            f"its time, {item.t_ns / NS:g} s, is not after {before / NS:g} s of line {last}: time "
            "must grow from line to line"
        )
    inputs.append(item)
