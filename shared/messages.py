"""Events and inputs as JSON objects, and back: the text form, standard output, the schema.

Every message on standard output carries `event` and `t_s`; recorded outputs carry `t_ns`.
"""

import json
import uuid
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from shared.events import Body, Event, Unknown
from shared.inputs import NS, Bytes, Clock, Command, End, Input, Link
from shared.model import first_problem

LATEST_NS = 10 * 366 * 86_400 * NS
"""No session lasts ten years."""
LONGEST_LINE = 65536
"""Bytes of a line from outside."""
MOST_DIGITS = 300
"""Of a whole number in it; the language itself gives up at some thousand, in words of its own."""

INPUT_NAMES: dict[type, str] = {
    Bytes: "bytes",
    Link: "link",
    Command: "command",
    Clock: "clock",
    End: "end",
}

BODY_BY_NAME: dict[str, type] = {
    str(cls.__dataclass_fields__["event"].default): cls  # type: ignore[attr-defined]
    for cls in Event.BODIES
}


def body_to_dict(body: Body) -> dict[str, Any]:
    """Return the event's own fields, `event` first."""
    if isinstance(body, Unknown):
        return {"event": body.event, **body.data}
    assert is_dataclass(body)
    values = asdict(body)
    return {"event": values.pop("event"), **values}


def body_from_dict(data: Mapping[str, Any]) -> Body:
    """Rebuild an event; unknown fields are ignored, an unknown kind is kept whole.

    Raises:
        ValueError: a known kind lacks a field it must have.
    """
    values = dict(data)
    name = str(values.pop("event"))
    cls = BODY_BY_NAME.get(name)
    if cls is None:
        return Unknown(name, values)
    known = {f.name for f in fields(cls)} - {"event"}
    given = {key: value for key, value in values.items() if key in known}
    try:
        body: Body = _adapter(cls).validate_python(given)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"event {name!r}: {where}: {problem[:200]}") from error
    return body


@cache
def _adapter(cls: type) -> TypeAdapter[Any]:
    return TypeAdapter(cls)


def event_line(event: Event) -> str:
    """One line of standard output with --json."""
    body = body_to_dict(event.body)
    name = body.pop("event")
    return json.dumps({"event": name, "t_s": round(event.t_ns / NS, 3), "n": event.n, **body})


def event_to_dict(event: Event) -> dict[str, Any]:
    """Return a recorded output: n, t_ns and the event's own fields."""
    return {"n": event.n, "t_ns": event.t_ns, **body_to_dict(event.body)}


def event_from_dict(data: Mapping[str, Any]) -> Event:
    """Rebuild a recorded output.

    Raises:
        ValueError: a field is missing or of the wrong kind.
    """
    values = dict(data)
    try:
        n, t_ns = int(values.pop("n")), int(values.pop("t_ns"))
        if not 0 <= t_ns < LATEST_NS:
            raise ValueError(f"output {n % LATEST_NS} has no time of a session")
        return Event(n, t_ns, body_from_dict(values))
    except KeyError as error:
        raise ValueError(f"an output lacks {error}") from error
    except (TypeError, OverflowError) as error:
        raise ValueError(f"n or t_ns of an output is no whole number: {error}") from error


def input_to_dict(item: Input) -> dict[str, Any]:
    """Return an input as a JSON object: `input` names its kind; bytes as text or hex."""
    name = INPUT_NAMES[type(item)]
    if isinstance(item, Bytes):  # nearly all lines are of these
        data = item.data
        shown = {"text": data.decode("ascii")} if _readable(data) else {"hex": data.hex(" ")}
        where = {"level": item.level, "channel": item.channel}
        return {"input": name, "t_ns": item.t_ns, **where, **shown}
    values = asdict(item)
    return {"input": name, "t_ns": values.pop("t_ns"), **values}


