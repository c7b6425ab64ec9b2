"""From a level's sample to its number on the terminal, and what painting costs.

    python -m benchmarks.painted [SAMPLES]

`stillblade run` on a terminal of 120 by 36, and beside it a bare Textual application that paints the newest
sample twenty times a second, each fed through a pseudo-terminal of its own: from writing a sentence with
another angle (a blade is turned by half a degree a second) to the large digits that change; then the share of a core while a level sends ten a second,
and while it sends nothing.
"""

import contextlib
import fcntl
import os
import pty
import select
import signal
import statistics
import struct
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.speed import as_installed
from simulator.line import Line
from tests.daemon.bench import sentence
from tests.whole.program import JOB

BLOCK = "█".encode()
"""Large digits are made of it, and nothing else that changes is."""
PATIENCE_S = 60.0
STILL = 40
"""It lies still for so many samples first: one in a hand shows no number."""
EVERY_S = 0.1
"""A level at ten a second; the number is filtered, so each sample turns it a little further."""
BARE = """
import sys, threading, tty
from textual.app import App
from textual.widgets import Static
class Bare(App):
    newest = shown = ""
    count = 0
    def compose(self):
        yield Static("█ READY")
    def on_mount(self):
        threading.Thread(target=self.read, daemon=True).start()
        self.set_interval(0.05, self.paint)
    def read(self):
        with open(sys.argv[1], "rb", buffering=0) as line:
            tty.setraw(line)
            for words in line:
                self.newest = words.split(b",")[2].decode()
    def paint(self):
        if self.newest != self.shown:
            self.shown = self.newest
            self.count += 1
            self.query_one(Static).update("█ " * (10 + self.count % 2) + self.shown)
Bare().run()
"""


class Terminal:
    """A program on a pseudo-terminal of its own."""

    def __init__(self, words: list[str]) -> None:
        self._main, other = pty.openpty()
        fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", 36, 120, 0, 0))
        self._child = subprocess.Popen(  # noqa: S603
            words, stdin=other, stdout=other, stderr=other, start_new_session=True,
            env={**as_installed(), "TERM": "xterm-256color"},
        )  # fmt: skip
        os.close(other)

    def press(self, key: bytes) -> None:
        """Press a key."""
        os.write(self._main, key)

    def until(self, shows: bytes, within_s: float = PATIENCE_S) -> float | None:
        """Wait until it paints this; return when that was, or None: it did not."""
        end_s, seen = time.perf_counter() + within_s, b""
        while shows not in seen:
            left = end_s - time.perf_counter()
            if left <= 0:
                return None
            if select.select([self._main], [], [], left)[0]:
                seen += os.read(self._main, 65536)
        return time.perf_counter()

    def drain(self, seconds: float) -> float:
        """Take what it paints for so long; return the share of a core that it takes."""
        begun, before = time.perf_counter(), self._cpu_s()
        while (left := begun + seconds - time.perf_counter()) > 0:
            if select.select([self._main], [], [], left)[0]:
                os.read(self._main, 65536)
        return (self._cpu_s() - before) / (time.perf_counter() - begun)

    def _cpu_s(self) -> float:
        fields = Path(f"/proc/{self._child.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def end(self) -> None:
        """End it."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._child.pid, signal.SIGKILL)
        self._child.wait()
        os.close(self._main)


def measured(
    words: Callable[[str], list[str]], ready: Callable[[Terminal], None], count: int
) -> tuple[list[float], float, float]:
    """Return the seconds from sample to terminal, and the shares of a core streaming and silent."""
    line = Line("chord")
    terminal = Terminal(words(line.open()))
    try:
        ready(terminal)
        took = []
        for number in range(count + STILL):
            begun = time.perf_counter()
            line.write(sentence(-3.0 - 0.05 * max(0, number - STILL) + number % 5 * 0.01))
            at_s = terminal.until(BLOCK, EVERY_S)
            if number >= STILL and at_s is not None:  # a number may round to what it was
                took.append(at_s - begun)
            terminal.drain(max(0.0, begun + EVERY_S + number % 7 * 0.013 - time.perf_counter()))
        feeding = threading.Thread(target=_feed, args=(line,))
        feeding.start()
        busy = terminal.drain(9.0)
        feeding.join()
        terminal.drain(2.0)
        return took, busy, terminal.drain(8.0)
    finally:
        terminal.end()
        line.close()


def _feed(line: Line) -> None:
    for number in range(100):
        line.write(sentence(-3.0 + number % 13 * 0.01))
        time.sleep(0.1)


def _make_safe(terminal: Terminal) -> None:
    terminal.until(b"Make safe")
    terminal.drain(1.0)
    terminal.press(b" ")
    terminal.drain(2.0)


def _wait(terminal: Terminal) -> None:
    terminal.drain(3.0)


def main() -> None:
    """Measure, and print."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with TemporaryDirectory() as name:
        job = Path(name) / "job.toml"

        def run(port: str) -> list[str]:
            text = JOB.replace("PORT", port).replace("rate_hz = 50", "rate_hz = 10")
            job.write_text(text, "utf-8")
            return [sys.executable, "-m", "daemon", "run", str(job), "--new"]

        ours = measured(run, _make_safe, count)
        bare = measured(lambda port: [sys.executable, "-c", BARE, port], _wait, count)
    for what, (took, busy, idle) in (("stillblade run", ours), ("a bare application", bare)):
        p95 = statistics.quantiles(took, n=20)[-1] * 1e3
        print(
            f"| {what} | {len(took)} | median {statistics.median(took) * 1e3:.0f} ms | p95 {p95:.0f} ms |"
            f" {busy:.1%} of a core streaming | {idle:.1%} silent |"
        )


if __name__ == "__main__":
    main()
