"""The recorder tells as soon as a commit is on the disk; what tidies the file up comes after."""

import asyncio
import threading
from pathlib import Path

from daemon.session.store import Store
from daemon.shell.recorder import MOST_UNTIDY, Recorder
from tests.daemon.bench import Person, header


class Untidy(Store):
    """A session whose journal cannot be moved into the file until somebody lets it."""

    let = threading.Event()

    def settle(self) -> None:
        """Wait."""
        assert self.let.wait(10.0)
        super().settle()


class Noted(Store):
    """A session that notes how many commits stood in its journal when they were moved."""

    begins = threading.Event()
    tidy = threading.Event()
    stands = 0
    moved: list[int]

    def commit(self, *what: object) -> None:
        """Wait until everything was asked for; count it."""
        assert self.begins.wait(10.0)
        super().commit(*what)  # type: ignore[arg-type]
        self.stands += 1

    def settle(self) -> None:
        """Note how many; say when one is moved by itself."""
        super().settle()
        self.moved.append(self.stands)
        if self.stands == 1:
            self.tidy.set()
        self.stands = 0


async def test_commits_that_follow_each_other_are_moved_together_and_the_last_by_itself(
    tmp_path: Path,
) -> None:
    store = Noted.create(tmp_path / "a.session", header())
    store.moved = []
    recorder = Recorder(store)
    for t_ns in range(2 * MOST_UNTIDY + 1):
        recorder.write([], [], t_ns)
    store.begins.set()
    assert await asyncio.to_thread(store.tidy.wait, 10.0), "the last commit stays in the journal"
    async with asyncio.timeout(10.0):
        await asyncio.wrap_future(recorder.close())
    assert store.moved == [MOST_UNTIDY, MOST_UNTIDY, 1]


async def test_nobody_waits_until_a_commit_is_out_of_the_journal(tmp_path: Path) -> None:
    person = Person(header())
    person.press("done")
    store = Untidy.create(tmp_path / "a.session", person.header)
    recorder = Recorder(store)
    async with asyncio.timeout(10.0):
        asked = recorder.write(person.inputs, person.events, person.t_ns)
        await asyncio.wrap_future(asked)
        store.let.set()
        await asyncio.wrap_future(recorder.close())
    assert not (tmp_path / "a.session-wal").exists()
