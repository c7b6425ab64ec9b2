"""A sink that remembers, and a way to wait for what it should have heard."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from drivers import codecs
from drivers.links import Patience, keep
from shared.job import LevelEntry
from shared.profile import LevelProfile

QUICK = Patience(
    call_s=2.0,
    close_s=1.0,
    first_retry_s=0.02,
    longest_retry_s=0.1,
    data_s=0.6,
    quiet_data_s=0.6,
    find_s=1.0,
    seen_s=0.8,
    scanner_s=1.5,
    battery_s=0.2,
    reply_s=0.1,
)
"""Timing for tests: short, and far longer than anything takes that works."""

LONGEST_S = 20.0
Data = bytes


class Heard:
    """What a link told, in order.

    log: ("up", identity) and ("down", reason); chunks: (level, channel, data).
    """

    def __init__(self) -> None:
        self.log: list[tuple[str, str]] = []
        self.chunks: list[tuple[str, int, bytes]] = []
        self._news = asyncio.Event()

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        self.chunks.append((level, channel, data))
        self._news.set()

    def up(self, level: str, identity: str) -> None:
        self.log.append(("up", identity))
        self._news.set()

    def down(self, level: str, reason: str) -> None:
        self.log.append(("down", reason))
        self._news.set()

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until a condition holds; it is looked at with every piece of news."""
        async with asyncio.timeout(LONGEST_S):
            while not true():
                await self._news.wait()
                self._news.clear()

    def data(self, level: str = "", first: int = 0) -> list[Data]:
        """The chunks of the level's own channels."""
        return [
            data
            for name, channel, data in self.chunks[first:]
            if channel < codecs.BATTERY_CHANNEL and level in {"", name}
        ]

    def on(self, channel: int) -> list[Data]:
        """The chunks of one channel."""
        return [data for _name, number, data in self.chunks if number == channel]

    def ups(self) -> int:
        """How often the link came up."""
        return sum(kind == "up" for kind, _ in self.log)

    def reasons(self) -> list[str]:
        """Why it was down, each time."""
        return [text for kind, text in self.log if kind == "down"]


@asynccontextmanager
async def kept(
    profile: LevelProfile,
    port: str,
    sink: Heard,
    patience: Patience = QUICK,
    name: str = "a",
) -> AsyncIterator[None]:
    """Keep a level inside the block."""
    entry = LevelEntry(name=name, profile=profile.kind, port=port)
    async with asyncio.TaskGroup() as group:
        task = group.create_task(keep(entry, profile, sink, patience), name=f"keep {name}")
        try:
            yield
        finally:
            task.cancel()
