"""The program as a user starts it: a process, its standard streams, a pseudo-terminal."""

import contextlib
import json
import os
import queue
import random
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, Protocol

from tests.daemon.bench import sentence

JOB = """
stillblade_job = 1
name = "Two blades on the bench"

[propeller]
blades = 2
rotation = "clockwise"
layout = "tractor"
station = "75 % radius"

[target]
angle_deg = 20.0
tolerance_deg = 0.3
spread_deg = 0.3

[setup]
capture = "by press"

[plan]
rounds = ["check"]
baseline_placements = 2

[[level]]
name = "chord"
profile = "nmea-xdr"
port = "PORT"
settings = { fields = { angle = { source = "BLADE" } }, noise = { sd_deg = 0.02, n = 900 }, reporting = { rate_hz = 50 } }
"""

PATIENCE_S = 60.0
"""A test fails after this long without what it waits for; never a measure of speed."""


def stillblade(*words: str, stdin: str = "", **env: str) -> subprocess.CompletedProcess[str]:
    """Run the program to its end."""
    return subprocess.run(
        [sys.executable, "-m", "daemon", *words],
        input=stdin,
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, **env},
        check=False,
    )


UNLIFTED = "this placement is already taken: lift the level and place it again"
STARTED: list["Running"] = []
"""Every process of this test, so that none outlives it."""


def end_all() -> None:
    """Kill what a failed test left running."""
    while STARTED:
        program = STARTED.pop()
        if program.process.poll() is None:
            program.kill()


class Running:
    """`stillblade run JOB --headless --json`, fed through a pseudo-terminal and its input.

    command: another one than `run` with the same job.
    """

    def __init__(self, job: Path, *words: str, command: str = "run") -> None:
        how = ["--json"] if command == "serve" else ["--headless", "--json"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "daemon", command, str(job), *how, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        STARTED.append(self)
        self.events: list[dict[str, Any]] = []
        self.errors: list[str] = []
        self._queue: queue.Queue[dict[str, Any] | None] = queue.Queue()
        self._threads = [
            threading.Thread(target=self._read, daemon=True),
            threading.Thread(target=self._read_errors, daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._queue.put(json.loads(line))
        self._queue.put(None)

    def _read_errors(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.errors.append(line)

    def wait_for(self, **wanted: Any) -> dict[str, Any]:
        """Return the next event with these fields."""
        return self.wait_for_any(wanted)

    def wait_for_any(self, *alternatives: dict[str, Any]) -> dict[str, Any]:
        """Return the next event with the fields of one of them."""
        end = time.monotonic() + PATIENCE_S
        while True:
            try:
                event = self._queue.get(timeout=max(0.1, end - time.monotonic()))
            except queue.Empty:
                event = None
            assert event is not None, (
                f"no {alternatives} after {self.events[-4:]}; {self.errors[-3:]}"
            )
            self.events.append(event)
            if any(wanted.items() <= event.items() for wanted in alternatives):
                return event

    def wait_to_hear(self, words: str) -> None:
        """Wait until it says these words on standard error."""
        end = time.monotonic() + PATIENCE_S
        while not any(words in line for line in self.errors):
            assert time.monotonic() < end, f"no {words!r} in {self.errors[-3:]}"
            time.sleep(0.02)

    def press(self, kind: str = "take", seen: int | None = None, **args: Any) -> None:
        """Write one command on its standard input. seen: None for the newest event."""
        assert self.process.stdin is not None
        command = {"kind": kind, "args": args, **({} if seen is None else {"seen": seen})}
        self.process.stdin.write(json.dumps(command) + "\n")
        self.process.stdin.flush()

    def rest(self) -> list[dict[str, Any]]:
        """Wait for the end; return every event."""
        self.process.wait(PATIENCE_S)
        for thread in self._threads:
            thread.join(PATIENCE_S)
        while (event := self._queue.get(timeout=1)) is not None:
            self.events.append(event)
        self.close()
        return self.events

    def kill(self) -> None:
        """Kill -9, and wait until it is gone."""
        self.process.kill()
        self.process.wait(PATIENCE_S)
        for thread in self._threads:
            thread.join(PATIENCE_S)
        self.close()

    def close(self) -> None:
        """Close the streams."""
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            if stream is not None:
                with contextlib.suppress(BrokenPipeError):
                    stream.close()


class Wired(Protocol):
    """What a level writes to."""

    def write(self, data: bytes) -> None: ...


class Level:
    """A level that streams 50 samples a second on a pseudo-terminal, from a thread of its own.

    hurry: it streams so many times as fast, and the hand that lays it is as much quicker. Who was told
    of 50 samples a second counts samples, and is through so many times sooner.
    """

    RATE_HZ = 50
    lies_on_s = 0.0
    """So long it lies on after a reading."""

    def __init__(self, line: Wired, hurry: float = 1.0) -> None:
        self.line = line
        self._hurry = hurry
        self._random = random.Random(4)
        self._angle_deg: float | None = None
        self._sent = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._stream, daemon=True)
        self._thread.start()

    def _stream(self) -> None:
        while not self._stop.wait(1.0 / (self.RATE_HZ * self._hurry)):
            if self._angle_deg is None:
                angle_deg = self._random.uniform(-70.0, 70.0)
            else:
                angle_deg = self._angle_deg + 0.02 * self._random.gauss(0.0, 1.0)
            self.line.write(self.written(angle_deg))
            self._sent += 1

    def written(self, angle_deg: float) -> bytes:
        """What it sends for an angle."""
        return sentence(angle_deg)

    def stop(self) -> None:
        """Fall silent."""
        self._stop.set()
        self._thread.join()

    def carry(self) -> None:
        """It is in someone's hand."""
        self._angle_deg = None
        self._send(25)

    def lay(self, angle_deg: float) -> None:
        """It lies still from now on."""
        self._angle_deg = angle_deg
        self._send(15)

    def _send(self, count: int) -> None:
        """Let it send so many more: by the clock, a busy machine would cut a movement short."""
        wanted, end = self._sent + count, time.monotonic() + PATIENCE_S
        while self._sent < wanted and time.monotonic() < end:
            time.sleep(0.002)

    def read(self, program: Running, angle_deg: float, **wanted: Any) -> dict[str, Any]:
        """One placement, until the program has taken it.

        On a busy machine a press may come before what was sent until then: it is given again, as a
        person does.
        """
        self.carry()
        self.lay(angle_deg)
        taken, early = {"event": "captured", **wanted}, {"event": "answered", "say": UNLIFTED}
        program.press()
        while (captured := program.wait_for_any(taken, early))["event"] == "answered":
            time.sleep(0.1)
            program.press()
        time.sleep(self.lies_on_s)
        return captured
