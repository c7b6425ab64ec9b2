"""`stillblade run` without a job: the newest is offered, on a pipe it says what to give."""

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.cli import offered_jobs
from tests.whole.program import JOB

if sys.platform != "win32":
    from tests.whole.dialogue import Dialogue


def job(folder: Path, name: str, changed_s: float, called: str = "") -> Path:
    path = folder / name
    path.write_text(JOB.replace("Two blades on the bench", called or path.stem), "utf-8")
    os.utime(path, (changed_s, changed_s))
    return path


@pytest.fixture(autouse=True)
def _own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")


def test_the_newest_job_comes_first_and_a_session_makes_one_newer(tmp_path: Path) -> None:
    old, new = job(tmp_path, "old.toml", 1000.0), job(tmp_path, "new.toml", 2000.0)
    (tmp_path / "profile.toml").write_text("stillblade_profile = 1")
    (tmp_path / "damaged.toml").write_text("=")
    assert [one.path for one in offered_jobs.jobs_in(tmp_path)] == [new, old]
    session = tmp_path / "old-20310506-070809-1.session"
    session.touch()
    os.utime(session, (3000.0, 3000.0))
    assert [one.path for one in offered_jobs.jobs_in(tmp_path)] == [old, new]


def test_on_a_pipe_it_says_what_to_give(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run"]) == 2
    assert "no job is named (`stillblade new` makes one" in capsys.readouterr().err
    job(Path(), "shed.toml", 1000.0)
    assert main(["run"]) == 2
    assert "stillblade run JOB.toml; there is shed.toml" in capsys.readouterr().err


def test_in_a_folder_without_jobs_those_that_were_run_are_known(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = job(tmp_path, "a.toml", 1000.0), job(tmp_path, "b.toml", 1000.0)
    for one in (first, second, first):
        offered_jobs.remember(one)
    assert main(["run"]) == 2
    assert f"there is {first}, {second}" in capsys.readouterr().err
    first.unlink()
    assert main(["run"]) == 2
    assert f"there is {second})" in capsys.readouterr().err


@pytest.mark.parametrize("kept", ["{}", "[1, null]", "nonsense", "[" * 100_000])
def test_a_damaged_list_of_jobs_is_none(kept: str, tmp_path: Path) -> None:
    offered_jobs.remember(job(tmp_path, "a.toml", 1000.0))
    (tmp_path / "state" / "stillblade" / "jobs.json").write_text(kept)
    assert main(["run"]) == 2


if sys.platform != "win32":

    @pytest.fixture
    def dialogue() -> Iterator[Dialogue]:
        job(Path(), "shed.toml", 2000.0, "Two blades, \x1b[31mshed".replace("\x1b", "\\u001b"))
        job(Path(), "barn.toml", 1000.0, "Three blades, barn")
        dialogue = Dialogue(Path(), "run")
        yield dialogue
        dialogue.kill()

    @pytest.mark.parametrize(("typed", "begins"), [("", "shed-2"), ("2", "barn-2")])
    def test_a_person_is_offered_it_by_name(typed: str, begins: str, dialogue: Dialogue) -> None:
        dialogue.wait_for('"Two blades, \\x1b[31mshed" (shed.toml)')
        dialogue.say(("no leaves", "perhaps"), ("no leaves", typed))
        dialogue.wait_for("\x1b[?1049h")  # the screen is up
        assert list(Path().glob(f"{begins}*.session"))

    @pytest.mark.parametrize("typed", ["no\n", "\x04", "\x03"])
    def test_a_person_who_wants_none_begins_nothing(typed: str, dialogue: Dialogue) -> None:
        dialogue.wait_for("no leaves")
        dialogue.wait_for("> ")
        for _ in range(60):  # a system may lose one that comes too early
            if dialogue.process.poll() is None:
                dialogue.keys(typed)
                time.sleep(0.5)
        dialogue.end()
        assert "Traceback" not in dialogue.heard
        assert list(Path().glob("*.session")) == []
