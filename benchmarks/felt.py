"""What is felt of a session: from a level's bytes to an event, and how soon there is a picture.

    python -m benchmarks.felt [READINGS] [STARTS]

First READINGS readings of a level at 100 samples a second through the ordinary service and its file on
the disk: from putting in the chunk that completed a reading to its event as a line of JSON, and beside it
as many bare commits of one row, one right after the other and, as readings come, seldom. Then STARTS starts on a pseudo-terminal, by turns: `stillblade run` until
its picture says what to do, and a bare Textual application until it shows a word.
Last as many signals as STARTS times five: from the picture of a moment to the start of the program that plays
it, and beside it that program run by itself.
"""

import asyncio
import contextlib
import fcntl
import math
import os
import pty
import signal
import statistics
import struct
import subprocess
import sys
import termios
import time
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from benchmarks.broker import bare_inserts
from benchmarks.speed import as_installed
from daemon.core.engine import Engine
from daemon.faces.sound import Sound
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Service
from shared.events import Captured, StepChanged
from shared.inputs import Bytes, Command, CommandKind, Input
from shared.messages import event_line
from tests.daemon.bench import LEVEL, header, sentence
from tests.faces.hosts import Service as Answering
from tests.tui import scenes
from tests.whole.program import JOB

HZ = 100.0
BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("PICTURE")
Bare().run()
"""
FAST = {**LEVEL, "settings": {**LEVEL["settings"], "reporting": {"rate_hz": HZ}}}
FOREVER_S = 60.0
SELDOM_S = 0.5


class Noted(Inbox):
    """An Inbox that notes when each chunk was put in, by its stamp."""

    def __init__(self, clock: SessionClock) -> None:
        super().__init__(clock)
        self.put_s: dict[int, float] = {}

    def put(self, item: Input) -> int:
        """Note when."""
        begun = time.perf_counter()
        stamp = super().put(item)
        if isinstance(item, Bytes):
            self.put_s[stamp] = begun
        return stamp


async def events(folder: Path, count: int) -> list[float]:
    """Return the seconds from chunk to line of so many readings."""
    made = header(level=[FAST])
    service = Service(Engine(made), Store.create(folder / "felt.session", made), SessionClock())
    service.inbox = inbox = Noted(service.clock)
    service.desk = Counter(inbox, [], service.engine.view())
    took: list[float] = []

    async def face(desk: Counter) -> None:
        async with asyncio.TaskGroup() as group:
            hands = group.create_task(_hands(inbox), name="hands")
            listening = desk.events(0)
            async for event in listening:
                event_line(event)
                now = time.perf_counter()
                if isinstance(event.body, StepChanged):
                    inbox.put(Command(f"again {event.n}", "bench", event.n, _next(event.body)))
                if isinstance(event.body, Captured):
                    took.append(now - inbox.put_s[event.t_ns])
                    if len(took) == count:
                        break
                    inbox.put(Command(f"more {event.n}", "bench", event.n + 1, "again"))
            hands.cancel()

    await service.run([], face)
    return took


def _next(step: StepChanged) -> CommandKind:
    return "done" if step.stage == "prepare" else "take"


async def _hands(inbox: Noted) -> None:
    """Carry the level, lay it down, carry it: a sample every 10 ms, a press for each placement."""
    inbox.up("chord", "bench")
    begun, number = time.perf_counter(), 0
    while True:
        at = number / HZ % 2.0
        still = (number % 13 - 6) * 0.005
        angle = -3.0 + (still if at > 0.6 else 60.0 * math.sin(12.0 * at))
        if number % 200 == 55:
            inbox.put(Command(f"press {number}", "bench", 10**9, "take"))
        inbox.bytes("chord", 0, sentence(angle))
        number += 1
        await asyncio.sleep(max(0.0, begun + number / HZ - time.perf_counter()))


def started(words: list[str], shows: str) -> float:
    """Return the seconds from starting a program on a terminal to the word that it shows."""
    main, other = pty.openpty()
    fcntl.ioctl(other, termios.TIOCSWINSZ, struct.pack("HHHH", 36, 120, 0, 0))
    begun = time.perf_counter()
    child = subprocess.Popen(  # noqa: S603
        words, stdin=other, stdout=other, stderr=other, start_new_session=True,
        env={**as_installed(), "TERM": "xterm-256color"},
    )  # fmt: skip
    os.close(other)
    seen = b""
    try:
        while shows.encode() not in seen:
            seen += os.read(main, 65536)
            if time.perf_counter() - begun > FOREVER_S:
                raise TimeoutError(seen[-400:])
        return time.perf_counter() - begun
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child.pid, signal.SIGKILL)
        child.wait()
        os.close(main)


def pictures(folder: Path, count: int) -> tuple[list[float], list[float]]:
    """Return the seconds to the first picture of the program and of a bare application, by turns."""
    job = folder / "job.toml"
    job.write_text(JOB.replace("PORT", str(folder / "no-such-port")), "utf-8")
    run = [sys.executable, "-m", "daemon", "run", str(job), "--new"]
    pairs = [
        (started(run, "Make safe"), started([sys.executable, "-c", BARE], "PICTURE"))
        for _ in range(count)
    ]
    return [one for one, _ in pairs], [other for _, other in pairs]


async def signals(folder: Path, count: int) -> tuple[list[float], list[float]]:
    """Return the seconds from picture to player, and of a bare player, by turns."""
    player, log = folder / "player", folder / "played"
    log.touch()
    player.write_text(f'#!/bin/sh\ndate +%s.%N >> "{log}"\n', "utf-8")
    player.chmod(0o755)
    service = Answering()
    took: list[float] = []
    bare: list[float] = []
    async with asyncio.TaskGroup() as group:
        sound = group.create_task(Sound(service.desk, 0.5, (str(player),)).run(), name="sound")
        for number in range(count):
            view = replace(scenes.REREADING, step=number)
            begun = time.time()
            await service.desk.tell([], view)
            took.append(await _played(log, len(took) + len(bare)) - begun)
            begun = time.time()
            child = await asyncio.create_subprocess_exec(str(player))
            await child.wait()
            bare.append(await _played(log, len(took) + len(bare)) - begun)
            await asyncio.sleep(0.1)
        sound.cancel()
    return took[1:], bare[1:]


async def _played(log: Path, before: int) -> float:
    """Return when the newest was played."""
    while len(lines := (await asyncio.to_thread(log.read_text, "ascii")).split()) <= before:  # noqa: ASYNC110
        await asyncio.sleep(0.002)  # another program writes it
    return float(lines[before])


def main() -> None:
    """Measure, and print."""
    readings = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    starts = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    with TemporaryDirectory() as name:
        folder = Path(name)
        took = asyncio.run(events(folder, readings))
        bare = bare_inserts(folder, readings)
        seldom = bare_inserts(folder, readings, SELDOM_S)
        ours, others = pictures(folder, starts)
        heard, alone = asyncio.run(signals(folder, 5 * starts))
    of_ms = (
        ("bytes to a line of JSON", took),
        ("a bare durable insert", bare),
        (f"one that comes {SELDOM_S:g} s after another", seldom),
        ("picture of a moment to its player", heard),
        ("that player by itself", alone),
    )
    for what, times in of_ms:
        p95 = statistics.quantiles(times, n=20)[-1] * 1e3
        print(
            f"| {what} | {len(times)} | median {statistics.median(times) * 1e3:.2f} ms | p95 {p95:.2f} ms |"
        )
    for what, times in (("first picture", ours), ("of a bare application", others)):
        print(
            f"| {what} | {len(times)} | median {statistics.median(times):.2f} s | least {min(times):.2f} s |"
        )
    print(
        f"first picture: {statistics.median(ours) / statistics.median(others):.2f} times a bare application's"
    )


if __name__ == "__main__":
    main()
