"""Kill `stillblade run` in the middle of whole jobs, and hold its record against what it told.

    python -m benchmarks.kills [ANYWHERE] [FIRST] [CLOSING] [SEED]

A process on a pseudo-terminal, a person who reads what it asks and does it, and `kill -9`: at any
moment of the job, within a second of the start, and while it is closing (after SIGTERM). After
every kill the record must hold every line that was printed, be its own replay, and the next
`run` must take it up. Numbers from the command line; 120, 40 and 40 are in docs/faults.md.
"""

import contextlib
import json
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from daemon.session.begin import sessions_of
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from shared.messages import event_line
from simulator.line import Line
from tests.whole.program import JOB, Level

ANGLES = {"reference": -3.0, 1: 17.0, 2: 17.05}


@dataclass(slots=True)
class Killed:
    """What came of the kills."""

    count: int = 0
    lines: int = 0
    jobs: int = 0
    wrong: list[str] = field(default_factory=list)


class Sitting:
    """One process, and a person who does what it asks for until it is killed."""

    def __init__(self, job: Path, level: Level) -> None:
        self.process = subprocess.Popen(  # noqa: S603 - our own program
            [sys.executable, "-m", "daemon", "run", str(job), "--headless", "--json"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        self.lines: list[bytes] = []
        self.finished = False
        self._level = level
        self._step: dict[str, Any] = {}
        self._threads = [
            threading.Thread(target=self._listen, daemon=True),
            threading.Thread(target=self._work, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if not line.endswith(b"\n"):
                break  # torn by the kill: it was not told
            self.lines.append(line)
            event = json.loads(line)
            if event["event"] == "step":
                self._step = event
            self.finished = self.finished or event["event"] == "summary"

    def _work(self) -> None:
        while self.process.poll() is None and not self.finished:
            time.sleep(0.05)
            step = self._step
            if step.get("stage") in {"prepare", "tighten", "finished"}:
                self._press("done")
                time.sleep(0.3)
            elif step.get("blade") in ANGLES:
                self._level.carry()
                self._level.lay(ANGLES[step["blade"]])
                self._press("take")
                time.sleep(0.5)

    def _press(self, kind: str) -> None:
        assert self.process.stdin is not None
        with contextlib.suppress(OSError):
            self.process.stdin.write(json.dumps({"kind": kind}).encode() + b"\n")
            self.process.stdin.flush()

    def end(self) -> str:
        """Kill it where it still runs; return its standard error."""
        self.process.kill()
        self.process.wait()
        for thread in self._threads:
            thread.join()
        assert self.process.stderr is not None
        words = self.process.stderr.read().decode()
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            assert stream is not None
            with contextlib.suppress(OSError):
                stream.close()
        return words


def wrong_with(job: Path, told: list[bytes], errors: str) -> str:
    """Hold the newest record against what was told; return what is wrong, or ""."""
    if "Traceback" in errors:
        return errors[-400:]
    if "is not taken up again" in errors or "passed over" in errors:
        return f"refused: {errors[-300:]}"
    found = sessions_of(job)
    if not found:
        return "told something that is nowhere" if told else ""
    recording = read(found[0])
    there = [event_line(event).encode() + b"\n" for event in recording.events]
    if there[: len(told)] != told:
        return f"{len(told)} lines were told, {len(there)} are there"
    if recording.events and not verify(recording, replay(recording)).agrees:
        return "not its own replay"
    return ""


def once(job: Path, level: Level, way: str, draw: Random, came: Killed) -> None:
    """Start or go on, and kill it."""
    sitting = Sitting(job, level)
    before = len(sessions_of(job))
    if way == "first":
        while len(sessions_of(job)) == before and sitting.process.poll() is None:
            if before and sitting.lines:
                break
            time.sleep(0.002)
        time.sleep(draw.random() ** 2)
    else:
        time.sleep(1.5 + draw.random() * 8.0)
    if way == "closing" and not sitting.finished:
        sitting.process.terminate()
        time.sleep(draw.random() * 0.08)
    errors = sitting.end()
    came.count += 1
    came.lines += len(sitting.lines)
    try:
        wrong = wrong_with(job, sitting.lines, errors)
    except Exception as error:  # noqa: BLE001 - whatever escapes is what is counted
        wrong = f"{type(error).__name__}: {error}"
    if wrong:
        came.wrong.append(f"{way}: {wrong}")


def run(anywhere: int, first: int, closing: int, seed: int) -> Killed:
    """Kill so many times; a finished job is followed by the next."""
    draw, came = Random(seed), Killed()
    ways = ["anywhere"] * anywhere + ["first"] * first + ["closing"] * closing
    draw.shuffle(ways)
    with tempfile.TemporaryDirectory() as folder:
        line = Line("chord")
        level = Level(line)
        job = Path(folder) / "bench.toml"
        job.write_text(JOB.replace("PORT", line.open()))
        try:
            for way in ways:
                if way == "first":
                    _next_job(job)
                once(job, level, way, draw, came)
            came.jobs = len(sessions_of(job))
        finally:
            level.stop()
            line.close()
    return came


def _next_job(job: Path) -> None:
    """Put what there is aside, so that the next start makes a session of its own."""
    aside = job.parent / f"aside-{time.monotonic_ns()}"
    aside.mkdir()
    for one in sessions_of(job):
        for file in job.parent.glob(f"{one.name}*"):
            file.rename(aside / file.name)


def main() -> int:
    """Run it and print what came of it; 1 where anything was wrong."""
    given = [int(word) for word in sys.argv[1:]]
    anywhere, first, closing, seed = [*given, *(120, 40, 40, 1)[len(given) :]]
    came = run(anywhere, first, closing, seed)
    print(
        f"{came.count} kills ({first} in the first second, {closing} while closing), "
        f"{came.lines} lines told, {len(came.wrong)} wrong"
    )
    for wrong in came.wrong[:20]:
        print(f"  {wrong}")
    return 1 if came.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
