"""The view of a job as text: every field, written once and again whenever it changes.

    python -m tests.workflow.view_record        writes the checked records anew

One line an instant, as JSON: `t` in seconds, `n` the number of the last event, then the path and
the new value of every field that differs from the line before. It is looked at after every event
and every fourth input. A line is made when a word, a key or a count has changed, and of every
fifth look besides: what flows (angles, ages, progress) is in every line, but makes none.

A record is read before it is committed: it says what a person is shown. What must hold of it
whatever is written there is in `test_views_true.py`.
"""

import dataclasses
import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

from daemon.core.engine import Engine
from daemon.session.recording import read
from shared.inputs import Input
from shared.job import Header
from shared.view import BudgetLine, View
from tests.golden.record import path as golden
from tests.workflow.jobs import JOBS, played

FOLDER = Path(__file__).parents[1] / "golden" / "views"
FLOWS = re.compile(r"t_ns|live\.(angle|error|u)_deg|live\.progress|levels\.\d\.(tilt|age|rate)_\w+")
NEW = object()
LOOKS = 4
EVERY = 5


SOURCES = ("golden", *JOBS)
"""Every job that is on record."""


@cache
def source(name: str) -> tuple[Header, tuple[Input, ...]]:
    """Return header and inputs of a job that is on record."""
    if name != "golden":
        return played(name)[:2]
    recorded = read(golden())
    return recorded.header, tuple(recorded.inputs)


def record(header: Header, inputs: Iterable[Input]) -> Iterator[str]:
    """Yield the lines of a job."""
    before: dict[str, Any] = {}
    for number, view in enumerate(views(header, inputs)):
        now = flat(view)
        changed = {key: value for key, value in now.items() if before.get(key, NEW) != value}
        gone = dict.fromkeys(sorted(before.keys() - now.keys()))
        if number % EVERY and not gone and all(_flows(key, changed[key]) for key in changed):
            continue
        line = {"t": round(view.t_ns / 1e9, 3), "n": view.seen, **changed, **gone}
        line.pop("t_ns", None)
        line.pop("seen", None)
        yield json.dumps(line, ensure_ascii=False)
        before = now


def views(header: Header, inputs: Iterable[Input]) -> Iterator[View]:
    """Yield the view after every event and every fourth input."""
    engine = Engine(header)
    for number, item in enumerate(inputs):
        if engine.feed(item) or number % LOOKS == 0:
            yield engine.view()


def flat(view: View) -> dict[str, Any]:
    """Return every leaf of a view by its path; angles to a thousandth."""
    return dict(_leaves("", view))


def _leaves(path: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, tuple) and value and isinstance(value[0], BudgetLine):
        yield path, "; ".join(map(_line, value))
    elif isinstance(value, tuple) and value and not isinstance(value[0], str):
        for number, one in enumerate(value):
            yield from _leaves(f"{path}.{number}", one)
    elif dataclasses.is_dataclass(value):
        for one in dataclasses.fields(value):
            name = f"{path}.{one.name}" if path else one.name
            yield from _leaves(name, getattr(value, one.name))
    elif isinstance(value, tuple):
        yield path, " ".join(value)
    else:
        yield path, round(value, 3) + 0.0 if isinstance(value, float) else value


def _line(line: BudgetLine) -> str:
    return f"{line.name} {line.u_deg:.4f} {line.kind}{' common' if line.common else ''}"


def _flows(key: str, value: Any) -> bool:
    """Whether it changes with every sample and says nothing new by that."""
    numbered = key == "live.words" and any(letter.isdigit() for letter in value)
    return numbered or FLOWS.fullmatch(key) is not None


def main() -> None:
    """Write all records anew."""
    FOLDER.mkdir(exist_ok=True)
    for name in SOURCES:
        lines = "\n".join(record(*source(name)))
        (FOLDER / f"{name}.jsonl").write_text(lines + "\n", "utf-8")


if __name__ == "__main__":
    main()
