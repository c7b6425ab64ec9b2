"""What every Desk keeps, whichever way its face is reached (`shared/desk.py`)."""

import asyncio
from collections.abc import Callable
from contextlib import AsyncExitStack
from pathlib import Path

import pytest

from daemon.faces.addresses import SOCKET, Address
from daemon.faces.attached import attached
from daemon.shell.counter import Counter
from shared.desk import Desk
from shared.inputs import Command
from tests.faces.hosts import KINDS, REAL_KINDS, VERSION, VIEW, Kind, Service, listening

PATIENCE_S = 20.0
"""A test fails after this long without what it waits for; never a measure of speed."""


@pytest.fixture(
    params=[*KINDS, *(pytest.param(name, marks=pytest.mark.real) for name in REAL_KINDS)]
)
def kind(request: pytest.FixtureRequest) -> Kind:
    return {**KINDS, **REAL_KINDS}[request.param]


def command(number: int = 1, client: str = "face") -> Command:
    return Command(f"command {number}", client, 0, "take")


async def heard(desk: Desk, count: int, after: int = 0) -> list[int]:
    """Return the numbers of the next events."""
    numbers: list[int] = []
    async with asyncio.timeout(PATIENCE_S):
        async for event in desk.events(after):
            numbers.append(event.n)
            if len(numbers) == count:
                break
    return numbers


async def until(met: Callable[[], bool]) -> None:
    async with asyncio.timeout(PATIENCE_S):
        while not met():  # noqa: ASYNC110 - what it waits for is of several kinds
            await asyncio.sleep(0.005)


async def test_who_comes_late_hears_everything_from_the_first(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    await service.say(300)
    async with kind(service, tmp_path) as desk:
        assert await heard(desk, 300) == [*range(1, 301)]
        await service.say(5)
        assert await heard(desk, 5, after=300) == [*range(301, 306)]


async def test_who_comes_late_sees_the_present_state(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    await service.show(say="Torque in star order.", spread_deg=0.125)
    async with kind(service, tmp_path) as desk:
        async with asyncio.timeout(PATIENCE_S):
            view = await anext(aiter(desk.views()))
        assert view == service.desk.view
        assert view.say == "Torque in star order."


async def test_events_are_heard_in_order_while_they_come(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    async with kind(service, tmp_path) as desk, asyncio.TaskGroup() as group:
        listener = group.create_task(heard(desk, 500), name="listener")
        for _ in range(50):
            await service.say(10)
            await service.show()
        assert await listener == [*range(1, 501)]


async def test_a_slow_reader_skips_views_and_sees_the_newest(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    async with kind(service, tmp_path) as desk:
        for _ in range(200):
            await service.show()
        seen = 0
        async with asyncio.timeout(PATIENCE_S):
            async for view in desk.views():
                seen += 1
                if view.t_ns == 200:
                    break
        assert seen < 50


async def test_a_command_is_answered_to_whoever_asked(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    async with kind(service, tmp_path) as desk:
        async with asyncio.timeout(PATIENCE_S):
            answers = [await desk.send(command(n)) for n in (1, 2)]
        assert [(each.command, each.client, each.result) for each in answers] == [
            ("command 1", "face", "done"),
            ("command 2", "face", "done"),
        ]
        assert [each.args for each in service.asked] == [{}, {}]


async def test_a_command_arrives_as_it_was_sent(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    sent = Command("7", "face", 12, "withdraw", {"id": 3, "reason": "wrong °"}, until=99)
    async with kind(service, tmp_path) as desk, asyncio.timeout(PATIENCE_S):
        await desk.send(sent)
    assert service.asked == [sent]


async def test_a_repeated_id_gets_the_same_answer(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    async with kind(service, tmp_path) as desk, asyncio.timeout(PATIENCE_S):
        assert await desk.send(command()) == await desk.send(command())


async def test_no_answer_is_an_error_after_a_while(
    kind: Kind, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    service = Service()
    service.silent = True
    monkeypatch.setattr("daemon.shell.counter.ANSWER_WITHIN_S", 0.2)
    async with kind(service, tmp_path) as desk, asyncio.timeout(PATIENCE_S):
        with pytest.raises(TimeoutError):
            await desk.send(command())


async def test_it_ends_when_the_service_closes(kind: Kind, tmp_path: Path) -> None:
    service = Service()
    await service.say(3)
    async with kind(service, tmp_path) as desk:
        assert await heard(desk, 3) == [1, 2, 3]
        await service.desk.close()
        async with asyncio.timeout(PATIENCE_S):
            assert [event.n async for event in desk.events(3)] == []
            await until(lambda: desk.closed)


async def test_faces_do_not_see_each_other_and_see_the_same(tmp_path: Path) -> None:
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with (
        listening(service, address),
        attached(address, VERSION) as one,
        attached(address, VERSION) as other,
    ):
        async with asyncio.timeout(PATIENCE_S):
            await one.send(command(1, "one"))
            await other.send(command(2, "other"))
        assert await heard(one, 2) == await heard(other, 2) == [1, 2]


async def test_a_service_that_went_away_is_said_and_no_level_is_blamed(tmp_path: Path) -> None:
    """What a face knows of the levels grows old then: it looks as if a wire were out."""
    address = Address(tmp_path / f"desk{SOCKET}")
    async with AsyncExitStack() as face:
        async with listening(Service(), address):
            desk = await face.enter_async_context(attached(address, VERSION))
            assert not desk.view.notices
        await until(lambda: bool(desk.view.notices))
        assert "the service went away" in desk.view.notices[0]
        back = Service()
        await back.show(say="Torque in star order.")
        async with listening(back, address):
            await until(lambda: desk.view.say == "Torque in star order.")
            assert not desk.view.notices


async def test_a_desk_shows_the_service_s_picture_before_it_has_one_of_its_own() -> None:
    assert Counter(Service(), [], VIEW).view == VIEW
