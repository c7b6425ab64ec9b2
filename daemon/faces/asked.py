"""What a client of a broker asks: bytes of a stranger to a command or a query, or why not. Pure.

    command   {"id": "7", "kind": "note", "args": {"text": "..."}, "until": 81000000000}
    query     {"id": "8", "query": "view"}    {"id": "9", "query": "events", "after": 120}

`until` is session time in nanoseconds, as in the newest view (`t_ns`) and a few seconds more: it needs no
clock that agrees with ours, and what a broker held back for longer is never done.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, TypeAdapter, ValidationError

from shared.inputs import Command, CommandKind
from shared.messages import command_from_line, json_of
from shared.model import first_problem

ANYBODY: frozenset[CommandKind] = frozenset({"note"})
"""What a client may do that the job does not name."""
MOST_EVENTS = 200
"""In one reply; whoever wants more asks again, after the last."""


@dataclass(frozen=True, slots=True)
class Query:
    """A question that changes nothing. after: events with greater numbers are wanted."""

    __pydantic_config__: ClassVar[dict[str, Any]] = {"extra": "forbid"}

    id: str
    query: Literal["view", "events"]
    after: Annotated[int, Field(strict=True, ge=0, lt=2**53)] = 0


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why something is not done. id: "" where it had none that can be read."""

    id: str
    why: str
    result: Literal["refused"] = field(default="refused")


_QUERIES = TypeAdapter(Query)


def read(
    payload: bytes, client: str, may_act: Sequence[str], newest: int
) -> Command | Query | Refusal:
    """Read what a client asks.

    Args:
        payload: of the message.
        client: last part of its topic, which the broker's own rules tie to a user.
        may_act: the job's list.
        newest: number of the newest event, seen where the message does not say.
    """
    number = ""
    try:
        given = json_of(payload)
        if not isinstance(given, dict):
            return Refusal("", "not a JSON object")
        number = _id(given)
        if "query" in given:
            return _QUERIES.validate_python(given)
        return _command(payload, client, may_act, newest)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        return Refusal(number, f"{where}: {problem[:200]}")
    except ValueError as error:
        return Refusal(number, str(error)[:300])


def _id(given: dict[str, Any]) -> str:
    number = given.get("id")
    if not isinstance(number, str) or not 0 < len(number) <= 200:
        raise ValueError("id is missing: a text that no other message of yours has")
    number.encode()
    return number


def _command(payload: bytes, client: str, may_act: Sequence[str], newest: int) -> Command | Refusal:
    command = command_from_line(payload, newest, client)
    if command.client != client:
        return Refusal(command.id, f"client is not {client}, whose topic this is")
    if command.until is None:
        return Refusal(command.id, "until is missing: t_ns of the view and a few seconds more")
    if command.kind not in ANYBODY and client not in may_act:
        return Refusal(command.id, f"{client} may not {command.kind}: may_act of the job's broker")
    return command


def own_id(client: str) -> str:
    """Return an id that no other message has."""
    return f"{client}-{uuid.uuid4().hex}"
