"""A session in which something hangs; run as a program: python -m tests.cli.hostile FILE WHAT."""

import asyncio
import sys
import threading
import time
from pathlib import Path

from daemon.cli.stops import until_stopped
from daemon.core.engine import Engine
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Service
from shared.inputs import Command
from tests.daemon.bench import header

FOREVER_S = 1000.0


def say(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


async def swallows(desk: Counter) -> None:
    """A face that swallows every cancel."""
    async for event in desk.events(0):
        say(f"told {event.n}")
        if event.n == 2:
            break
    say("ready")
    while True:
        try:
            await asyncio.sleep(FOREVER_S)
        except asyncio.CancelledError:
            say("swallowed")


async def listens(desk: Counter) -> None:
    """A face that does what it should."""
    desk.post(Command("a", "test", 99, "note", {"text": "one"}))
    async for event in desk.events(0):
        say(f"told {event.n}")
        if event.n == 4:
            say("ready")


async def blocks_the_loop(inbox: Inbox) -> None:
    """A link that never returns to the loop."""
    await asyncio.sleep(1.0)
    say("hangs")
    time.sleep(FOREVER_S)  # noqa: ASYNC251 - that is what is wrong with it


async def blocks_a_thread(inbox: Inbox) -> None:
    """A link whose library hangs in a thread, which the loop waits for as it ends."""
    await asyncio.to_thread(time.sleep, FOREVER_S)


async def waits(inbox: Inbox) -> None:
    """A link that waits for what never comes as it ends."""
    try:
        await asyncio.sleep(FOREVER_S)
    finally:
        await asyncio.Event().wait()


async def floods_a_full_pipe(desk: Counter) -> None:
    """A face that writes where nobody reads."""
    async for event in desk.events(0):
        say(f"told {event.n}")
        if event.n == 2:
            break
    say("ready")
    await asyncio.sleep(1.0)
    say("hangs\n" + "x" * 10_000_000)


class Stalled(Store):
    """A store whose disk stops answering after what was told first."""

    def commit(self, *what: object) -> None:  # type: ignore[override]
        if what[1] and what[1][0].n > 4:  # type: ignore[index]
            say("stalled")
            threading.Event().wait()
        super().commit(*what)  # type: ignore[arg-type]


async def asks_on(desk: Counter) -> None:
    """A face that asks for one thing more once it has heard the first."""
    desk.post(Command("a", "test", 99, "note", {"text": "one"}))
    async for event in desk.events(0):
        say(f"told {event.n}")
        if event.n == 4:
            desk.post(Command("b", "test", 99, "note", {"text": "two"}))
            say("ready")


HOSTILE = {
    "nothing": (listens, []),
    "face": (swallows, []),
    "full pipe": (floods_a_full_pipe, []),
    "loop": (listens, [("l", blocks_the_loop)]),
    "thread": (listens, [("l", blocks_a_thread)]),
    "group": (listens, [("l", waits)]),
    "disk": (asks_on, []),
}


def main() -> None:
    path, what = Path(sys.argv[1]), sys.argv[2]
    face, links = HOSTILE[what]
    head = header()
    kind = Stalled if what == "disk" else Store
    service = Service(Engine(head), kind.create(path, head), SessionClock())
    say("stopped" if until_stopped(service.run(links, face))[1] else "ended")


if __name__ == "__main__":
    main()
