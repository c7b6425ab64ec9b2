"""The service: clocks, tasks and queues round the engine, and nothing of the job itself.

    links -> Inbox -> engine -> session file -> Counter (the Desk) -> faces

An event is announced only after it is committed together with every input before it.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field, replace

from daemon.core.engine import Engine
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock, WallWatch, boot_id, wall
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.recorder import Recorder
from shared.errors import OutsideError
from shared.events import Event
from shared.inputs import NS, Clock, Input
from shared.view import View

log = logging.getLogger(__name__)

VIEW_EVERY_NS = NS // 20
"""A view is drawn this often, and with every event: also when nothing arrives, for ages move on.
However many chunks come between, nobody is woken for them."""
COMMIT_EVERY_NS = NS
COMMIT_WITHIN_S = 30.0
SLOW_S = 3.0
"""A disk that takes longer for a commit is spoken of."""
ASK_DISK_S = 0.25
CLOSE_WITHIN_S = 10.0
WALL_EVERY_S = 0.25

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
    _wall: WallWatch = field(init=False, default_factory=WallWatch)

    def __post_init__(self) -> None:
        self.inbox = Inbox(self.clock, self.last_ns, self._clock_change)
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
        recorder = Recorder(self.store)
        self._wall.changed()  # what happened before this is of no session
        try:
            await self._run(links, face, recorder)
            recorder.leave()
            await self._commit(recorder, [], self._committed_ns)
        finally:
            await self._close(recorder)

    async def _run(self, links: Sequence[tuple[str, Link]], face: Face, recorder: Recorder) -> None:
        async with asyncio.TaskGroup() as group:
            fold = group.create_task(self._fold(recorder), name="fold")
            shown = group.create_task(_run(face(self.desk)), name="face")
            others = [
                group.create_task(_run(link(self.inbox)), name=f"link {name}")
                for name, link in links
            ]
            others.append(group.create_task(self._watch_wall(), name="wall clock"))
            await asyncio.wait({fold, shown}, return_when=asyncio.FIRST_COMPLETED)
            for task in others:
                task.cancel()
            if fold.done() and not fold.exception():
                await asyncio.wait({shown})  # the end stays on a screen until its person leaves
            for task in (fold, shown):
                task.cancel()

    async def _fold(self, recorder: Recorder) -> None:
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
                await self._tell(events, await self._commit(recorder, events, now))
            elif now - self._drawn_ns >= VIEW_EVERY_NS:
                await self._tell([], self.engine.view(now))
        await self.desk.close()

    async def _tell(self, events: list[Event], view: View) -> None:
        self._drawn_ns = view.t_ns
        await self.desk.tell(events, replace(view, notices=self.store.notices))

    def _patience_s(self) -> float:
        """Until the next deadline or the next view, whichever comes first."""
        next_ns = self._drawn_ns + VIEW_EVERY_NS
        if (due := self.engine.next_due) is not None:
            next_ns = min(next_ns, due)
        return max(0.0, (next_ns - self.inbox.now()) / NS)

    async def _commit(self, recorder: Recorder, events: list[Event], reach_ns: int) -> View:
        """Write what is pending with the events it caused; the loop goes on meanwhile.

        Returns:
            The picture after them, drawn while the disk works.
        """
        inputs, self._pending = self._pending, []
        self._committed_ns = max(reach_ns, *(item.t_ns for item in inputs[-1:]), 0)
        loop, drawn = asyncio.get_running_loop(), list[View]()

        def draw() -> None:
            drawn.append(self.engine.view(reach_ns))

        def syncing() -> None:
            with suppress(RuntimeError):  # the loop is closed: nobody looks any more
                loop.call_soon_threadsafe(draw)

        written = recorder.write(inputs, events, self._committed_ns, syncing)
        await self._patiently(written)
        written.result()
        return drawn[-1] if drawn else self.engine.view(reach_ns)

    async def _patiently(self, asked: Future[None]) -> None:
        """Wait for the recorder; say what it waits for."""
        waited_s = 0.0
        while not asked.done():
            with suppress(TimeoutError):
                async with asyncio.timeout(ASK_DISK_S):
                    await asyncio.wrap_future(asked)
                    return
            waited_s = 0.0 if self.store.held else waited_s + ASK_DISK_S
            if waited_s >= COMMIT_WITHIN_S:
                raise self._no_answer(COMMIT_WITHIN_S)
            await self.desk.notice(self.store.notices + _slow(waited_s))

    async def _close(self, recorder: Recorder) -> None:
        closed = asyncio.wrap_future(recorder.close())
        try:
            if not (await asyncio.wait({closed}, timeout=CLOSE_WITHIN_S))[0]:
                raise self._no_answer(CLOSE_WITHIN_S)
            closed.result()
        finally:
            closed.cancel()

    def _no_answer(self, seconds: float) -> OutsideError:
        return OutsideError(
            f"the disk has not answered for {seconds:g} s: {self.store.path}",
            "see to the disk, then start again: everything told is on it",
        )

    async def _watch_wall(self) -> None:
        while True:
            await asyncio.sleep(WALL_EVERY_S)
            self.inbox.look()

    def _clock_change(self) -> Clock | None:
        change = self._wall.changed()
        if change is None:
            return None
        log.warning("%s of %.1f s", *change)
        return Clock(wall(), boot_id(), change[0])


def _slow(waited_s: float) -> tuple[str, ...]:
    if waited_s < SLOW_S:
        return ()
    return ("the disk does not answer: nothing new is told until it does",)


async def _run(work: Awaitable[None]) -> None:
    await work
