"""Desks to hold against each other: a service's own, and what faces of other processes are given."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import replace
from pathlib import Path

from daemon.core.engine import Engine
from daemon.faces.addresses import SOCKET, TCP, Address
from daemon.faces.attached import attached
from daemon.faces.broker import Publisher
from daemon.faces.listening import Listening
from daemon.faces.mqtt import Access
from daemon.faces.subscribed import subscribed
from daemon.faces.wire import Welcome
from daemon.shell.counter import Counter
from shared.events import Answered, Event, Noted, Summary
from shared.inputs import Command
from shared.job import Broker
from tests.daemon.bench import header
from tests.faces.mosquitto import Mosquitto

VERSION = "test"
VIEW = Engine(header()).view()


class Service:
    """A service without levels: it notes what is asked of it, and answers."""

    def __init__(self) -> None:
        self.asked: list[Command] = []
        self.answers: dict[str, Answered] = {}
        self.silent = False
        self.desk = Counter(self, [], VIEW)
        self._events = 0
        self._views = 0
        self._tasks: set[asyncio.Task[None]] = set()

    def put(self, command: Command) -> None:
        """Take a command, as an Inbox does."""
        self.asked.append(command)
        if not self.silent:
            again = self.answers.get(command.id)
            answer = again or Answered(command.id, command.client, "done", command.kind)
            self.answers[command.id] = answer
            answering = asyncio.get_running_loop().create_task(self.tell(answer), name="answer")
            self._tasks.add(answering)

    async def tell(self, body: Answered | Noted | Summary) -> None:
        """Say one event."""
        self._events += 1
        await self.desk.tell([Event(self._events, self._events, body)], self.desk.view)

    async def say(self, count: int) -> None:
        """Say so many notes."""
        for _ in range(count):
            await self.tell(Noted("note", f"note {self._events + 1}"))

    async def show(self, **changes: object) -> None:
        """Show a newer picture."""
        self._views += 1
        view = replace(self.desk.view, t_ns=self._views, **changes)  # type: ignore[arg-type]
        await self.desk.tell([], view)


@asynccontextmanager
async def itself(service: Service, _: Path) -> AsyncIterator[Counter]:
    """Give the Desk of this process."""
    yield service.desk


@asynccontextmanager
async def listening(service: Service, address: Address, session: str = "a") -> AsyncIterator[None]:
    """Let faces attach meanwhile."""
    ready = asyncio.Event()
    async with asyncio.TaskGroup() as group:
        ear = Listening(service.desk, address, Welcome(VERSION, session))
        task = group.create_task(ear.run(ready.set), name="listening")
        await ready.wait()
        yield
        task.cancel()


@asynccontextmanager
async def over_socket(service: Service, folder: Path) -> AsyncIterator[Counter]:
    """Give the Desk over a Unix socket."""
    address = Address(folder / f"desk{SOCKET}")
    async with listening(service, address), attached(address, VERSION) as desk:
        yield desk


@asynccontextmanager
async def over_tcp(service: Service, folder: Path) -> AsyncIterator[Counter]:
    """Give the Desk over TCP on the loopback."""
    address = Address(folder / f"desk{TCP}", "a token")
    async with listening(service, address), attached(Address(address.path), VERSION) as desk:
        yield desk


BROKER_TOPIC = "hangar 3/nose"


@asynccontextmanager
async def over_broker(service: Service, folder: Path) -> AsyncIterator[Counter]:
    """Give the Desk over a broker."""
    with Mosquitto() as made:
        broker = Broker(
            host="127.0.0.1", port=made.port, topic=BROKER_TOPIC, anonymous=True,
            every_s=0.05, may_act=["face"],
        )  # fmt: skip
        access = Access(broker, folder)
        async with asyncio.TaskGroup() as group:
            publisher = Publisher(service.desk, access, "a")
            task = group.create_task(publisher.run(), name="publisher")
            async with subscribed(access, "face") as desk:
                yield desk
            task.cancel()


Kind = Callable[[Service, Path], AbstractAsyncContextManager[Counter]]
KINDS: dict[str, Kind] = {"in process": itself, "socket": over_socket, "TCP": over_tcp}
REAL_KINDS: dict[str, Kind] = {"broker": over_broker}
"""Those that another program is needed for."""
