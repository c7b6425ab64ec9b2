"""The page: how long from a sample to the browser, and what five browsers cost.

    python -m benchmarks.page [SECONDS]

A level streams 20 samples a second into the ordinary service for SECONDS, with one browser (Debian's
Chromium) and then with five readers of the pictures and none. For every sample, the time from its being
put into the Inbox to the browser painting the first picture that knows of it, on the clock of this machine; and the processor time of the service with five readers and without any.
"""

import asyncio
import http.client
import statistics
import sys
import threading
import time
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlsplit

from benchmarks.broker import session
from daemon.faces.page import Page, Place
from daemon.shell.counter import Counter
from shared.inputs import Bytes, Command
from tests.daemon.bench import sentence
from tests.faces.chromium import Chromium
from tests.faces.mosquitto import free_port

HZ = 20.0
READERS = 5
WATCH = """
window.seen = [];
source.addEventListener("message", (message) => {
  const t_ns = JSON.parse(message.data).t_ns;
  requestAnimationFrame(() => window.seen.push([t_ns, performance.timeOrigin + performance.now()]));
});
"""


async def with_browser(seconds: float) -> list[float]:
    """Return the milliseconds from each sample to the first picture after it being painted."""
    put: list[tuple[int, float]] = []
    painted: list[tuple[int, float]] = []
    with TemporaryDirectory() as name:
        async with session(Path(name)) as (service, inbox):

            async def face(desk: Counter) -> None:
                place = Place("127.0.0.1", free_port())
                page = Page(desk, place)
                async with asyncio.TaskGroup() as group:
                    task = group.create_task(page.run(), name="page")
                    with Chromium(740, 304) as browser:
                        await asyncio.to_thread(browser.go, place.link)
                        shown = partial(browser.text, "largest")
                        await asyncio.to_thread(browser.until, lambda: bool(shown()))
                        await asyncio.to_thread(browser.ask, WATCH)
                        inbox.up("chord", "bench")
                        await desk.send(Command("1", "bench", desk.newest, "done"))
                        begun = time.perf_counter()
                        for number in range(int(seconds * HZ)):
                            angle = -1.0 - number * 0.01
                            at = time.time() * 1e3
                            put.append((inbox.put(Bytes("chord", 0, sentence(angle))), at))
                            await asyncio.sleep(
                                max(0.0, begun + (number + 1) / HZ - time.perf_counter())
                            )
                        painted.extend(await asyncio.to_thread(browser.ask, "window.seen"))
                    task.cancel()

            await service.run([], face)
    return [
        next(at for t_ns, at in painted if t_ns >= stamp) - begun
        for stamp, begun in put
        if stamp <= painted[-1][0]
    ]


async def with_readers(seconds: float, readers: int) -> float:
    """Return the share of one core that the service takes at 20 samples a second."""
    with TemporaryDirectory() as name:
        async with session(Path(name)) as (service, inbox):
            share = 0.0

            async def face(desk: Counter) -> None:
                nonlocal share
                place = Place("127.0.0.1", free_port())
                page = Page(desk, place)
                async with asyncio.TaskGroup() as group:
                    task = group.create_task(page.run(), name="page")
                    await asyncio.sleep(0.5)
                    for _ in range(readers):
                        threading.Thread(target=_read, args=(place.link,), daemon=True).start()
                    inbox.up("chord", "bench")
                    await asyncio.sleep(0.5)
                    cpu, begun = time.thread_time(), time.perf_counter()
                    for number in range(int(seconds * HZ)):
                        inbox.bytes("chord", 0, sentence(10.0 + (number % 400) * 0.05))
                        await asyncio.sleep(
                            max(0.0, begun + (number + 1) / HZ - time.perf_counter())
                        )
                    share = (time.thread_time() - cpu) / (time.perf_counter() - begun)
                    task.cancel()

            await service.run([], face)
    return share


def _read(link: str) -> None:
    """Read pictures as a browser does, until they end."""
    line = http.client.HTTPConnection(urlsplit(link).netloc, timeout=30)
    line.request("GET", "/pictures")
    answer = line.getresponse()
    while answer.readline():
        pass


def main() -> None:
    """Measure, and print the table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    took = asyncio.run(with_browser(seconds))
    p95 = statistics.quantiles(took, n=20)[-1]
    print(
        f"| sample to painted, {len(took)} samples | median {statistics.median(took):.0f} ms | p95 {p95:.0f} ms |"
    )
    alone = asyncio.run(with_readers(seconds, 0))
    five = asyncio.run(with_readers(seconds, READERS))
    print(
        f"| share of a core, {READERS} readers | {five:.1%} | none {alone:.1%} | they cost {five - alone:.1%} |"
    )


if __name__ == "__main__":
    main()
