"""Stop `stillblade run` by SIGINT, SIGTERM and SIGHUP while a level streams, many times.

    python -m benchmarks.stops [EACH] [AT_A_TIME] [SEED]

EACH stops by each signal, AT_A_TIME processes at once, each with a level on a pseudo-terminal that
sends 10 to 400 samples a second. A stop comes up to two seconds after the first line that was
told. It is obeyed when the process ends with 0, says nothing like a traceback, leaves one plain
file that is its own replay and holds every line that was told. The time from signal to end is taken
twice: by the clock, and as processor time of the process, which other load leaves alone.
"""

import json
import signal
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from benchmarks.kills import wrong_with
from daemon.session.begin import sessions_of
from simulator.line import Line
from tests.daemon.bench import sentence
from tests.whole.program import JOB

SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
WITHIN_S = 2.0
PATIENCE_S = 120.0
"""A process that has not ended by then has not obeyed, whatever the load."""
TICKS = 0.005
"""How often the level is looked after; it sends what is due."""
JIFFY_S = 0.01
"""Unit of the processor time in /proc (proc(5): USER_HZ, 100 on Linux)."""


@dataclass(slots=True)
class Came:
    """What came of the stops."""

    count: int = 0
    slowest_s: float = 0.0
    slowest_cpu_s: float = 0.0
    late: int = 0
    lines: int = 0
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop to be made."""

    number: int
    rate_hz: float
    after_s: float


class Fast:
    """A level that sends so many samples a second, from a thread of its own."""

    def __init__(self, line: Line, rate_hz: float) -> None:
        self._line, self._rate_hz = line, rate_hz
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._stream, daemon=True)
        self._thread.start()

    def _stream(self) -> None:
        start, sent = time.monotonic(), 0
        while not self._over.wait(TICKS):
            due = round((time.monotonic() - start) * self._rate_hz)
            for number in range(sent, due):
                self._line.write(sentence(12.0 + 0.01 * (number % 5)))
            sent = due

    def stop(self) -> None:
        """Fall silent."""
        self._over.set()
        self._thread.join()


def once(stop: Stop) -> tuple[float, float, int, str]:
    """Make one stop; return its seconds by the clock and of processor, the lines, what is wrong."""
    with tempfile.TemporaryDirectory() as folder:
        line = Line("chord")
        job = Path(folder) / "bench.toml"
        job.write_text(JOB.replace("PORT", line.open()))
        level = Fast(line, stop.rate_hz)
        try:
            return _stopped(job, stop)
        finally:
            level.stop()
            line.close()


def _stopped(job: Path, stop: Stop) -> tuple[float, float, int, str]:
    with subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-m", "daemon", "run", str(job), "--headless", "--json"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        told: list[bytes] = []
        first, errors = threading.Event(), [b""]
        threads = [
            threading.Thread(target=_listen, args=(process, told, first), daemon=True),
            threading.Thread(target=_read_errors, args=(process, errors), daemon=True),
        ]
        for thread in threads:
            thread.start()
        first.wait(PATIENCE_S)
        time.sleep(stop.after_s)
        cpu_s, at = _cpu_s(process.pid), time.monotonic()
        process.send_signal(stop.number)
        last_cpu_s = cpu_s
        while process.poll() is None and time.monotonic() - at < PATIENCE_S:
            last_cpu_s = max(last_cpu_s, _cpu_s(process.pid))
            time.sleep(0.01)
        took_s = time.monotonic() - at
        process.kill()
        for thread in threads:
            thread.join()
    wrong = wrong_with(job, told, errors[0].decode())
    left = sorted(path.name for path in job.parent.glob("*.session*"))
    if not wrong and process.returncode != 0:
        wrong = f"ended with {process.returncode}: {errors[0][-200:]!r}"
    if not wrong and (len(sessions_of(job)) != 1 or len(left) != 1):
        wrong = f"left {left}"
    return took_s, last_cpu_s - cpu_s, len(told), wrong


def _listen(process: "subprocess.Popen[bytes]", told: list[bytes], first: threading.Event) -> None:
    assert process.stdout is not None
    for line in process.stdout:
        json.loads(line)
        told.append(line)
        first.set()
    first.set()


def _read_errors(process: "subprocess.Popen[bytes]", errors: list[bytes]) -> None:
    assert process.stderr is not None
    errors[0] = process.stderr.read()


def _cpu_s(pid: int) -> float:
    """Return the processor time of a process so far."""
    try:
        words = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(words[11]) + int(words[12])) * JIFFY_S


def run(each: int, at_a_time: int, seed: int) -> dict[str, Came]:
    """Make so many stops by each signal."""
    draw = Random(seed)
    stops = [
        Stop(number, 10.0 * 40.0 ** draw.random(), 2.0 * draw.random())
        for number in SIGNALS
        for _ in range(each)
    ]
    draw.shuffle(stops)
    for number in SIGNALS:
        # whoever runs this in the background may ignore some, and so would the processes
        signal.signal(number, signal.default_int_handler)
    came = {signal.Signals(number).name: Came() for number in SIGNALS}
    with ThreadPoolExecutor(at_a_time) as pool:
        for stop, found in zip(stops, pool.map(once, stops), strict=True):
            _count(came[signal.Signals(stop.number).name], stop, *found)
    return came


def _count(came: Came, stop: Stop, took_s: float, cpu_s: float, lines: int, wrong: str) -> None:
    came.count += 1
    came.lines += lines
    came.late += took_s > WITHIN_S
    came.slowest_s = max(came.slowest_s, took_s)
    came.slowest_cpu_s = max(came.slowest_cpu_s, cpu_s)
    if wrong:
        came.wrong.append(f"at {stop.rate_hz:.0f} Hz, after {stop.after_s:.2f} s: {wrong}")


def said(name: str, came: Came) -> str:
    """Return the figure as a line."""
    return (
        f"{came.count} stops by {name}, {came.lines} lines told, {len(came.wrong)} wrong; "
        f"slowest {came.slowest_s:.2f} s ({came.slowest_cpu_s:.2f} s of processor), "
        f"{came.late} over {WITHIN_S:g} s"
    )


def main() -> int:
    """Run it and print what came of it; 1 where a stop was not obeyed."""
    given = [int(word) for word in sys.argv[1:]]
    each, at_a_time, seed = [*given, *(500, 2, 1)[len(given) :]]
    came = run(each, at_a_time, seed)
    for name, found in came.items():
        print(said(name, found))
        for wrong in found.wrong[:20]:
            print(f"  {wrong}")
    return 1 if any(found.wrong for found in came.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
