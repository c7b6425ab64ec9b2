"""Publishing to a broker on the loopback: how long a command takes, and whether a broker delays samples.

    python -m benchmarks.broker [COMMANDS] [SECONDS]

Starts Debian's mosquitto on a port of its own. First COMMANDS notes of one client in a process of its own, from
publishing the command to its answer, and beside it as many bare round trips (the same two messages between that client
and one that sends back what it hears), and as many bare commits to a database on the same disk. Then a level at 100 samples a second for SECONDS each way: without a
broker, and with one that works, hangs (SIGSTOP), is slow (answers a tenth of the time), is gone, and one on which
a client floods the service with what is no command; for
every sample, how much later than it was put into the Inbox the engine had taken it.
"""

import asyncio
import contextlib
import json
import math
import signal
import socket
import sqlite3
import statistics
import sys
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import aiomqtt

from daemon.core.engine import Engine
from daemon.faces.broker import Publisher
from daemon.faces.mqtt import Access
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Service
from shared.inputs import Input
from shared.job import Broker
from tests.daemon.bench import header, sentence
from tests.faces.mosquitto import Mosquitto

TOPIC = "bench"
FAR = 10**15
HZ = 100.0
NODELAY = [(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)]
WAYS = ("none", "works", "hangs", "slow", "gone", "flooded")
FLOOD = b'{"kind":' * 100


class Prompt(Inbox):
    """An Inbox that notes how long an input has waited when it is taken out."""

    def __init__(self, now_ns: Callable[[], int]) -> None:
        super().__init__(now_ns)
        self._put_at: list[float] = []
        self.waited: list[float] = []

    def put(self, item: Input) -> int:
        """Note when."""
        self._put_at.append(time.perf_counter())
        return super().put(item)

    async def take(self, timeout_s: float) -> list[Input]:
        """Note how long each has waited."""
        items = await super().take(timeout_s)
        now = time.perf_counter()
        self.waited += [now - at for at in self._put_at]
        self._put_at.clear()
        return items


@asynccontextmanager
async def session(folder: Path) -> AsyncIterator[tuple[Service, Prompt]]:
    """A service over a file, with a level that only this script sends for."""
    made = Service(Engine(header()), Store.create(folder / "a.session", header()), SessionClock())
    inbox = Prompt(made.clock)
    made.inbox = inbox
    made.desk = Counter(inbox, [], made.engine.view())
    yield made, inbox


async def streaming(inbox: Prompt, seconds: float) -> None:
    """Put a sample in every 10 ms."""
    begun = time.perf_counter()
    inbox.up("chord", "bench")
    for number in range(int(seconds * HZ)):
        inbox.bytes("chord", 0, sentence(17.0 + number % 7 * 0.01))
        await asyncio.sleep(max(0.0, begun + (number + 1) / HZ - time.perf_counter()))


async def delays(way: str, seconds: float) -> list[float]:
    """Return how long every sample waited, in seconds, with a broker of this kind."""
    with TemporaryDirectory() as name, Mosquitto(keeps=False) as broker:
        if way == "gone":
            broker.stop(signal.SIGKILL)
        access = Access(
            Broker(host="127.0.0.1", port=broker.port, anonymous=True, every_s=0.05), Path()
        )
        async with session(Path(name)) as (service, inbox):

            async def face(desk: Counter) -> None:
                async with asyncio.TaskGroup() as group:
                    tasks = [group.create_task(_troubled(broker, way), name="trouble")]
                    if way != "none":
                        publisher = Publisher(desk, access, "bench")
                        tasks.append(group.create_task(publisher.run(), name="publisher"))
                    await streaming(inbox, seconds)
                    for task in tasks:
                        task.cancel()

            await service.run([], face)
            return inbox.waited


async def _troubled(broker: Mosquitto, way: str) -> None:
    await asyncio.sleep(0.5)
    if way == "hangs":
        broker.signal(signal.SIGSTOP)
    while way == "slow":
        broker.signal(signal.SIGSTOP)
        await asyncio.sleep(0.9)
        broker.signal(signal.SIGCONT)
        await asyncio.sleep(0.1)
    if way == "flooded":
        await _flood(broker.port)


async def _flood(port: int) -> None:
    """One client publishes what is no command, as fast as the broker takes it, until it is cancelled."""
    # without the library's time-outs: a cancel that meets an arrival would be swallowed (daemon/faces/mqtt.py)
    async with aiomqtt.Client(
        "127.0.0.1", port, timeout=math.inf, socket_options=NODELAY
    ) as client:
        while True:
            await client.publish("stillblade/ask/bench", FLOOD, 1)


def command(number: int) -> dict[str, object]:
    """One that writes to the record before it is answered."""
    return {"id": f"{number}", "kind": "note", "args": {"text": "x"}, "until": FAR}


