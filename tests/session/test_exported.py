"""What other programs are given of a session: the table read by csv and numpy, the lines by json."""

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from daemon.cli.export import export
from daemon.session.exported import COLUMNS, rows_of_events, table_of_readings
from daemon.session.recording import Recording, read
from shared.events import Assigned, Captured, Event, Withdrawn
from shared.messages import event_from_dict
from tests.docs.test_pages import fenced, text_of

GOLDEN = sorted((Path(__file__).parents[1] / "golden").glob("*.jsonl"))


def rows(recording: Recording) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO("".join(table_of_readings(recording)), newline="")))


@pytest.mark.parametrize("path", GOLDEN, ids=lambda path: path.stem)
def test_the_table_has_every_reading_as_it_was_recorded(path: Path) -> None:
    recording = read(path)
    captured = [(e.t_ns, e.body) for e in recording.events if isinstance(e.body, Captured)]
    found = rows(recording)
    assert [int(row["reading"]) for row in found] == [one.id for _, one in captured]
    for row, (t_ns, one) in zip(found, captured, strict=True):
        assert float(row["angle_deg"]) == one.angle_deg
        assert float(row["u95_deg"]) == one.u95_deg
        assert row["tolerance"] == (one.tolerance or "")
        assert float(row["t_s"]) == pytest.approx(t_ns / 1e9, abs=0.0006)


def test_numpy_reads_the_numbers() -> None:
    recording = read(GOLDEN[-1])
    table = np.genfromtxt(
        io.StringIO("".join(table_of_readings(recording))),
        delimiter=",", names=True, dtype=None, encoding="utf-8",
    )  # fmt: skip
    assert table.dtype.names == COLUMNS
    captured = [e.body for e in recording.events if isinstance(e.body, Captured)]
    assert [*table["angle_deg"]] == [one.angle_deg for one in captured]


def test_what_does_not_count_and_what_was_given_to_another_blade() -> None:
    recording = read(GOLDEN[-1])
    last = recording.events[-1]
    more = [
        Event(last.n + 1, last.t_ns, Withdrawn(3, "bumped, while reading")),
        Event(last.n + 2, last.t_ns, Assigned(4, 2, 1)),
    ]
    recording = replace(recording, events=[*recording.events, *more])
    by_number = {row["reading"]: row for row in rows(recording)}
    assert (by_number["3"]["counts"], by_number["3"]["why_not"]) == (
        "false",
        "bumped, while reading",
    )
    assert (by_number["4"]["blade"], by_number["4"]["mark"]) == ("2", "white")


@pytest.mark.parametrize("words", ["=1+1", "+1", "-1", "@x", "\tx"])
def test_no_word_becomes_a_formula(words: str) -> None:
    recording = read(GOLDEN[-1])
    event = Event(recording.events[-1].n + 1, 0, Withdrawn(3, words))
    recording = replace(recording, events=[*recording.events, event])
    assert next(r for r in rows(recording) if r["reading"] == "3")["why_not"] == f"'{words}"


def test_the_lines_are_the_events() -> None:
    recording = read(GOLDEN[-1])
    told = [json.loads(line) for line in rows_of_events(recording)]
    assert all(one.pop("session") == recording.header.session for one in told[1:])
    times = [one.pop("t_s") for one in told]
    assert times == [round(event.t_ns / 1e9, 3) for event in recording.events]
    again = [event_from_dict({"t_ns": 0, **one}) for one in told]
    assert [event.body for event in again[1:]] == [event.body for event in recording.events[1:]]


def test_a_file_is_written_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert export(GOLDEN[-1], to="csv", out=tmp_path / "readings.csv") == 0
    assert export(GOLDEN[-1], to="csv") == 0
    assert capsys.readouterr().out == (tmp_path / "readings.csv").read_bytes().decode()


def test_the_docs_open_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs what docs/session.md shows, on files that the command wrote."""
    export(GOLDEN[-1], to="csv", out=tmp_path / "readings.csv")
    export(GOLDEN[-1], to="jsonl", out=tmp_path / "events.jsonl")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    exec(fenced(text_of("docs/session.md"), "python"), names)
    held = [e.body for e in read(GOLDEN[-1]).events if isinstance(e.body, Captured)]
    assert names["means"] == {
        blade: pytest.approx(float(np.mean([o.angle_deg for o in held if o.blade == blade])))
        for blade in (1, 2, 3)
    }
    assert names["alarms"]
