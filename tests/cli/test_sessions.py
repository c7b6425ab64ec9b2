"""Which sessions a folder keeps, and one of them opened."""

import json
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.demo.fast import fast
from daemon.session.recording import Recording
from daemon.session.store import Store
from shared.events import Alarm


def keep(path: Path, recording: Recording, started: str, events: int | None = None) -> None:
    header = recording.header.model_copy(update={"started": started})
    store = Store.create(path, header)
    store.commit(recording.inputs, recording.events[:events], recording.reach_ns)
    store.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    recording = fast("default", 2).recording
    keep(tmp_path / "first.session", recording, "2026-03-01T09:00:00+00:00")
    keep(tmp_path / "second.session", recording, "2026-03-02T10:30:00+00:00", events=20)
    (tmp_path / "broken.session").write_bytes(b"no session at all\x00")
    (tmp_path / "left-over.session").write_bytes(b"")
    (tmp_path / "job.toml").write_text("not looked at")
    return tmp_path


def test_the_newest_comes_first_and_says_what_it_came_to(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sessions", str(folder)]) == 0
    _, second, first, broken = capsys.readouterr().out.splitlines()
    assert second.split()[:3] == ["1", "2026-03-02", "10:30"]
    assert "not finished" in second
    assert first.split()[:3] == ["2", "2026-03-01", "09:00"]
    assert "within" in first
    assert "first.session" in first
    assert "cannot be read" in broken


def test_the_list_as_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sessions", str(folder), "--json"]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [row["number"] for row in rows] == [1, 2, 3]
    recording = fast("default", 2).recording
    alarms = sum(isinstance(event.body, Alarm) for event in recording.events)
    assert (rows[1]["came_to"], rows[1]["alarms"]) == ("within", alarms)


def test_one_is_opened_by_its_number(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without a terminal what replay prints."""
    assert main(["replay", str(folder / "first.session")]) == 0
    printed = capsys.readouterr().out
    assert main(["sessions", str(folder), "--open", "2"]) == 0
    assert capsys.readouterr().out == printed


def test_a_number_that_is_not_there_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sessions", str(folder), "--open", "9"]) == 2
    assert "there are 3 sessions" in capsys.readouterr().err
    assert main(["sessions", str(folder / "nowhere")]) == 2
    assert "cannot be looked into" in capsys.readouterr().err


def test_an_empty_folder_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sessions", str(tmp_path)]) == 0
    assert "there is no session" in capsys.readouterr().out
