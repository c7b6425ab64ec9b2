"""Hostile Desks: they flood, fall silent, break off, never answer, answer stale."""

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field, replace

from shared.events import Answered, Event
from shared.inputs import Command
from shared.view import View


class HeldClock:
    """A clock that moves only when told."""

    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def agree(command: Command) -> Answered:
    return Answered(command.id, command.client, "done")


def stale(command: Command) -> Answered:
    return Answered(command.id, command.client, "stale")


def refuse(command: Command) -> Answered:
    return Answered(command.id, command.client, "refused", "the level is still in your hand")


@dataclass
class FakeDesk:
    """Gives what a test pushes; keeps every command it was sent."""

    answer: Callable[[Command], Answered] | None = agree
    sent: list[Command] = field(default_factory=list)
    _views: "asyncio.Queue[View | None]" = field(default_factory=asyncio.Queue)
    _events: "asyncio.Queue[Event | None]" = field(default_factory=asyncio.Queue)

    def push(self, view: View | None) -> None:
        self._views.put_nowait(view)

    def tell(self, *events: Event | None) -> None:
        for event in events:
            self._events.put_nowait(event)

    async def views(self) -> AsyncIterator[View]:
        while (view := await self._views.get()) is not None:
            yield view

    async def events(self, after: int) -> AsyncIterator[Event]:
        while (event := await self._events.get()) is not None:
            if event.n > after:
                yield event

    async def send(self, command: Command) -> Answered:
        self.sent.append(command)
        if self.answer is None:
            await asyncio.Event().wait()
            raise AssertionError
        return self.answer(command)


class FloodingDesk(FakeDesk):
    """While `start` is set, yields views without ever waiting, each one newer."""

    def __init__(self, first: View) -> None:
        super().__init__()
        self.first = first
        self.given = 0
        self.start = asyncio.Event()

    async def views(self) -> AsyncIterator[View]:
        while True:
            await self.start.wait()  # returns at once, without a switch, while it is set
            self.given += 1
            yield replace(self.first, t_ns=self.first.t_ns + self.given * 5_000_000)


class BreakingDesk(FakeDesk):
    """Fails in the middle of its views, as a lost connection would."""

    async def views(self) -> AsyncIterator[View]:
        async for view in super().views():
            yield view
        raise ConnectionResetError("the other side went away")
