"""A job published to a real broker while the program is killed, and done over that broker by a face elsewhere."""

import asyncio
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from simulator.line import Line
from tests.faces.mosquitto import Mosquitto, free_port
from tests.faces.test_broker import Subscriber, subscribed
from tests.faces.test_desk import until
from tests.whole.program import JOB, Level, Running, end_all, stillblade
from tests.whole.test_live import begin, finish, session_of

if sys.platform == "win32":
    collect_ignore = ["test_broker.py"]

GOLDEN = Path(__file__).parents[1] / "golden" / "format1-rules5.jsonl"
TABLE = """
[broker]
host = "127.0.0.1"
port = {port}
topic = "hangar 3/nose"
anonymous = true
every_s = 0.1
may_act = ["far"]
"""


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A socket's name has 107 bytes (unix(7)), and folders of tests grow with every run."""
    with tempfile.TemporaryDirectory(prefix="sb-") as short:
        monkeypatch.setenv("XDG_RUNTIME_DIR", short)
        yield
        end_all()


def job_at(folder: Path, line: Line, port: int) -> Path:
    path = folder / "bench.toml"
    path.write_text(JOB.replace("PORT", line.open()) + TABLE.format(port=port), "utf-8")
    return path


@pytest.mark.real
async def test_killed_twice_and_every_event_is_published_once_in_effect(
    tmp_path: Path, line: Line, level: Level
) -> None:
    with Mosquitto() as made:
        job = job_at(tmp_path, line, made.port)
        async with subscribed(made.port) as heard:
            events = await asyncio.to_thread(_with_two_kills, job, level)
            await until(lambda: heard.numbers() == [each["n"] for each in events])
            await until(lambda: (heard.newest("state") or {}).get("over") is True)
        recorded = stillblade("text", str(session_of(job))).stdout.splitlines()
        outputs = [told for told in map(json.loads, recorded) if "event" in told]
        session = outputs[0]["session"]
        first = {told["n"]: told for told in reversed(heard.heard["event"])}
        assert [first[n] for n in sorted(first)] == [
            {**told, "session": session} for told in outputs
        ]
        assert heard.newest("result")["result"] == "within"


def _with_two_kills(job: Path, level: Level) -> list[dict[str, object]]:
    program = begin(job, level)
    program.kill()
    half = stillblade("publish", str(session_of(job)))
    assert (half.returncode, "is not finished" in half.stderr) == (2, True)
    again = Running(job)
    for stage in ("set", "baseline", "baseline"):
        level.read(again, 17.0, blade=1, stage=stage)
    again.kill()
    third = Running(job, command="serve")
    third.wait_for(event="step", stage="set", blade=2)
    third.kill()
    return finish(Running(job), level, [2])


@pytest.mark.real
async def test_a_face_elsewhere_does_the_job_over_the_broker(
    tmp_path: Path, line: Line, level: Level
) -> None:
    with Mosquitto() as made:
        job = job_at(tmp_path, line, made.port)
        await asyncio.to_thread(_over_broker, job, level)


def _over_broker(job: Path, level: Level) -> None:
    service = Running(job, command="serve")
    service.wait_to_hear("faces attach at")
    stranger = Running(job, "--broker", "--client", "stranger", command="attach")
    seen = stranger.wait_for(event="step", stage="prepare")["n"]
    stranger.press("done", seen=seen)
    stranger.wait_to_hear("stranger may not done")
    far = Running(job, "--broker", "--client", "far", command="attach")
    far.wait_for(event="step", stage="prepare")
    far.press("done")
    level.read(far, -3.0, blade="reference")
    level.read(far, -3.0, blade="reference")
    finish(far, level, [1, 2])
    assert far.process.returncode == 0
    for program in (stranger, service):
        program.rest()


@pytest.mark.real
async def test_what_an_outage_at_the_end_kept_back_is_published_afterwards(
    tmp_path: Path, line: Line, level: Level
) -> None:
    port = free_port()
    job = job_at(tmp_path, line, port)
    program = await asyncio.to_thread(begin, job, level)
    events = await asyncio.to_thread(finish, program, level, [1, 2])
    program.wait_to_hear("stillblade publish")
    session = session_of(job)
    assert program.process.returncode == 0  # the job is fine, whatever the broker is

    with Mosquitto() as made:
        text = await asyncio.to_thread(stillblade, "text", str(session))
        first = json.loads(text.stdout.splitlines()[0])
        moved = tmp_path / "moved.jsonl"
        elsewhere = text.stdout.replace(f'"port":{port},', f'"port":{made.port},', 1)
        moved.write_text(elsewhere, "utf-8")
        async with subscribed(made.port) as heard:
            done = await asyncio.to_thread(stillblade, "publish", str(moved), "--json")
            assert (done.returncode, done.stderr) == (0, ""), done.stderr
            told = {"event": "published", "session": first["session"], "events": len(events)}
            assert json.loads(done.stdout) == told
            await until(lambda: heard.numbers() == [each["n"] for each in events])
            # what is retained is of whatever runs there now
            assert set(heard.heard) <= {"event", f"reached/{first['session']}"}


@pytest.mark.real
async def test_a_demo_is_published_from_its_start_though_the_one_before_was_killed() -> None:
    with Mosquitto() as made:
        async with subscribed(made.port, topic="stillblade") as heard:
            for count in (1, 2):
                with _a_demo(made.port):
                    await until(lambda at=count: len(_firsts(heard)) == at)  # type: ignore[misc]
                    await until(lambda: any(map(heard.newest, _marks(heard))))
    assert len({told["session"] for told in _firsts(heard)}) == 2


@contextmanager
def _a_demo(port: int) -> Iterator[None]:
    """Run a demo that publishes, and kill it."""
    words = ("demo", "--headless", "--pace", "6", "--broker", f"127.0.0.1:{port}")
    with subprocess.Popen(
        [sys.executable, "-m", "daemon", *words], stdout=subprocess.DEVNULL
    ) as program:
        try:
            yield
        finally:
            program.kill()


def _firsts(heard: Subscriber) -> list[dict[str, Any]]:
    return [told for told in heard.heard.get("event", []) if told["n"] == 1]


def _marks(heard: Subscriber) -> list[str]:
    """Return the topics that say up to where something was published."""
    return [about for about in heard.heard if about.startswith("reached/")]


def test_publish_refuses_a_session_without_a_broker() -> None:
    none = stillblade("publish", str(GOLDEN))
    assert (none.returncode, "names no broker" in none.stderr) == (2, True)
