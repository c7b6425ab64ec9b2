"""The Desk of this process: who waits for what, and how seldom anyone is woken."""

import asyncio
from contextlib import suppress
from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.session.store import Store
from daemon.shell.clocks import SessionClock
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Service
from shared.events import Answered, Event, Noted
from shared.inputs import Command
from shared.view import View
from tests.daemon.bench import header

CHUNKS = 400


async def test_who_waits_for_events_is_not_woken_by_views() -> None:
    view = Engine(header()).view()
    desk = Counter(Inbox(lambda: 0), [], view)
    asked = 0
    more_events = desk._more_events

    def counted(at: int) -> bool:
        nonlocal asked
        asked += 1
        return more_events(at)

    desk._more_events = counted  # type: ignore[method-assign]
    heard: list[Event] = []

    async def listen() -> None:
        heard.extend([event async for event in desk.events(0)])

    listening = asyncio.get_running_loop().create_task(listen())
    await asyncio.sleep(0)
    for _ in range(50):
        await desk.tell([], view)
        await asyncio.sleep(0)
    assert asked == 1
    await desk.tell([Event(1, 0, Noted("note", "now"))], view)
    await desk.close()
    await listening
    assert [event.n for event in heard] == [1]


async def test_whoever_asked_hears_the_answer_before_it_is_an_event_to_all() -> None:
    view = Engine(header()).view()
    desk = Counter(Inbox(lambda: 0), [], view)
    heard: list[str] = []

    async def ask() -> None:
        heard.append((await desk.send(Command("a", "test", 0, "note"))).say)

    async def listen() -> None:
        heard.extend([f"event {event.n}" async for event in desk.events(0)])

    async with asyncio.timeout(10.0), asyncio.TaskGroup() as group:
        group.create_task(listen(), name="listening")
        group.create_task(ask(), name="asking")
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        await desk.tell([Event(1, 0, Answered("a", "test", "done", "answer"))], view)
        await desk.close()
    assert heard == ["answer", "event 1"]


async def test_chunks_that_say_nothing_draw_no_view_each(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = header()
    service = Service(Engine(head), Store.create(tmp_path / "a.session", head), SessionClock())
    drawn, draw = 0, Engine.view

    def counted(engine: Engine, now_ns: int | None = None) -> View:
        nonlocal drawn
        drawn += 1
        return draw(engine, now_ns)

    monkeypatch.setattr(Engine, "view", counted)

    async def link(inbox: Inbox) -> None:
        while service.desk.newest < 2:  # noqa: ASYNC110 - until the session is open
            await asyncio.sleep(0.01)
        for _ in range(CHUNKS):
            inbox.bytes(head.job.level[0].name, 0, b"1")  # a part of a line
            await asyncio.sleep(0)
            await asyncio.sleep(0)
        await asyncio.sleep(0.2)
        leave.set()
        with suppress(asyncio.CancelledError):
            await asyncio.Event().wait()

    leave = asyncio.Event()
    views = 0

    async def face(desk: Counter) -> None:
        nonlocal views
        async for _ in desk.views():
            views += 1
            if leave.is_set():
                return

    began = service.inbox.now()
    await service.run([("a", link)], face)
    # 20 a second, one for each of the few events, and the first
    assert drawn <= 20 * (service.inbox.now() - began) / 1e9 + len(service.desk.since(0)) + 2
    assert views >= 1
