"""The ordinary service over a real (pseudo) serial line: resume, pulled lines, refusals."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from daemon.session.learned import ONE_SESSION
from simulator.line import Line
from tests.whole.program import JOB, Level, Running, end_all, stillblade

if sys.platform == "win32":
    collect_ignore = ["test_live.py"]


@pytest.fixture(autouse=True)
def _nothing_outlives_its_test() -> Iterator[None]:
    yield
    end_all()


def session_of(job: Path) -> Path:
    return max(job.parent.glob("bench-*.session"))


def begin(job: Path, level: Level) -> Running:
    program = Running(job)
    program.wait_for(event="step", stage="prepare")
    program.press("done")
    program.wait_for(event="step", stage="reference")
    level.read(program, -3.0, blade="reference")
    level.read(program, -3.0, blade="reference")
    return program


def finish(program: Running, level: Level, blades: list[int]) -> list[dict[str, Any]]:
    for blade in blades:
        for stage in ("set", "baseline", "baseline"):
            level.read(program, 17.0, blade=blade, stage=stage)
    for one in ("reference", 1, 2):
        level.read(program, -3.0 if one == "reference" else 17.0, blade=one, stage="check")
    program.wait_for(event="step", stage="finished")
    program.press("done")
    return program.rest()


def test_killed_in_mid_job_and_taken_up_again_with_nothing_lost(job: Path, hurried: Level) -> None:
    program = begin(job, hurried)
    for stage in ("set", "baseline", "baseline"):
        hurried.read(program, 17.0, blade=1, stage=stage)
    program.kill()

    verified = stillblade("replay", str(session_of(job)), "--verify")
    assert (verified.returncode, verified.stderr) == (0, "")

    told = program.events
    again = Running(job)
    first = again.wait_for(event="step", stage="set", blade=2)
    assert again.events[: len(told)] == told, "what was announced before the kill is on record"
    assert first["n"] >= told[-1]["n"]
    again.wait_for(event="noted", kind="clock")
    events = finish(again, hurried, [2])
    assert events[-1]["event"] == "summary"
    assert events[-1]["state"] == "finished"
    assert [e["n"] for e in events] == list(range(1, len(events) + 1))
    assert events[-1]["readings"] == 11

    whole = stillblade("replay", str(session_of(job)), "--verify")
    assert whole.returncode == 0, whole.stdout
    assert len(list(job.parent.glob("bench-*.session"))) == 1


def test_what_a_session_learned_is_in_the_next_ones_header(job: Path, level: Level) -> None:
    job.write_text(job.read_text("utf-8").replace(", n = 900", ""), "utf-8")
    level.lies_on_s = 0.5
    events = finish(begin(job, level), level, [1, 2])
    learned = {e["what"]: e for e in events if e["event"] == "learned"}
    known = json.loads((job.parent / "stillblade-levels.json").read_text("utf-8"))
    (one,) = known["levels"].values()
    [noise] = one["noises"]
    assert noise["sd_deg"] == learned["noise"]["value"]
    counted = min(learned["noise"]["samples"], ONE_SESSION)
    assert noise["n"] == counted

    again = Running(job)
    again.wait_for(event="step", stage="prepare")
    again.kill()
    header = json.loads(stillblade("text", str(session_of(job))).stdout.splitlines()[0])
    assert header["profiles"]["chord"]["noise"]["n"] == counted
    assert len(list(job.parent.glob("bench-*.session"))) == 2


def test_the_line_pulled_and_put_back_and_noise_on_it(
    job: Path, line: Line, hurried: Level
) -> None:
    program = begin(job, hurried)
    line.pull()
    down = program.wait_for(event="link", state="down")
    assert down["reason"]
    line.put_back()
    program.wait_for(event="link", state="up")
    junk = (b"$IIXDR,A,99.0,D,BLADE*00\r\n", bytes(range(256)), b"$IIXDR,A,nan,D,BLADE*44\r\n")
    for piece in junk:
        line.write(piece * 3)
    events = finish(program, hurried, [1, 2])
    assert sum(events[-1]["refused"].values()) >= 3
    assert all(abs(b["angle_deg"] - 20.0) < 0.1 for b in events[-1]["blades"])
    assert any(e["event"] == "link" and e["state"] == "back" for e in events)
    assert events[-1]["state"] == "finished"
    assert stillblade("replay", str(session_of(job)), "--verify").returncode == 0


def test_a_missing_port_says_so_and_keeps_trying(tmp_path: Path) -> None:
    line = Line("late")
    path = tmp_path / "bench.toml"
    port = line.open()
    line.pull()
    path.write_text(JOB.replace("PORT", port), "utf-8")
    program = Running(path)
    down = program.wait_for(event="link", state="down")
    assert port in down["reason"]
    line.put_back()
    program.wait_for(event="link", state="up")
    program.kill()
    line.close()


def test_commands_that_are_no_commands_are_said_and_skipped(job: Path) -> None:
    program = Running(job)
    program.wait_for(event="step", stage="prepare")
    assert program.process.stdin is not None
    for text in ("hello", "[1]", '{"kind": "explode"}', '{"kind": "take", "wrong": 1}', ""):
        program.process.stdin.write(text + "\n")
    program.process.stdin.write(json.dumps({"kind": "note", "args": {"text": "still here"}}) + "\n")
    program.process.stdin.flush()
    program.wait_for(event="noted", say="still here")
    program.kill()
    said = "".join(program.errors)
    assert said.count("standard input") == 4
    assert "explode" in said or "kind" in said


def test_stopped_by_a_signal_it_can_be_taken_up_again(job: Path, hurried: Level) -> None:
    program = begin(job, hurried)
    program.process.terminate()
    program.rest()
    assert program.process.returncode == 0
    assert stillblade("replay", str(session_of(job)), "--verify").returncode == 0
    assert not list(job.parent.glob("*.session-wal"))
    again = Running(job)
    again.wait_for(event="step", stage="set", blade=1)
    again.kill()


def test_only_one_at_a_time(job: Path) -> None:
    program = Running(job)
    program.wait_for(event="step", stage="prepare")
    second = stillblade("run", str(job), "--headless")
    program.kill()
    assert second.returncode == 2
    assert "another stillblade works on this job (see it with `stillblade attach`" in second.stderr
    assert "Traceback" not in second.stderr


def test_a_changed_job_continues_with_the_held_blades(job: Path, hurried: Level) -> None:
    program = begin(job, hurried)
    for stage in ("set", "baseline", "baseline"):
        hurried.read(program, 17.0, blade=1, stage=stage)
    program.wait_for(event="step", stage="set", blade=2)
    program.kill()
    text = job.read_text("utf-8").replace("tolerance_deg = 0.3", "tolerance_deg = 0.25")
    job.write_text(text, "utf-8")
    again = Running(job)
    opened = again.wait_for(event="opened")
    assert opened["continues"]
    again.wait_for(event="noted", kind="caution")
    again.wait_for(event="step", stage="prepare")
    again.press("done")
    step = again.wait_for(event="step")
    assert (step["stage"], step["blade"]) == ("set", 2)
    again.kill()


def test_reading_only_sets_nothing_and_is_a_session_of_its_own(job: Path, hurried: Level) -> None:
    program = Running(job, "--read-only")
    program.wait_for(event="step", stage="prepare")
    program.press("done")
    for _ in range(2):
        hurried.read(program, -3.0, blade="reference")
    for blade in (1, 2):
        hurried.read(program, 17.0 + blade / 20, blade=blade, stage="found")
    program.wait_for(event="step", stage="finished")
    program.press("done")
    events = program.rest()
    assert events[-1]["result"] == "within"
    assert not [e for e in events if e["event"] == "held"]
    assert [path.name.split("-")[1] for path in job.parent.glob("*.session")] == ["read"]
