"""The service on a disk that stalls, and on one that another program holds."""

import asyncio
import sqlite3
import time
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
from shared.inputs import Command
from tests.daemon.bench import header


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
