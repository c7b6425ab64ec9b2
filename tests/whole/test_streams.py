"""Standard streams that fail: a sentence and an exit code, and the record is closed."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.__main__ import main
from daemon.session.recording import read
from simulator.line import Line
from tests.golden.record import path as golden
from tests.whole.program import JOB, PATIENCE_S, Level

if sys.platform == "win32":
    collect_ignore = ["test_streams.py"]


@pytest.fixture
def job(tmp_path: Path) -> Iterator[Path]:
    line = Line("chord")
    level = Level(line)
    path = tmp_path / "bench.toml"
    path.write_text(JOB.replace("PORT", line.open()), "utf-8")
    yield path
    level.stop()
    line.close()


def shell(line: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a line of shell in which $STILLBLADE is the program."""
    program = f"{sys.executable} -m daemon"
    return subprocess.run(
        ["/bin/sh", "-c", line.replace("$STILLBLADE", program)],
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
        env={**os.environ, **more},
    )


RUNS = {
    "a pipe that is closed": '(sleep 3; echo \'{"kind":"done"}\'; sleep 20) | $STILLBLADE run {job} --json | head -1',
    "a disk that is full": "$STILLBLADE run {job} --json </dev/null >/dev/full",
}


@pytest.mark.parametrize("line", RUNS.values(), ids=RUNS.keys())
def test_a_run_whose_output_fails_says_so_and_closes_its_record(job: Path, line: str) -> None:
    done = shell(line.replace("{job}", str(job)))
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    assert "standard output takes nothing more" in done.stderr
    (session,) = job.parent.glob("*.session")
    assert list(job.parent.glob("*.session-*")) == []
    assert not read(session).damage


def test_a_run_without_standard_output_records_all_the_same(job: Path) -> None:
    note = '{"kind":"note","seen":99,"args":{"text":"not seen by anyone"}}'
    end = '{"kind":"abandon","seen":99,"args":{"by":"A","reason":"tried"}}'
    done = shell(
        f"(sleep 2; echo '{note}'; echo '{end}'; sleep 1) | $STILLBLADE run {job} --headless >&-"
    )
    assert done.returncode == 1, f"abandoned, so not within: {done.stderr}"
    assert "Traceback" not in done.stderr
    (session,) = job.parent.glob("*.session")
    assert any("not seen" in str(event.body) for event in read(session).events)


@pytest.mark.parametrize("words", ["schema job", "levels list", "calc pitch 20 --radius-m 0.7"])
@pytest.mark.parametrize("to", ["/dev/full", "&-"])
def test_a_command_whose_output_fails_is_a_sentence(words: str, to: str) -> None:
    done = shell(f"$STILLBLADE {words} >{to}; echo $? >&2")
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr
    assert done.stderr.strip().endswith("0" if to == "&-" else "3")
    assert ("takes nothing more" in done.stderr) == (to != "&-")


def test_text_of_a_session_into_head_is_no_traceback() -> None:
    done = shell(f"$STILLBLADE text {golden()} | head -1")
    assert done.stdout.startswith('{"stillblade"')
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


def test_a_demo_kept_under_any_name_is_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite knows names that are no files; a person who writes one means a file."""
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--fast", "--scenario", "default", "--session", ":memory:"]) == 0
    assert read(tmp_path / ":memory:").finished


def test_a_capture_on_a_full_disk_is_a_sentence(job: Path, tmp_path: Path) -> None:
    """A limit on the size of files stands for a full disk: both refuse a write."""
    done = shell(
        f"ulimit -f 1; $STILLBLADE levels capture chord {tmp_path}/a.log --job {job} --seconds 8"
    )
    assert "Traceback" not in done.stderr
    assert "a.log cannot be written" in done.stderr
