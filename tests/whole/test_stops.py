"""The program itself, stopped in every way: a smaller draw of `python -m benchmarks.stops`."""

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from benchmarks import stops
from daemon.session.begin import sessions_of
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from shared.events import Captured
from shared.inputs import Bytes, Clock
from simulator.line import Line
from tests.whole.program import JOB, Level, Running

pytestmark = pytest.mark.long

if sys.platform == "win32":
    collect_ignore = ["test_stops.py"]


def test_every_stop_is_obeyed() -> None:
    """Two seconds are of an idle machine; that it ends by itself at all is sure on any."""
    came = stops.run(3, 2, 3)
    assert [(found.count, found.wrong) for found in came.values()] == [(3, [])] * 3
    assert all(found.lines >= 3 for found in came.values())


def test_a_program_that_does_not_hear_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stops, "PATIENCE_S", 20.0)
    monkeypatch.setattr(stops, "SIGNALS", (signal.SIGCONT,))  # what nobody takes for a stop
    [came] = stops.run(1, 1, 3).values()
    assert came.wrong


def test_nothing_of_before_is_taken_after_the_program_stood_still(tmp_path: Path) -> None:
    """SIGSTOP for some seconds; meanwhile the level is lifted off and what it sent waits."""
    line = Line("chord")
    path = tmp_path / "bench.toml"
    path.write_text(JOB.replace("PORT", line.open()))
    level = Level(line)
    try:
        program = Running(path)
        program.wait_for(event="step")
        program.press("done")
        program.wait_for(event="step", stage="reference")
        level.carry()
        level.lay(-3.0)
        time.sleep(1.0)
        os.kill(program.process.pid, signal.SIGSTOP)
        time.sleep(4.0)
        level.carry()
        level.lay(11.0)
        program.press()
        os.kill(program.process.pid, signal.SIGCONT)
        noted = program.wait_for(event="noted", kind="clock")
        assert "suspend" in noted["say"]
        refused = program.wait_for(event="answered")
        assert refused["result"] == "refused"
        program.wait_for(event="link", state="back")
        time.sleep(1.0)
        program.press()
        program.wait_for(event="captured")
        program.process.send_signal(signal.SIGTERM)
        program.rest()
    finally:
        level.stop()
        line.close()
    recording = read(sessions_of(path)[0])
    assert verify(recording, replay(recording)).agrees
    [taken] = [e.body for e in recording.events if isinstance(e.body, Captured)]
    assert taken.reading_deg == pytest.approx(11.0, abs=0.1)
    stood = next(item for item in recording.inputs if isinstance(item, Clock))
    waited = [i for i in recording.inputs if isinstance(i, Bytes) and i.t_ns > stood.t_ns]
    assert len(waited) > 50
