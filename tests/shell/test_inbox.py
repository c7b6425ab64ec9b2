"""The inbox: nothing that arrived is overlooked, and a cancel always gets through."""

import asyncio
import itertools

import pytest

from daemon.shell.inbox import Inbox
from shared.inputs import Bytes, Clock, Input, Link


def counting() -> Inbox:
    clock = itertools.count()
    return Inbox(lambda: next(clock))


@pytest.mark.parametrize("arrives_s", [0.004, 0.008])
async def test_what_arrives_as_the_time_runs_out_is_returned(
    arrives_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both timers are due in the same turn of the loop: the item is there, and so is the time-out."""
    inbox, loop = counting(), asyncio.get_running_loop()
    now_s = [0.0]
    monkeypatch.setattr(loop, "time", lambda: now_s[0])
    loop.call_later(arrives_s, inbox.bytes, "chord", 0, b"12.3\n")
    loop.call_soon(now_s.__setitem__, 0, 1.0)  # it runs once `take` waits
    items = await inbox.take(0.006)
    assert [type(item) for item in items] == [Bytes]
    assert await inbox.take(0.0) == []


async def test_a_cancel_is_obeyed_though_something_arrived_meanwhile() -> None:
    inbox = counting()
    async with asyncio.TaskGroup() as group:
        taking = group.create_task(inbox.take(10.0), name="take")
        await asyncio.sleep(0)
        inbox.bytes("chord", 0, b"12.3\n")
        taking.cancel()
        with pytest.raises(asyncio.CancelledError):
            await taking
    assert len(await inbox.take(0.0)) == 1  # nothing was lost by it


async def test_an_empty_inbox_returns_nothing_after_its_time() -> None:
    assert await counting().take(0.0) == []


async def test_stamps_are_strictly_increasing_and_start_after_the_last() -> None:
    inbox = Inbox(lambda: 5, last_ns=7)
    inbox.up("chord", "port")
    inbox.down("chord", "unplugged")
    assert [item.t_ns for item in await inbox.take(0.0)] == [8, 9]
    assert inbox.now() == 9
    inbox.up("chord", "port")
    [item] = await inbox.take(0.0)
    assert item == Link("chord", "up", "", "port", t_ns=10)


async def test_what_the_clocks_say_comes_before_what_arrives_after_it() -> None:
    changes: list[Input | None] = [None, Clock("", "", "suspend"), None]
    inbox = Inbox(lambda: 5, changed=lambda: changes.pop(0))
    for data in (b"1", b"2", b"3"):
        inbox.bytes("chord", 0, data)
    kinds = [(type(item), item.t_ns) for item in await inbox.take(0.0)]
    assert kinds == [(Bytes, 5), (Clock, 6), (Bytes, 7), (Bytes, 8)]
