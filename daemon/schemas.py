"""JSON Schemas of everything the program reads and writes, from the types themselves."""

from typing import Any, Union

from pydantic import TypeAdapter
from pydantic.json_schema import models_json_schema

from shared.events import Event
from shared.inputs import Bytes, Clock, Command, End, Link
from shared.job import Header, Job
from shared.profile import LevelProfile

EVENTS: Any = Union[Event.BODIES]  # noqa: UP007 - the members are a tuple of types
DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(what: str) -> dict[str, Any]:
    """Return the schema of "job", "level", "session" or "messages".

    Raises:
        KeyError: another word.
    """
    made = {
        "job": Job.model_json_schema,
        "level": LevelProfile.model_json_schema,
        "session": _session,
        "messages": _messages,
    }[what]()
    return {"$schema": DRAFT, "$id": f"urn:stillblade:{what}", **made}


def _messages() -> dict[str, Any]:
    """One line of standard output with --json: n, t_s and the event's own fields."""
    schema = TypeAdapter(EVENTS).json_schema()
    return _with(schema, {"n": {"type": "integer"}, "t_s": {"type": "number"}}, ["event"])


def _session() -> dict[str, Any]:
    """One line of the text form: the header, an input, an output or the time reached."""
    _, header = models_json_schema([(Header, "validation")], ref_template="#/$defs/{model}")
    commands = TypeAdapter(Command).json_schema(ref_template="#/$defs/{model}")
    others = {
        cls.__name__: TypeAdapter(cls).json_schema(ref_template="#/$defs/{model}")
        for cls in (Link, Clock, End)
    }
    defs = {**header["$defs"], "Command": commands, **others, "Bytes": _bytes_line()}
    outputs = TypeAdapter(EVENTS).json_schema(ref_template="#/$defs/{model}")
    defs |= outputs.pop("$defs")
    names = ["Header", "Bytes", "Command", "Link", "Clock", "End"]
    reach = {
        "type": "object",
        "properties": {"reach_ns": {"type": "integer"}},
        "required": ["reach_ns"],
    }
    refs: list[dict[str, Any]] = [{"$ref": f"#/$defs/{name}"} for name in names]
    return {
        "title": "One line of a session's text form",
        "anyOf": [*refs, outputs, reach],
        "$defs": defs,
    }


def _bytes_line() -> dict[str, Any]:
    schema = TypeAdapter(Bytes).json_schema()
    schema["properties"].pop("data")
    schema["properties"] |= {"text": {"type": "string"}, "hex": {"type": "string"}}
    schema["required"] = ["level"]
    return schema


def _with(
    schema: dict[str, Any], properties: dict[str, Any], required: list[str]
) -> dict[str, Any]:
    for definition in schema["$defs"].values():
        definition.setdefault("properties", {}).update(properties)
        definition["required"] = sorted({*definition.get("required", []), *required})
    return schema