def query(number: int) -> dict[str, object]:
    """One that changes nothing."""
    return {"id": f"{number}", "query": "events", "after": FAR}


def echoed(number: int) -> dict[str, object]:
    """What is sent back as it came."""
    return {"id": f"{number}"}


ASKED = {
    "command": (command, "stillblade/ask/bench", "stillblade/answer/bench"),
    "query": (query, "stillblade/ask/bench", "stillblade/answer/bench"),
    "bare": (echoed, "there", "back"),
}
"""What a client asks, where, and where it is answered."""


async def command_times(count: int) -> tuple[list[float], list[float], list[float]]:
    """Return the seconds from a command and from a query to the answer, and of a bare round trip."""
    with TemporaryDirectory() as name, Mosquitto(keeps=False) as broker:
        access = Access(Broker(host="127.0.0.1", port=broker.port, anonymous=True), Path())
        asked: list[list[float]] = []
        async with session(Path(name)) as (service, _):

            async def face(desk: Counter) -> None:
                async with asyncio.TaskGroup() as group:
                    publisher = Publisher(desk, access, "bench")
                    task = group.create_task(publisher.run(), name="publisher")
                    while publisher.reached is None or publisher.missing:  # noqa: ASYNC110
                        await asyncio.sleep(0.05)
                    asked.append(await _asked(broker.port, count, "command"))
                    asked.append(await _asked(broker.port, count, "query"))
                    task.cancel()

            await service.run([], face)
        return asked[0], asked[1], await _bare(broker.port, count)


async def _asked(port: int, count: int, what: str) -> list[float]:
    """Have a client in a process of its own ask; return the seconds to each answer."""
    words = (sys.executable, "-m", "benchmarks.broker", what, str(port), str(count))
    child = await asyncio.create_subprocess_exec(*words, stdout=asyncio.subprocess.PIPE)
    told, _ = await child.communicate()
    return [float(each) for each in told.split()]


async def asking(what: str, port: int, count: int) -> None:
    """Be that client; print the seconds."""
    told, there, back = ASKED[what]
    async with aiomqtt.Client("127.0.0.1", port, socket_options=NODELAY) as client:
        await client.subscribe(back, qos=1)
        for number in range(count):
            begun = time.perf_counter()
            await client.publish(there, json.dumps(told(number)), 1)
            await anext(aiter(client.messages))
            print(time.perf_counter() - begun)


async def _bare(port: int, count: int) -> list[float]:
    """A client here that sends back what it hears."""

    async def echo() -> None:
        with contextlib.suppress(asyncio.CancelledError):
            async with aiomqtt.Client("127.0.0.1", port, socket_options=NODELAY) as other:
                await other.subscribe("there", qos=1)
                ready.set()
                async for message in other.messages:
                    await other.publish("back", message.payload, 1)

    ready = asyncio.Event()
    async with asyncio.TaskGroup() as group:
        task = group.create_task(echo(), name="echo")
        await ready.wait()
        took = await _asked(port, count, "bare")
        task.cancel()
    return took


def bare_inserts(folder: Path, count: int, pause_s: float = 0.0) -> list[float]:
    """Return the seconds of so many commits of one row, each on the disk before the next.

    pause_s: between two of them; a disk and a processor that had nothing to do take longer.
    """
    name = f"bare-{pause_s}.db"
    with contextlib.closing(sqlite3.connect(folder / name, isolation_level=None)) as base:
        base.execute("PRAGMA journal_mode = WAL")
        base.execute("PRAGMA synchronous = FULL")
        base.execute("CREATE TABLE told (words TEXT)")
        took = []
        for number in range(count):
            begun = time.perf_counter()
            base.execute("INSERT INTO told VALUES (?)", (f"{number}" * 50,))
            took.append(time.perf_counter() - begun)
            time.sleep(pause_s)
    return took


def main() -> None:
    """Measure, and print both tables; or be the client that asks."""
    if sys.argv[1:2] and sys.argv[1] in ASKED:
        asyncio.run(asking(sys.argv[1], int(sys.argv[2]), int(sys.argv[3])))
        return
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 30.0
    with TemporaryDirectory() as name:
        inserts = bare_inserts(Path(name), count)
    print(
        f"| a bare durable insert | {count} times | median {statistics.median(inserts) * 1e3:.2f} ms |"
    )
    names = ("a command, which is recorded first", "a query", "a bare round trip")
    for name, took in zip(names, asyncio.run(command_times(count)), strict=True):
        print(f"| {name} | {count} times | median {statistics.median(took) * 1e3:.2f} ms |")
    for way in WAYS:
        waited = asyncio.run(delays(way, seconds))
        p95, most = statistics.quantiles(waited, n=20)[-1] * 1e3, max(waited) * 1e3
        print(f"| broker {way} | {len(waited)} samples | p95 {p95:.2f} ms | most {most:.1f} ms |")


if __name__ == "__main__":
    main()
