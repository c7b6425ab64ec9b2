"""The service: clocks, tasks and queues round the engine, and nothing of the job itself.

    links -> Inbox -> engine -> session file -> Counter (the Desk) -> faces

An event is announced only after it is committed together with every input before it.
"""

import asyncio
import logging
import threading
import time
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Literal, cast

from daemon.core.engine import Engine
from daemon.session.store import HeldError, Store
from daemon.shell.clocks import SessionClock, WallWatch, boot_id, wall
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from shared.errors import OutsideError
from shared.events import Event
from shared.inputs import NS, Clock, Input

log = logging.getLogger(__name__)

VIEW_EVERY_NS = NS // 20
"""A view is drawn this often, and with every event: also when nothing arrives, for ages move on.
However many chunks come between, nobody is woken for them."""
COMMIT_EVERY_NS = NS
COMMIT_WITHIN_S = 30.0
AGAIN_S = 0.05
"""How long to wait before asking again for a file that another program holds."""
LEAVING_TRIES = 20
CLOSE_WITHIN_S = 10.0

Face = Callable[[Counter], Awaitable[None]]
"""Runs until its person leaves; given the Desk and nothing else."""
Link = Callable[[Inbox], Awaitable[None]]
"""Runs for ever; puts what it hears into the Inbox."""


@dataclass(slots=True)
class Service:
    """One session being run.

    Attributes:
        engine: fresh, or rebuilt from a recording.
        store: where everything is recorded.
        clock: session time.
        before: events that are already committed.
    """

    engine: Engine
    store: Store
    clock: SessionClock
    before: list[Event] = field(default_factory=list)
    last_ns: int = -1
    inbox: Inbox = field(init=False)
    desk: Counter = field(init=False)
    _pending: list[Input] = field(init=False, default_factory=list)
    _committed_ns: int = field(init=False, default=0)
    _drawn_ns: int = field(init=False, default=-VIEW_EVERY_NS)
    _leaving: threading.Event = field(init=False, default_factory=threading.Event)

    def __post_init__(self) -> None:
        self.inbox = Inbox(self.clock, self.last_ns)
        self.desk = Counter(self.inbox, self.before, self.engine.view())
        if self.before:
            self.inbox.put(Clock(wall(), boot_id(), "resume"))

    async def run(self, links: Sequence[tuple[str, Link]], face: Face) -> None:
        """Run until the job is finished or the face leaves.

        links: by name, for their tasks. face: returns when its person leaves, or, once the
        session has its summary, when it has shown that.

        Raises:
            OutsideError: the disk fails; everything committed until then is safe.
        """
        with ThreadPoolExecutor(1, "recorder") as recorder:
            try:
                await self._run(links, face, recorder)
                self._leaving.set()
                await self._commit(recorder, [], self._committed_ns)
            finally:
                self._leaving.set()
                await asyncio.get_running_loop().run_in_executor(recorder, self.store.close)

    async def _run(
        self, links: Sequence[tuple[str, Link]], face: Face, recorder: ThreadPoolExecutor
    ) -> None:
        async with asyncio.TaskGroup() as group:
            fold = group.create_task(self._fold(recorder), name="fold")
            shown = group.create_task(_run(face(self.desk)), name="face")
            others = [
                group.create_task(_run(link(self.inbox)), name=f"link {name}")
                for name, link in links
            ]
            others.append(group.create_task(self._watch_wall(), name="wall clock"))
            await asyncio.wait({fold, shown}, return_when=asyncio.FIRST_COMPLETED)
            if fold.done() and not fold.exception():
                await asyncio.wait({shown}, timeout=CLOSE_WITHIN_S)
            for task in (fold, shown, *others):
                task.cancel()

    async def _fold(self, recorder: ThreadPoolExecutor) -> None:
        """The one way for data: inputs in, events out, committed, told."""
        while not self.engine.finished:
            items = await self.inbox.take(self._patience_s())
            events: list[Event] = []
            for item in items:
                self._pending.append(item)
                events += self.engine.feed(item)
            now = self.inbox.now()
            events += self.engine.advance(now)
            if events or now - self._committed_ns > COMMIT_EVERY_NS:
                await self._commit(recorder, events, now)
            if events or now - self._drawn_ns >= VIEW_EVERY_NS:
                self._drawn_ns = now
                await self.desk.tell(events, self.engine.view(now))
        await self.desk.close()

    def _patience_s(self) -> float:
        """Until the next deadline or the next view, whichever comes first."""
        next_ns = self._drawn_ns + VIEW_EVERY_NS
        if (due := self.engine.next_due) is not None:
            next_ns = min(next_ns, due)
        return max(0.0, (next_ns - self.inbox.now()) / NS)

    async def _commit(
        self, recorder: ThreadPoolExecutor, events: list[Event], reach_ns: int
    ) -> None:
        """Write what is pending with the events it caused; the loop goes on meanwhile."""
        inputs, self._pending = self._pending, []
        self._committed_ns = max(reach_ns, *(item.t_ns for item in inputs[-1:]), 0)
        written = asyncio.get_running_loop().run_in_executor(
            recorder, self._write, inputs, events, self._committed_ns
        )
        while not written.done():
            await asyncio.wait({written}, timeout=COMMIT_WITHIN_S)
            if not (written.done() or self.store.held):
                raise OutsideError(
                    f"the disk has not answered for {COMMIT_WITHIN_S:g} s: {self.store.path}",
                    "see to the disk, then start again: everything told is on it",
                )
        written.result()

    def _write(self, inputs: list[Input], events: list[Event], reach_ns: int) -> None:
        """Commit, in the recorder's thread; wait for a program that holds the file."""
        tries_left = LEAVING_TRIES
        while True:
            try:
                self.store.commit(inputs, events, reach_ns)
            except HeldError:
                tries_left -= self._leaving.is_set()
                if tries_left < 0:
                    raise
                time.sleep(AGAIN_S)
            else:
                return

    async def _watch_wall(self) -> None:
        watch = WallWatch()
        while True:
            await asyncio.sleep(1.0)
            change = watch.changed()
            if change is not None:
                reason = cast(Literal["step", "suspend"], change[0])
                log.warning("%s of %.1f s", *change)
                self.inbox.put(Clock(wall(), boot_id(), reason))


async def _run(work: Awaitable[None]) -> None:
    await work
