"""A session for other programs: its readings as a table, its events as lines. Recorded outputs only."""

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

from daemon.session.recording import Recording
from shared.events import Assigned, Captured, Withdrawn
from shared.inputs import NS
from shared.messages import event_to_dict

COLUMNS = (
    "session", "reading", "t_s", "blade", "mark", "stage", "placement", "half", "angle_deg", "u95_deg",
    "error_deg", "tolerance", "level", "reading_deg", "samples", "by", "good_enough", "counts", "why_not",
)  # fmt: skip
"""Of the table; angles in degrees, `t_s` seconds of session time, `counts` false where it was withdrawn."""
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for the beginning of a formula, in a person's own words."""


def table_of_readings(recording: Recording) -> Iterator[str]:
    """Yield the lines of a CSV table (RFC 4180), a row a reading, headings first."""
    withdrawn, blades = _said_of_readings(recording)
    yield _line(COLUMNS)
    labels = recording.header.job.propeller.labels
    for event in recording.events:
        if isinstance(event.body, Captured):
            one = event.body
            blade = blades.get(one.id, one.blade)
            mark = labels[blade - 1] if isinstance(blade, int) and blade <= len(labels) else ""
            yield _line((
                recording.header.session, one.id, f"{event.t_ns / NS:.3f}", blade, _words(mark),
                one.stage, one.placement, one.half or "", one.angle_deg, one.u95_deg,
                one.error_deg, one.tolerance, _words(one.level), one.reading_deg, one.samples,
                one.by, one.reached, one.id not in withdrawn, _words(withdrawn.get(one.id, "")),
            ))  # fmt: skip


def _said_of_readings(recording: Recording) -> tuple[dict[int, str], dict[int, Any]]:
    """Return why readings do not count, and which blade others were given to later."""
    withdrawn: dict[int, str] = {}
    blades: dict[int, Any] = {}
    for event in recording.events:
        if isinstance(event.body, Withdrawn):
            withdrawn[event.body.id] = event.body.reason or "withdrawn"
        elif isinstance(event.body, Assigned):
            blades[event.body.id] = event.body.blade
    return withdrawn, blades


def rows_of_events(recording: Recording) -> Iterator[str]:
    """Yield a JSON object an event, with `session` and `t_s`."""
    for event in recording.events:
        told = event_to_dict(event)
        t_s = round(told.pop("t_ns") / NS, 3)
        yield json.dumps({"session": recording.header.session, "t_s": t_s, **told}) + "\n"


def _line(cells: tuple[Any, ...]) -> str:
    written = io.StringIO()
    csv.writer(written, lineterminator="\r\n").writerow(
        ["" if cell is None else _bool(cell) if isinstance(cell, bool) else cell for cell in cells]
    )
    return written.getvalue()


def _bool(value: bool) -> str:
    return "true" if value else "false"


def _words(text: str) -> str:
    """A person's words, which no spreadsheet shall calculate."""
    return f"'{text}" if text.startswith(FORMULA) else text
