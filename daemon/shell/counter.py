"""The Desk of this process: what every face is given."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import Protocol

from shared.desk import Desk
from shared.events import Answered, Event, Summary
from shared.inputs import Command
from shared.view import View

VIEW_EVERY_S = 0.02
"""Views are drawn twenty times a second and with every event; a face is shown no burst of more than 50."""
ANSWER_WITHIN_S = 5.0


class Asked(Protocol):
    """Where commands go."""

    def put(self, item: Command, /) -> object:
        """Take one; its answer is an event to come."""
        ...


class Nobody:
    """Where commands to a recording go: nobody answers."""

    def put(self, _: Command, /) -> object:
        """Take it, and do nothing."""
        return None


class Counter(Desk):
    """Views, committed events, and a way to ask; one for all faces of a process.

    Attributes:
        closed: no more events will come.
        answered: how many commands have been answered.
    """

    def __init__(self, inbox: Asked, before: list[Event], view: View) -> None:
        self._inbox = inbox
        self._events = list(before)
        self._view = view
        self._views = 1
        self._told, self._shown = asyncio.Condition(), asyncio.Condition()
        """Events are seldom and views are many: who waits for one is not woken by the other."""
        self._waiting: dict[str, asyncio.Future[Answered]] = {}
        self.closed = False
        self.answered = 0

    async def tell(self, events: list[Event], view: View) -> None:
        """Announce committed events and the newest view."""
        self._events += events
        self._view = view
        self._views += 1
        for event in events:
            if isinstance(event.body, Answered):
                self.answered += 1
                self.answer(event.body)  # whoever asked hears it first
        if events:
            await _wake(self._told)  # what is remembered of events is what a view is heard with
        await _wake(self._shown)

    def answer(self, answered: Answered) -> None:
        """Answer whoever waits for it; by itself where a command was refused on its way."""
        waiting = self._waiting.pop(answered.command, None)
        if waiting is not None and not waiting.done():
            waiting.set_result(answered)

    async def notice(self, notices: tuple[str, ...]) -> None:
        """Show what is wrong with the recording, beside what was told last."""
        if notices != self._view.notices:
            await self.tell([], replace(self._view, notices=notices))

    async def close(self) -> None:
        """No more events will come."""
        self.closed = True
        await _wake(self._shown)
        await _wake(self._told)

    @property
    def newest(self) -> int:
        """Number of the newest announced event."""
        return self._events[-1].n if self._events else 0

    @property
    def view(self) -> View:
        """The newest view."""
        return self._view

    def since(self, after: int) -> list[Event]:
        """Return the announced events with n > `after`."""
        return self._events[after:]

    async def views(self) -> AsyncIterator[View]:
        """Yield the newest view, at most 50 times a second."""
        shown = 0
        while True:
            async with self._shown:
                await self._shown.wait_for(partial(self._newer_view, shown))
                if self._views == shown:
                    return
                shown, view = self._views, self._view
            yield view
            await asyncio.sleep(VIEW_EVERY_S)

    async def events(self, after: int) -> AsyncIterator[Event]:
        """Yield every event with n > `after`, in order, until the session's summary."""
        at = after
        while True:
            async with self._told:
                await self._told.wait_for(partial(self._more_events, at))
                ready = self._events[at:]
            if not ready:
                return
            for event in ready:
                yield event
                if isinstance(event.body, Summary):
                    return
            at += len(ready)

    def _newer_view(self, shown: int) -> bool:
        return self._views > shown or self.closed

    def _more_events(self, at: int) -> bool:
        return len(self._events) > at or self.closed

    def post(self, command: Command) -> None:
        """Put a command in without waiting: its answer is an event like any other."""
        self._inbox.put(command)

    async def send(self, command: Command) -> Answered:
        """Put a command in and wait for its answer.

        Raises:
            TimeoutError: no answer within 5 s: the service is going down.
        """
        future = asyncio.get_running_loop().create_future()
        self._waiting[command.id] = future
        self._inbox.put(command)
        try:
            async with asyncio.timeout(ANSWER_WITHIN_S):
                answer: Answered = await future
                return answer
        finally:
            with suppress(KeyError):
                del self._waiting[command.id]


async def _wake(waiting: asyncio.Condition) -> None:
    async with waiting:
        waiting.notify_all()
