"""`serve` and `attach` as processes: the same session in two terminals, one of which is killed."""

import signal
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.__main__ import main
from tests.whole.program import Level, Running, end_all

if sys.platform == "win32":
    collect_ignore = ["test_attach.py"]


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A socket's name has 107 bytes (unix(7)), and folders of tests grow with every run."""
    with tempfile.TemporaryDirectory(prefix="sb-") as short:
        monkeypatch.setenv("XDG_RUNTIME_DIR", short)
        yield
        end_all()


@pytest.mark.parametrize("way", [[], ["--tcp"]])
def test_a_job_is_served_and_done_through_attached_faces(
    job: Path, hurried: Level, way: list[str]
) -> None:
    service = Running(job, *way, command="serve")
    service.wait_to_hear("faces attach at")
    first = Running(job, command="attach")
    first.wait_for(event="step", stage="prepare")
    first.press("done")
    hurried.read(first, -3.0, blade="reference")
    first.kill()
    second = Running(job, command="attach")
    second.wait_for(event="captured", blade="reference")  # told from the start
    hurried.read(second, -3.0, blade="reference")
    for blade in (1, 2):
        hurried.read(second, 17.0, blade=blade, stage="set")
        hurried.read(second, 17.0, blade=blade, stage="baseline")
        hurried.read(second, 17.0, blade=blade, stage="baseline")
    hurried.read(second, -3.0, blade="reference", stage="check")
    for blade in (1, 2):
        hurried.read(second, 17.0, blade=blade, stage="check")
    second.wait_for(event="step", stage="finished")
    second.press("done")
    assert second.wait_for(event="summary")["result"] == "within"
    for program in (second, service):
        program.rest()
        assert program.process.returncode == 0


def test_two_faces_never_advance_twice(job: Path, hurried: Level) -> None:
    service = Running(job, command="serve")
    service.wait_to_hear("faces attach at")
    faces = [Running(job, command="attach") for _ in range(2)]
    seen = [face.wait_for(event="step", stage="prepare")["n"] for face in faces]
    for face in faces:
        face.press("done", seen=seen[0])
    for face in faces:
        answers = [face.wait_for(event="answered")["result"] for _ in faces]
        assert sorted(answers) == ["done", "stale"]


@pytest.mark.long
def test_a_service_that_goes_away_is_said(job: Path) -> None:
    service = Running(job, command="serve")
    service.wait_to_hear("faces attach at")
    face = Running(job, command="attach")
    face.wait_for(event="opened")
    service.process.send_signal(signal.SIGTERM)
    service.rest()
    face.rest()
    assert (service.process.returncode, face.process.returncode) == (0, 3)
    assert any("the service went away" in line for line in face.errors)


def test_nobody_to_attach_to(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["attach"]) == 3
    assert "start one: stillblade serve JOB" in capsys.readouterr().err
    assert main(["attach", "nowhere.toml"]) == 3
    assert "no service answers" in capsys.readouterr().err
