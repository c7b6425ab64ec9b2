"""Faces without a screen: sentences or JSON on standard output, commands on standard input."""

import asyncio
import json
import logging
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Protocol, TextIO

from daemon.session.recording import Recording
from daemon.shell.counter import Counter
from shared.errors import OutsideError
from shared.events import Event, Summary
from shared.messages import LONGEST_LINE, command_from_line, event_line
from shared.plain import plain
from shared.rows import cells, rows
from shared.sentences import clock, sentence
from shared.wording import together

log = logging.getLogger(__name__)

BESIDE = 9
"""Cells of the time before what is said."""
MOST_WAITING = 100
"""So many commands of standard input may wait for their answers."""
WAIT_S = 0.005


class Bytestream(Protocol):
    """Where commands are read from, unbuffered: a reader that waits must hold no lock."""

    def read(self, size: int, /) -> bytes | None:
        """Return what is there, at most `size` bytes; nothing at the end."""
        ...


class Printer:
    """Writes events to a stream, one a line: JSON objects or sentences.

    extra: what is added to the summary (the demo's truth).
    """

    def __init__(self, out: TextIO, *, as_json: bool) -> None:
        self._out = out
        self._as_json = as_json

    def tell(self, event: Event, extra: dict[str, Any] | None = None) -> None:
        """Write one event.

        Raises:
            OutsideError: the stream takes nothing more: closed, or its disk is full.
        """
        line = self._json(event, extra) if self._as_json else self._words(event, extra)
        if not line:
            return
        try:
            self._out.write(line + "\n")
            self._out.flush()
        except OSError as error:
            raise OutsideError(
                f"standard output takes nothing more: {error.strerror}",
                "what was recorded is safe",
            ) from error

    def _json(self, event: Event, extra: dict[str, Any] | None) -> str:
        line = event_line(event)
        return json.dumps({**json.loads(line), **extra}) if extra else line

    def _words(self, event: Event, extra: dict[str, Any] | None) -> str:
        words = sentence(event.body)
        lines = [f"{clock(event.t_ns):>7}  {words}"] if words else []
        if isinstance(event.body, Summary):
            lines += [_row(row) for row in event.body.blades]
        if extra:
            lines.append(_truth(**extra))
        width = cells(self._out)
        return "\n".join(row for one in map(plain, lines) for row in rows(one, width, BESIDE))


def _truth(true_deg: list[float], largest_error_deg: float, truth_moved: list[int]) -> str:
    """Say what only a simulator knows."""
    angles = ", ".join(f"{degrees:.2f}" for degrees in true_deg)
    moved = together([f"blade {number}" for number in truth_moved]) if truth_moved else "none"
    return (
        f"         the truth, which only the simulator knows: blades at {angles}; "
        f"largest error {largest_error_deg:.2f}; moved on the way: {moved}"
    )


def say_what_is_wrong(session: Path, recording: Recording) -> None:
    """Say on standard error what of a session could not be read, or should be known."""
    for damage in recording.damage:
        print(plain(f"{session}: left out: {damage}"), file=sys.stderr)
    for note in recording.notes:
        print(plain(f"{session}: {note}"), file=sys.stderr)


def summary_of(events: Sequence[Event]) -> Summary | None:
    """Return the summary that ends a session; None where it has not ended."""
    last = events[-1].body if events else None
    return last if isinstance(last, Summary) else None


def exit_code(summary: Summary | None) -> int:
    """Return 1 where a session came to anything but "within"; 0 where nothing was judged.

    summary: None where the session was left before its end, to be taken up again.
    """
    return int(summary is not None and summary.result not in {None, "within"})


def _row(row: dict[str, Any]) -> str:
    """Return one blade of a summary; one of an older session has no tolerance."""
    head = f"         blade {row['blade']} ({row['label']}): "
    if row["angle_deg"] is None:
        return head + str(row["state"])
    judged = f"{row['tolerance']}, " if row.get("tolerance") else ""
    accepted = "".join(
        f"; accepted ({one['kind']}) by {one['by']}: {one['reason']}"
        for one in row.get("accepted", ())
    )
    return f"{head}{row['angle_deg']:.2f} ± {row['u95_deg']:.2f}, {judged}{row['state']}{accepted}"


async def headless(
    desk: Counter,
    printer: Printer,
    extra: Callable[[Summary], dict[str, Any]] | None = None,
    commands: Bytestream | None = None,
) -> None:
    """Print every event until the summary; take commands from `commands`, one JSON a line.

    Raises:
        OutsideError: standard output takes nothing more.
    """
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


def _read_commands(stream: Bytestream, desk: Counter, loop: asyncio.AbstractEventLoop) -> None:
    """Read lines in a thread of its own: a terminal's standard input cannot be awaited.

    Whoever writes faster than commands are answered is made to wait.
    """
    asked = 0
    answered_before = desk.answered
    for line in _lines(stream):
        while asked - (desk.answered - answered_before) >= MOST_WAITING and not desk.closed:
            time.sleep(WAIT_S)
        try:
            command = command_from_line(line, desk.newest, "stdin")
            loop.call_soon_threadsafe(desk.post, command)
        except ValueError as error:
            log.error("standard input: %s", error)  # noqa: TRY400 - not a failure of ours
        except RuntimeError:
            return  # the session is over
        else:
            asked += 1


def _lines(stream: Bytestream) -> Iterator[bytes]:
    """Yield the lines that are not blank; of one that is too long only its start."""
    kept = b""
    while piece := stream.read(LONGEST_LINE):
        *whole, kept = (kept + piece).split(b"\n")
        yield from (line for line in whole if line.strip())
        kept = kept[:LONGEST_LINE]
    if kept.strip():
        yield kept
