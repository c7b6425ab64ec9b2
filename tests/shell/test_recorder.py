"""The recorder tells as soon as a commit is on the disk; what tidies the file up comes after."""

import asyncio
import threading
from pathlib import Path

from daemon.session.store import Store
from daemon.shell.recorder import Recorder
from tests.daemon.bench import Person, header


class Untidy(Store):
    """A session whose journal cannot be moved into the file until somebody lets it."""

    let = threading.Event()

    def settle(self) -> None:
        """Wait."""
        assert self.let.wait(10.0)
        super().settle()


async def test_nobody_waits_until_a_commit_is_out_of_the_journal(tmp_path: Path) -> None:
    person = Person(header())
    person.press("done")
    store = Untidy.create(tmp_path / "a.session", person.header)
    recorder = Recorder(store)
    async with asyncio.timeout(10.0):
        asked = recorder.write(person.inputs, person.events, person.t_ns)
        await asyncio.wrap_future(asked.done)
        store.let.set()
        await asyncio.wrap_future(recorder.close())
    assert not (tmp_path / "a.session-wal").exists()
