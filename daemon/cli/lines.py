"""Faces without a screen: sentences or JSON on standard output, commands on standard input."""

import asyncio
import json
import logging
import threading
import uuid
from collections.abc import Callable
from typing import Any, TextIO

from pydantic import TypeAdapter, ValidationError

from daemon.shell.counter import Counter
from shared.events import Event, Summary
from shared.inputs import Command
from shared.messages import event_line
from shared.model import first_problem
from shared.sentences import clock, sentence

log = logging.getLogger(__name__)

COMMANDS = TypeAdapter(Command)


class Printer:
    """Writes events to a stream, one a line: JSON objects or sentences.

    extra: what is added to the summary (the demo's truth).
    """

    def __init__(self, out: TextIO, *, as_json: bool) -> None:
        self._out = out
        self._as_json = as_json

    def tell(self, event: Event, extra: dict[str, Any] | None = None) -> None:
        """Write one event."""
        line = self._json(event, extra) if self._as_json else self._words(event, extra)
        if line:
            self._out.write(line + "\n")
            self._out.flush()

    def _json(self, event: Event, extra: dict[str, Any] | None) -> str:
        line = event_line(event)
        return json.dumps({**json.loads(line), **extra}) if extra else line

    def _words(self, event: Event, extra: dict[str, Any] | None) -> str:
        words = sentence(event.body)
        lines = [f"{clock(event.t_ns):>7}  {words}"] if words else []
        if isinstance(event.body, Summary):
            lines += [_row(row) for row in event.body.blades]
        if extra:
            lines += [f"         the truth: {key} {value}" for key, value in extra.items()]
        return "\n".join(lines)


def _row(row: dict[str, Any]) -> str:
    if row["angle_deg"] is None:
        return f"         blade {row['blade']} ({row['label']}): {row['state']}"
    return (
        f"         blade {row['blade']} ({row['label']}): {row['angle_deg']:.2f} "
        f"± {row['u95_deg']:.2f}, {row['state']}"
    )


async def headless(
    desk: Counter,
    printer: Printer,
    extra: Callable[[Summary], dict[str, Any]] | None = None,
    commands: TextIO | None = None,
) -> None:
    """Print every event until the summary; take commands from `commands`, one JSON a line."""
    if commands is not None:
        loop = asyncio.get_running_loop()
        reader = threading.Thread(
            target=_read_commands, args=(commands, desk, loop), name="commands", daemon=True
        )
        reader.start()
    async for event in desk.events(0):
        body = event.body
        more = extra(body) if extra and isinstance(body, Summary) else None
        printer.tell(event, more)


def _read_commands(stream: TextIO, desk: Counter, loop: asyncio.AbstractEventLoop) -> None:
    """Read lines in a thread of its own: a terminal's standard input cannot be awaited."""
    for line in stream:
        if not line.strip():
            continue
        try:
            command = parse_command(line, desk.newest)
        except ValueError as error:
            log.error("standard input: %s", error)  # noqa: TRY400 - not a failure of ours
            continue
        try:
            loop.call_soon_threadsafe(desk.post, command)
        except RuntimeError:
            return  # the session is over


def parse_command(line: str, newest: int) -> Command:
    """Build a command from a line of JSON; `kind` alone is enough.

    Args:
        line: an object with kind, and if wanted id, client, seen, args or until.
        newest: number of the newest event, taken as seen where the line does not say.

    Raises:
        ValueError: not JSON, or a key is wrong, missing or unknown.
    """
    data = json.loads(line, parse_constant=_no_constant)
    given = data if isinstance(data, dict) else {}
    if "kind" not in given:
        raise ValueError(f'a command is an object like {{"kind": "take"}}, not {line.strip()!r}')
    unknown = set(given) - {"kind", "id", "client", "seen", "args", "until"}
    if unknown:
        raise ValueError(f"unknown keys {sorted(unknown)}")
    whole = {"id": uuid.uuid4().hex, "client": "stdin", "seen": newest, **given}
    try:
        return COMMANDS.validate_python(whole)
    except ValidationError as error:
        where, problem, _ = first_problem(error)
        raise ValueError(f"{where}: {problem}") from error


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")
