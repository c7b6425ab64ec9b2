"""What goes over the wire between a service and an attached face: one JSON object a line.

    face -> service   {"hello": 1, "version": "0.2.0", "after": 0, "token": ""}   once, first
                      {"command": {"kind": "take", ...}}                          any number
    service -> face   {"hello": 1, "version": "0.2.0", "session": "..."}          once, first
                      {"view": {...}}       the newest picture, whenever there is room for one
                      {"event": {...}}      every event after `after`, in order, none left out
                      {"refused": "why"}    the last line before the service hangs up
                      {"over": true}        no more events will come

Views have the shape that one version of the program gives them, so both ends must be of the same
version. `token` is asked for over TCP only.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from pydantic import TypeAdapter, ValidationError

from shared.events import Event
from shared.inputs import Command
from shared.messages import (
    command_from_line,
    event_from_dict,
    event_to_dict,
    json_of,
)
from shared.model import first_problem
from shared.view import View

PROTOCOL = 1
LONGEST_ANSWER = 4 * 1024 * 1024
"""Bytes of a line from the service: a view of six blades has some 20,000."""


@dataclass(frozen=True, slots=True)
class Hello:
    """What a face says first. after: number of the last event it has."""

    version: str
    after: int = 0
    token: str = ""


@dataclass(frozen=True, slots=True)
class Welcome:
    """What a service says first. session: which one it runs."""

    version: str
    session: str


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why the service hangs up."""

    why: str


@dataclass(frozen=True, slots=True)
class Over:
    """No more events will come."""


_HELLOS, _VIEWS = TypeAdapter(Hello), TypeAdapter(View)
Told = Welcome | View | Event | Refusal | Over


def hello_line(hello: Hello) -> bytes:
    """Write what a face says first."""
    return _line({"hello": PROTOCOL, **asdict(hello)})


def hello_from(line: bytes) -> Hello:
    """Read what a face says first.

    Raises:
        ValueError: it is not that, or of another protocol.
    """
    given = _object(line)
    if given.get("hello") != PROTOCOL:
        raise ValueError(f'the first line is no {{"hello": {PROTOCOL}}}')
    values = {key: value for key, value in given.items() if key != "hello"}
    try:
        hello: Hello = _HELLOS.validate_python(values)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"hello: {where}: {problem[:200]}") from error
    if hello.after < 0:
        raise ValueError("hello: after is less than 0")
    return hello


def asked_line(command: Command) -> bytes:
    """Write a command."""
    values = asdict(command)
    del values["t_ns"]
    return _line({"command": values})


def asked_from(line: bytes, newest: int) -> Command:
    """Read a command; newest: number of the newest event, seen where the line does not say.

    Raises:
        ValueError: it is none.
    """
    given = _object(line)
    if set(given) != {"command"}:
        raise ValueError('a line is {"command": {...}}')
    return command_from_line(json.dumps(given["command"]), newest, "attached")


def told_line(told: Told) -> bytes:
    """Write what a service tells."""
    match told:
        case Welcome():
            return _line({"hello": PROTOCOL, **asdict(told)})
        case Refusal(why):
            return _line({"refused": why})
        case Over():
            return _line({"over": True})
        case Event():
            return _line({"event": event_to_dict(told)})
        case View():
            return b'{"view": ' + _VIEWS.dump_json(told) + b"}\n"


def told_from(line: bytes) -> Told:
    """Read what a service tells.

    Raises:
        ValueError: it is nothing that this version knows.
    """
    given = _object(line)
    match given:
        case {"view": view}:
            return _view(view)
        case {"event": dict(event)}:
            return event_from_dict(event)
        case {"hello": 1, "version": str(version), "session": str(session)}:
            return Welcome(version, session)
        case {"refused": str(why)}:
            return Refusal(why)
        case {"over": True}:
            return Over()
    raise ValueError(f"not a line of a stillblade service: {line[:80]!r}")


def _view(values: Any) -> View:
    try:
        view: View = _VIEWS.validate_python(values)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"view: {where}: {problem[:200]}") from error
    return view


def _line(values: Mapping[str, Any]) -> bytes:
    return json.dumps(values).encode() + b"\n"


def _object(line: bytes) -> dict[str, Any]:
    given = json_of(line.rstrip(b"\n"), LONGEST_ANSWER)
    if not isinstance(given, dict):
        raise ValueError(f"not a JSON object: {line[:80]!r}")  # noqa: TRY004 - a stranger's bytes
    return given
