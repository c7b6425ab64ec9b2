"""JSON Schemas of everything the program reads and writes, from the types themselves."""

from typing import Any, Union

from pydantic import TypeAdapter
from pydantic.json_schema import models_json_schema

from shared.events import Event
from shared.inputs import Bytes, Command
from shared.job import Header, Job
from shared.messages import INPUT_NAMES
from shared.plan import Procedure
from shared.profile import LevelProfile
from shared.view import AlarmView, View

EVENTS: Any = Union[Event.BODIES]  # noqa: UP007 - the members are a tuple of types
REF = "#/$defs/{model}"
DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(what: str) -> dict[str, Any]:
    """Return the schema of "job", "procedure", "level", "session", "messages" or "broker".

    Raises:
        KeyError: another word.
    """
    made = {
        "job": Job.model_json_schema,
        "procedure": Procedure.model_json_schema,
        "level": LevelProfile.model_json_schema,
        "session": _session,
        "messages": _messages,
        "broker": _broker,
    }[what]()
    return {"$schema": DRAFT, "$id": f"urn:stillblade:{what}", **made}


def _messages() -> dict[str, Any]:
    """One line of standard output with --json: n, t_s and the event's own fields."""
    schema = TypeAdapter(EVENTS).json_schema()
    return _with(schema, {"n": {"type": "integer"}, "t_s": {"type": "number"}}, ["event"])


def _broker() -> dict[str, Any]:
    """What is published, a property a topic; the topics themselves stand in docs/broker.md."""
    from daemon.faces.asked import Query, Refusal
    from daemon.faces.broker import Health, JobState, State

    events = TypeAdapter(EVENTS).json_schema(ref_template=REF)
    told = {"session": {"type": "string"}, "n": {"type": "integer"}, "t_ns": {"type": "integer"}}
    event = _with(events, told, ["event", "session", "n", "t_ns"])
    adapters: dict[str, TypeAdapter[Any]] = {
        "state": TypeAdapter(State),
        "job": TypeAdapter(JobState),
        "levels": TypeAdapter(list[Health]),
        "alarms": TypeAdapter(list[AlarmView]),
        "view": TypeAdapter(View),
        "reached": TypeAdapter(int),
        "query": TypeAdapter(Query),
        "command": TypeAdapter(Command),
        "refusal": TypeAdapter(Refusal),
    }
    refs, rest = TypeAdapter.json_schemas(
        [(about, "serialization", adapter) for about, adapter in adapters.items()], ref_template=REF
    )
    topics = {about: refs[about, "serialization"] for about in adapters}
    topics |= {"event": {"$ref": REF.format(model="AnyEvent")}}
    topics |= {"result": topics["event"]}
    defs = {**rest["$defs"], **event.pop("$defs"), "AnyEvent": event}
    return {"title": "What is published to a broker", "properties": topics, "$defs": defs}


def _session() -> dict[str, Any]:
    """One line of the text form: the header, an input, an output or the time reached."""
    _, header = models_json_schema([(Header, "validation")], ref_template=REF)
    outputs = _with(
        TypeAdapter(EVENTS).json_schema(ref_template=REF),
        {"n": {"type": "integer"}, "t_ns": {"type": "integer"}},
        ["event", "n", "t_ns"],
    )
    defs = {**header["$defs"], **outputs.pop("$defs")}
    defs |= {cls.__name__: _input_line(cls, name) for cls, name in INPUT_NAMES.items()}
    reach = {"properties": {"reach_ns": {"type": "integer"}}, "required": ["reach_ns"]}
    names = ["Header", *(cls.__name__ for cls in INPUT_NAMES)]
    refs: list[dict[str, Any]] = [{"$ref": REF.format(model=name)} for name in names]
    title = "One line of a session's text form"
    return {"title": title, "anyOf": [*refs, outputs, reach], "$defs": defs}


def _input_line(cls: type, name: str) -> dict[str, Any]:
    """An input says its kind and its time; bytes are written as text or hex."""
    schema = TypeAdapter(cls).json_schema(ref_template=REF)
    properties, required = schema["properties"], schema.get("required", [])
    properties |= {"input": {"const": name}, "t_s": {"type": "number"}}
    schema["anyOf"] = [{"required": ["t_ns"]}, {"required": ["t_s"]}]
    if cls is Bytes:
        del properties["data"]
        properties |= {"text": {"type": "string"}, "hex": {"type": "string"}}
        schema["oneOf"] = [{"required": ["text"]}, {"required": ["hex"]}]
        required = ["level"]
    schema["required"] = ["input", *required]
    return schema


def _with(
    schema: dict[str, Any], properties: dict[str, Any], required: list[str]
) -> dict[str, Any]:
    for definition in schema["$defs"].values():
        definition.setdefault("properties", {}).update(properties)
        definition["required"] = sorted({*definition.get("required", []), *required})
    return schema