def input_from_dict(data: Mapping[str, Any]) -> Input:
    """Rebuild an input. Time is `t_ns`, or `t_s` for people who write by hand.

    Raises:
        ValueError: the kind is unknown, or a field is missing, unknown or of the wrong type.
    """
    values = dict(data)
    name = values.pop("input", None)
    cls = next((cls for cls, known in INPUT_NAMES.items() if known == name), None)
    if cls is None:
        raise ValueError(f"input {str(name)[:80]!r} is not one of {sorted(INPUT_NAMES.values())}")
    if "t_s" in values:
        values["t_ns"] = _whole_ns(values.pop("t_s"))
    if cls is Bytes:
        values["data"] = _data(values)
        values.setdefault("channel", 0)
    try:
        item: Input = _adapter(cls).validate_python(values, strict=False)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"input {name!r}: {where}: {problem[:200]}") from error
    if item.t_ns < 0:
        raise ValueError(f"input {name!r} has no time: t_ns or t_s")
    if item.t_ns >= LATEST_NS:
        raise ValueError(f"input {name!r} is later than any session: {item.t_ns} ns")
    return item


def _whole_ns(t_s: Any) -> int:
    try:
        return round(float(t_s) * NS)
    except (TypeError, OverflowError) as error:
        raise ValueError(f"t_s is no time: {error}") from error


_READABLE = bytes([9, 10, 13, *range(32, 127)])


def _readable(data: bytes) -> bool:
    return not data.translate(None, _READABLE)


def _data(values: dict[str, Any]) -> bytes:
    """Take `text` or `hex` out of `values`."""
    text, hexa = values.pop("text", None), values.pop("hex", None)
    if (text is None) == (hexa is None):
        raise ValueError("input 'bytes' needs either text or hex")
    if text is not None:
        return str(text).encode("latin-1")
    return bytes.fromhex(str(hexa))


def command_from_line(line: str | bytes, newest: int, client: str) -> Command:
    """Build a command from a line of JSON; `kind` alone is enough.

    Args:
        line: an object with kind, and if wanted id, client, seen, args or until.
        newest: number of the newest event, taken as seen where the line does not say.
        client: who asks, where the line does not say.

    Raises:
        ValueError: not JSON, or a key is wrong, missing or unknown.
    """
    data = json_of(line)
    given = data if isinstance(data, dict) else {}
    if "kind" not in given:
        shown = line[:80].decode("utf-8", "replace") if isinstance(line, bytes) else line[:80]
        raise ValueError(f'a command is an object like {{"kind": "take"}}, not {shown!r}')
    unknown = sorted(set(given) - {"kind", "id", "client", "seen", "args", "until"})
    if unknown:
        raise ValueError(f"no such key: {', '.join(unknown[:8])}")
    whole = {"id": uuid.uuid4().hex, "client": client, "seen": newest, **given}
    try:
        command: Command = _adapter(Command).validate_python(whole)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"{where}: {problem[:200]}") from error
    for word in (command.id, command.client, *command.args, *command.args.values()):
        if isinstance(word, str) and any("\ud800" <= one <= "\udfff" for one in word):
            raise ValueError("half of a character cannot be written anywhere")
    for key in ("blade", "id"):
        given_number = command.args.get(key)
        if isinstance(given_number, float) and not given_number.is_integer():
            raise ValueError(f"args.{key}: {given_number:g} is no whole number")
    return command


def json_of(line: str | bytes, longest: int = LONGEST_LINE) -> object:
    """Read a line of JSON from somebody who may be a stranger; longest: bytes.

    Raises:
        ValueError: too long, nested too deep, not JSON, or a number that is none.
    """
    if len(line) >= longest:
        raise ValueError(f"a line of {longest} bytes or more is too long")
    try:
        text = line.decode() if isinstance(line, bytes) else line
        return json.loads(text, parse_constant=_no_constant, parse_int=_whole)
    except UnicodeDecodeError as error:
        raise ValueError("it is not UTF-8") from error
    except json.JSONDecodeError as error:
        raise ValueError(f"it is not JSON from its character {error.pos + 1} on") from error
    except RecursionError as error:
        raise ValueError("nested too deep") from error


def _whole(digits: str) -> int:
    if len(digits) > MOST_DIGITS:
        raise ValueError(f"a number of {len(digits)} digits is none")
    return int(digits)


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")
