"""Levels in the emulated air that count, and their supervisors: what was lost, doubled, swapped?"""

import asyncio
import itertools
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from drivers.links import Patience
from simulator.radio import Radio
from tests.drivers.making import profile_of
from tests.drivers.sinks import QUICK, Heard, kept

PROFILE = profile_of("ble-notify")
SERVICE = PROFILE.channels[0].service_uuid
UUID = PROFILE.channels[0].characteristic_uuid
VALUES = {"2a19": b"\x50", "2a29": b"nobody", "2a26": b"1.0"}
SERVICES = {SERVICE: [UUID], "180f": ["2a19"], "180a": ["2a29", "2a26"]}


def address(number: int) -> str:
    return f"AA:BB:CC:00:00:{number:02X}"


@dataclass
class Stage:
    """Some levels that notify a counter each, kept connected."""

    radio: Radio
    count: int = 1
    rate_hz: float = 100.0
    heard: Heard = field(default_factory=Heard)
    sent: list[int] = field(default_factory=list)

    async def prepare(self) -> None:
        self.sent = [0] * self.count
        for number in range(self.count):
            await self.radio.add_level(address(number), "level", SERVICES, VALUES)

    @asynccontextmanager
    async def running(self, patience: Patience = QUICK) -> AsyncIterator[None]:
        await self.prepare()
        async with asyncio.TaskGroup() as group:
            sending = group.create_task(self.send(), name="send")
            try:
                async with self.kept(patience):
                    yield
            finally:
                sending.cancel()

    @asynccontextmanager
    async def kept(self, patience: Patience = QUICK) -> AsyncIterator[None]:
        async with asyncio.TaskGroup() as group:
            inside, done = asyncio.Semaphore(0), asyncio.Event()

            async def one(number: int) -> None:
                async with kept(PROFILE, address(number), self.heard, patience, f"{number}"):
                    inside.release()
                    await done.wait()

            for number in range(self.count):
                group.create_task(one(number), name=f"level {number}")
            try:
                yield
            finally:
                done.set()

    async def send(self, samples: int | None = None) -> None:
        """Notify counters at the rate, for ever or so many each."""
        loop = asyncio.get_running_loop()
        due = loop.time()
        for index in itertools.count() if samples is None else range(samples):
            for number in range(self.count):
                data = self.sent[number].to_bytes(4, "little")
                self.radio.feed(address(number), UUID, data)
                self.sent[number] += 1
            if index % 50 == 0:
                await self.radio.drain()
            due += 1.0 / self.rate_hz
            await asyncio.sleep(max(0.0, due - loop.time()))

    async def flows(self) -> None:
        """Wait until every level has brought data from after now."""
        now = list(self.sent)
        await self.heard.until(
            lambda: all((self.numbers(one) or [-1])[-1] > now[one] for one in range(self.count))
        )

    async def goes_down_and_comes_back(self) -> str:
        """Wait for a loss and its end; return the first reason."""
        downs, ups = len(self.heard.reasons()), self.heard.ups()
        await self.heard.until(lambda: len(self.heard.reasons()) > downs)
        await self.heard.until(lambda: self.heard.ups() > ups)
        await self.flows()
        return self.heard.reasons()[downs]

    def numbers(self, number: int = 0) -> list[int]:
        return [int.from_bytes(data, "little") for data in self.heard.data(f"{number}")]

    def assert_in_order_and_once(self) -> None:
        for number in range(self.count):
            numbers = self.numbers(number)
            assert all(b > a for a, b in itertools.pairwise(numbers))

    async def assert_one_subscription(self) -> None:
        """What would make notifications come twice."""
        for number in range(self.count):
            answer = await self.radio.look("subscriptions", address(number))
            assert answer["count"] == 1
