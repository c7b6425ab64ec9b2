"""A session's job as a file: the same job again."""

import tomllib
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.session.jobs import load_job
from daemon.session.store import Store
from daemon.session.text import lines
from tests.simulated import simulated

GOLDEN = max((Path(__file__).parents[1] / "golden").glob("*.jsonl"))


@pytest.mark.parametrize("name", ["default", "two-rings", "own-clamps", "by-itself"])
def test_the_job_that_is_written_is_the_one_that_was_done(
    tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    recording = simulated(name, 1).recording
    session = tmp_path / "one.jsonl"
    session.write_text("\n".join(lines(recording)) + "\n", "utf-8")
    out = tmp_path / "again.toml"
    assert main(["job", str(session), "--out", str(out)]) == 0
    assert load_job(out) == recording.header.job
    assert "look it through" in capsys.readouterr().out
    assert out.read_text("utf-8").startswith(f"# The job of session {recording.header.session}")


def test_what_a_procedure_file_gave_stands_in_the_job(tmp_path: Path) -> None:
    recording = simulated("two-rings", 1).recording
    plan = recording.header.job.plan.model_copy(update={"procedure": "rings.toml"})
    job = recording.header.job.model_copy(update={"plan": plan})
    header = recording.header.model_copy(update={"job": job})
    Store.create(tmp_path / "a.session", header).close()
    out = tmp_path / "again.toml"
    assert main(["job", str(tmp_path / "a.session"), "--out", str(out)]) == 0
    assert "procedure" not in tomllib.loads(out.read_text("utf-8"))["plan"]
    assert load_job(out).plan.bolts == plan.bolts


def test_a_file_that_is_there_is_not_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("precious", "utf-8")
    assert main(["job", str(GOLDEN), "--out", str(out)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_text("utf-8") == "precious"


def test_what_is_no_session_is_refused(tmp_path: Path) -> None:
    (tmp_path / "no.session").write_text("nothing", "utf-8")
    assert main(["job", str(tmp_path / "no.session"), "--out", str(tmp_path / "x.toml")]) == 2
    assert not (tmp_path / "x.toml").exists()
