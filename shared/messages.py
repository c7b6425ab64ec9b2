"""Events and inputs as JSON objects, and back: the text form, standard output, the schema.

Every message on standard output carries `event` and `t_s`; recorded outputs carry `t_ns`.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, fields, is_dataclass
from typing import Any

from shared.events import Body, Event, Unknown
from shared.inputs import NS

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
    try:
        body: Body = cls(**{key: value for key, value in values.items() if key in known})
    except TypeError as error:
        raise ValueError(f"event {name!r}: {error}") from error
    return body


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
        return Event(n, t_ns, body_from_dict(values))
    except KeyError as error:
        raise ValueError(f"an output lacks {error}") from error
