"""Which sessions a folder keeps, and one of them opened."""

import json
import shutil
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.session.recording import Recording
from daemon.session.store import Store
from shared.events import Alarm
from shared.playback import Playback
from tests.simulated import simulated


def keep(path: Path, recording: Recording, started: str, events: int | None = None) -> None:
    header = recording.header.model_copy(update={"started": started})
    store = Store.create(path, header)
    store.commit(recording.inputs, recording.events[:events], recording.reach_ns)
    store.close()


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("written")
    recording = simulated("default", 2).recording
    keep(folder / "first.session", recording, "2026-03-01T09:00:00+00:00")
    keep(folder / "second.session", recording, "2026-03-02T10:30:00+00:00", events=20)
    (folder / "broken.session").write_bytes(b"no session at all\x00")
    (folder / "left-over.session").write_bytes(b"")
    (folder / "job.toml").write_text("not looked at")
    return folder


@pytest.fixture
def folder(tmp_path: Path, written: Path) -> Path:
    """A copy of its own: some tests change it."""
    shutil.copytree(written, tmp_path, dirs_exist_ok=True)
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
    recording = simulated("default", 2).recording
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


@pytest.fixture
def on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """As if a person sat there; returns what the screen was given to play, instead of a screen."""
    shown: list[str] = []

    async def play(playback: Playback, about: str) -> None:
        shown.append(f"{playback.reach_ns} {about}")

    monkeypatch.setattr("daemon.cli.screen.play", play)
    monkeypatch.setattr("daemon.cli.replay_session._is_watched", lambda: True)
    return shown


def test_on_a_terminal_a_session_is_played(
    folder: Path, on_a_terminal: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(folder / "first.session")]) == 0
    assert main(["sessions", str(folder), "--open", "2"]) == 0
    reach_ns = simulated("default", 2).recording.reach_ns
    assert on_a_terminal == [f"{reach_ns} "] * 2
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("flag", ["--headless", "--json", "--verify"])
def test_what_is_asked_for_in_words_is_printed_on_a_terminal_too(
    folder: Path, on_a_terminal: list[str], flag: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(folder / "first.session"), flag]) == 0
    assert on_a_terminal == []
    assert capsys.readouterr().out


def test_an_older_record_is_played_as_the_rules_of_today_say_it(on_a_terminal: list[str]) -> None:
    golden = Path(__file__).parents[1] / "golden" / "format1-rules1.jsonl"
    assert main(["replay", str(golden)]) == 0
    (shown,) = on_a_terminal
    assert "recorded under rules 1" in shown


def test_of_a_damaged_one_what_is_sound_is_printed(
    folder: Path, on_a_terminal: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    path = folder / "first.session"
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    assert main(["replay", str(path)]) == 2
    assert on_a_terminal == []


def test_a_played_demo_needs_a_screen(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--play", "--fast"]) == 2
    assert "--play" in capsys.readouterr().err
    assert main(["demo", "--play"]) == 2
    assert "terminal" in capsys.readouterr().err


def test_a_terminal_gets_no_name_of_a_file_in_two_pieces(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "broken.session").unlink()
    assert main(["sessions", str(folder)]) == 0
    whole = capsys.readouterr().out
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(["sessions", str(folder)]) == 0
    rows = capsys.readouterr().out.splitlines()[:-1]
    assert max(map(len, rows)) < 80
    assert len(rows) > len(whole.splitlines())
    assert " ".join(rows).split() == whole.split()
