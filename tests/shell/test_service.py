"""The service on a disk that stalls, and on one that another program holds."""

import asyncio
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.session.recording import read
from daemon.session.replay import replay, verify
from daemon.session.store import Store
from daemon.shell import service as module
from daemon.shell.clocks import SessionClock
from daemon.shell.counter import Counter
from daemon.shell.service import Service
from shared.errors import OutsideError
from shared.events import Event
from shared.inputs import Command, Input
from shared.view import View
from tests.daemon.bench import header

Syncing = Callable[[], None]


def serving(path: Path) -> Service:
    head = header()
    return Service(Engine(head), Store.create(path, head), SessionClock())


async def held(service: Service) -> None:
    """Wait until the recorder says that it waits."""
    async with asyncio.timeout(30):
        while not service.store.held:  # noqa: ASYNC110 - told by a thread, not by an event
            await asyncio.sleep(0.01)


async def test_a_disk_that_stalls_is_a_sentence_and_what_was_told_is_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "COMMIT_WITHIN_S", 0.3)
    service = serving(tmp_path / "a.session")
    commit = service.store.commit

    def stalls(*what: object) -> None:
        commit(*what)  # type: ignore[arg-type]
        if service.desk.newest > 2:
            time.sleep(1.5)

    monkeypatch.setattr(service.store, "commit", stalls)
    seen = 0

    async def face(desk: Counter) -> None:
        nonlocal seen
        async for event in desk.events(0):
            seen = event.n
            if event.n == 2:
                desk.post(Command("a", "test", 99, "note", {"text": "one"}))
                desk.post(Command("b", "test", 99, "note", {"text": "two"}))
            if event.n == 4:
                desk.post(Command("c", "test", 99, "note", {"text": "three"}))

    with pytest.raises(ExceptionGroup) as caught:
        await service.run([], face)
    assert caught.group_contains(OutsideError, match="has not answered for 0.3 s")
    recording = read(tmp_path / "a.session")
    assert len(recording.events) >= seen
    assert verify(recording, replay(recording)).agrees


async def test_the_picture_is_drawn_while_the_disk_works_and_told_after_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    service = serving(tmp_path / "a.session")
    drawn, told_too_soon = threading.Event(), []
    draw, commit = Engine.view, service.store.commit

    def watched(engine: Engine, now_ns: int | None = None) -> View:
        view = draw(engine, now_ns)
        if view.seen >= 3:
            drawn.set()
        return view

    def works(inputs: list[Input], events: list[Event], reach_ns: int, syncing: Syncing) -> None:
        if any(event.n == 3 for event in events):
            syncing()
            assert drawn.wait(10.0), "the disk works, and nobody draws"
            told_too_soon.extend(service.desk.since(2))
        commit(inputs, events, reach_ns, syncing)

    monkeypatch.setattr(Engine, "view", watched)
    monkeypatch.setattr(service.store, "commit", works)

    async def face(desk: Counter) -> None:
        async for event in desk.events(0):
            if event.n == 2:
                desk.post(Command("a", "test", 99, "note", {"text": "one"}))
            if event.n == 3:
                assert desk.view.seen >= 3
                return

    await service.run([], face)
    assert not told_too_soon


async def test_the_job_goes_on_when_another_program_lets_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "COMMIT_WITHIN_S", 0.2)
    service = serving(tmp_path / "a.session")
    other = sqlite3.connect(tmp_path / "a.session", isolation_level=None)
    words = []

    async def face(desk: Counter) -> None:
        async for event in desk.events(0):
            words.append(event.body.event)
            if event.n == 2:
                other.execute("BEGIN EXCLUSIVE")
                desk.post(Command("a", "test", 99, "note", {"text": "one"}))
                await held(service)
                await asyncio.sleep(0.6)  # longer than a disk may take
                other.execute("ROLLBACK")
            if event.body.event == "answered":
                return

    await service.run([], face)
    other.close()
    assert words == ["opened", "step", "noted", "answered"]
    recording = read(tmp_path / "a.session")
    assert [event.body.event for event in recording.events] == words


async def test_that_it_is_held_is_seen_and_then_no_more(tmp_path: Path) -> None:
    service = serving(tmp_path / "a.session")
    other = sqlite3.connect(tmp_path / "a.session", isolation_level=None)
    seen: list[tuple[str, ...]] = []

    async def face(desk: Counter) -> None:
        async for view in desk.views():
            if view.notices not in seen[-1:]:
                seen.append(view.notices)
            if view.seen == 2 and seen == [()]:
                other.execute("BEGIN EXCLUSIVE")
                desk.post(Command("a", "test", 99, "note", {"text": "one"}))
                await held(service)
            elif view.notices:
                assert view.seen == 2  # what is not recorded is not told
                if other.in_transaction:
                    other.execute("ROLLBACK")
            elif len(seen) == 3:
                return

    await asyncio.wait_for(service.run([], face), 30)
    other.close()
    [before, [words], after] = seen
    assert (before, after) == ((), ())
    assert "a.session is held by another program" in words


async def test_that_the_file_went_away_is_seen(tmp_path: Path) -> None:
    service = serving(tmp_path / "a.session")
    words: tuple[str, ...] = ()

    async def face(desk: Counter) -> None:
        nonlocal words
        (tmp_path / "a.session").unlink()
        desk.post(Command("a", "test", 99, "note", {"text": "one"}))
        async for view in desk.views():
            words = view.notices
            if view.seen == 4 and words:
                return

    await asyncio.wait_for(service.run([], face), 30)
    assert "was deleted or replaced" in words[0]
    assert len(read(service.store.path).events) == 4


async def test_a_disk_that_does_not_answer_is_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "SLOW_S", 0.5)
    service = serving(tmp_path / "a.session")
    commit, answers = service.store.commit, threading.Event()

    def stalls(*what: object) -> None:
        if service.desk.newest:
            answers.wait(30)
        commit(*what)  # type: ignore[arg-type]

    monkeypatch.setattr(service.store, "commit", stalls)

    async def face(desk: Counter) -> None:
        desk.post(Command("a", "test", 99, "note", {"text": "one"}))
        async for view in desk.views():
            if view.notices:
                assert "does not answer" in view.notices[0]
                answers.set()
            elif answers.is_set():
                return

    await asyncio.wait_for(service.run([], face), 30)


async def test_a_disk_that_never_answers_lets_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The record's own thread hangs for good: the service ends, and so does the process."""
    monkeypatch.setattr(module, "CLOSE_WITHIN_S", 0.5)
    service = serving(tmp_path / "a.session")
    answers = threading.Event()
    monkeypatch.setattr(service.store, "close", lambda: answers.wait(30))

    async def face(desk: Counter) -> None:
        pass

    with pytest.raises(OutsideError, match="has not answered"):
        await service.run([], face)
    answers.set()
    assert service.store.path.exists()


async def test_leaving_does_not_wait_for_a_program_that_never_lets_go(tmp_path: Path) -> None:
    service = serving(tmp_path / "a.session")
    other = sqlite3.connect(tmp_path / "a.session", isolation_level=None)

    async def face(desk: Counter) -> None:
        async for event in desk.events(0):
            if event.n == 2:
                other.execute("BEGIN EXCLUSIVE")
                desk.post(Command("a", "test", 99, "note", {"text": "one"}))
                await held(service)
                return

    with pytest.raises(OutsideError, match="held by another program"):
        await asyncio.wait_for(service.run([], face), 30)
    other.execute("ROLLBACK")
    other.close()
    recording = read(tmp_path / "a.session")
    assert verify(recording, replay(recording)).agrees
