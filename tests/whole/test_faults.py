"""Kills, power cuts and mutants: a smaller draw of what docs/faults.md states.

Each is shown to be able to fail: with a fault planted, the same count finds it.
"""

import sys

import pytest

from benchmarks import faults, kills, power, strangers
from daemon.session import store
from daemon.session.store import Store

pytestmark = pytest.mark.long

if sys.platform == "win32":
    collect_ignore = ["test_faults.py"]


def test_nothing_told_is_lost_by_a_power_cut() -> None:
    found = power.run(80, 3)
    assert (found.count, found.wrong) == (80, [])


def test_a_writer_that_does_not_wait_for_the_disk_is_caught(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    writable = store.writable

    def hasty(path: object) -> object:
        database = writable(path)  # type: ignore[arg-type]
        database.execute("PRAGMA synchronous = OFF")
        return database

    monkeypatch.setattr(store, "writable", hasty)
    assert power.run(40, 3).wrong


def test_a_writer_that_tells_before_it_commits_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    commit = Store.commit
    waiting: list[object] = []

    def late(self: Store, *what: object) -> None:
        waiting.append(what)
        if len(waiting) > 1:
            commit(self, *waiting.pop(0))  # type: ignore[misc]

    monkeypatch.setattr(Store, "commit", late)
    assert power.run(20, 3).wrong


def test_a_mutant_of_a_session_is_a_sentence() -> None:
    came = strangers.sessions(900, 3)
    assert (came.count, came.escaped) == (900, [])
    assert {"refused", "damaged", "read, agrees", "read, differs"} <= came.outcomes.keys()


def test_a_mutant_of_a_command_line_is_a_sentence() -> None:
    came = strangers.command_lines(10_000, 3)
    assert (came.count, came.escaped) == (10_000, [])
    assert came.outcomes["executed"] > 1000
    assert not came.outcomes["named at length"]


def test_what_escapes_a_mutant_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(strangers, "carried", lambda *_: 1 / 0)
    assert strangers.sessions(30, 3).escaped


def test_a_kill_loses_nothing_that_was_told() -> None:
    came = kills.run(4, 3, 3, 3)
    assert (came.count, came.wrong) == (10, [])
    assert came.lines > 20


def test_a_row_of_the_table_is_what_was_run() -> None:
    new, good = faults.row("lines", [200], 3)
    assert good
    assert "`python -m benchmarks.strangers lines 200 3`" in new
    page = f"Before.\n\n{faults.HEAD}\n| --- | --- | --- |\n| another | row | stays |\n\nAfter.\n"
    once = faults.written(page, {"lines": new})
    assert once == page.replace("stays |\n", f"stays |\n{new}\n")
    assert faults.written(once, {"lines": new}) == once
