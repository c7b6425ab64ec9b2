"""Faces that crash, freeze, talk nonsense or come from elsewhere; services that go away."""

import asyncio
import json
import stat
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest

from daemon.faces import addresses, wire
from daemon.faces import listening as ear
from daemon.faces.addresses import SOCKET, TCP, Address
from daemon.faces.attached import attached
from shared.errors import BadInputError, OutsideError
from shared.messages import LONGEST_LINE
from tests.faces.hosts import VERSION, Service, listening
from tests.faces.test_desk import PATIENCE_S, command, heard, until


@asynccontextmanager
async def stranger(
    address: Address, first: bytes = b""
) -> AsyncIterator[tuple[asyncio.StreamReader, asyncio.StreamWriter]]:
    """A bare connection."""
    reader, writer, _ = await addresses.connected(address, 1 << 20)
    try:
        writer.write(first)
        yield reader, writer
    finally:
        writer.close()


HELLO = wire.hello_line(wire.Hello(VERSION))


@pytest.mark.parametrize(
    "said",
    [
        b"GET / HTTP/1.1\r\nHost: x\r\n\r\n",
        b"\n",
        b"[]\n",
        b"\xff\xfe\n",
        b'{"hello": 2, "version": "test"}\n',
        b'{"hello": 1, "version": 3}\n',
        b'{"hello": 1, "version": "test", "after": -1}\n',
        b'{"hello": 1, "version": "other"}\n',
        b'{"hello": 1, "version": "test", "token": "guess"}\n',
        b"[" * (LONGEST_LINE - 10) + b"\n",
        b"x" * (2 * LONGEST_LINE),
        HELLO + b"take\n",
        HELLO + b'{"command": {"kind": "fly"}}\n',
        HELLO + b'{"command": {"kind": "name", "args": {"blade": 1e999}}}\n',
        HELLO + b'{"command": {"kind": "note", "args": {"text": "\\ud800"}}}\n',
        HELLO + b'{"command": {"kind": "take"}, "other": 1}\n',
    ],
)
async def test_nonsense_is_refused_with_a_reason_and_disturbs_nobody(
    said: bytes, tmp_path: Path
) -> None:
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with listening(service, address), attached(address, VERSION) as desk:
        async with stranger(address, said) as (reader, _), asyncio.timeout(PATIENCE_S):
            lines = [line async for line in reader]
        assert json.loads(lines[-1])["refused"]
        assert not service.asked
        async with asyncio.timeout(PATIENCE_S):
            await desk.send(command())
        assert await heard(desk, 1) == [1]


async def test_one_who_says_nothing_is_sent_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ear, "HELLO_S", 0.1)
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with listening(service, address), stranger(address) as (reader, _):
        async with asyncio.timeout(PATIENCE_S):
            assert await reader.read() == b""


async def test_one_who_reads_nothing_is_sent_away_and_delays_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ear, "STALLED_S", 0.3)
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    near = listening(service, address), attached(address, VERSION), stranger(address, HELLO)
    async with near[0], near[1] as desk, near[2] as (reader, _):
        reader._transport.pause_reading()  # type: ignore[attr-defined]
        await service.say(20_000)
        assert await heard(desk, 20_000) == [*range(1, 20_001)]
        await until(lambda: len(ear_tasks()) == 1)


def ear_tasks() -> list[asyncio.Task[object]]:
    return [task for task in asyncio.all_tasks() if task.get_name() == "attached face"]


async def test_one_who_crashes_leaves_nothing_behind(tmp_path: Path) -> None:
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with listening(service, address), attached(address, VERSION) as desk:
        async with stranger(address, HELLO) as (reader, writer):
            await reader.readline()
            writer.transport.abort()
        await service.say(3)
        assert await heard(desk, 3) == [1, 2, 3]
        await until(lambda: len(ear_tasks()) == 1)


async def test_so_many_faces_and_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ear, "MOST_FACES", 1)
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with listening(service, address), attached(address, VERSION):
        with pytest.raises(OutsideError, match="1 faces are attached already"):
            async with attached(address, VERSION):
                pass


async def test_another_version_is_told_so(tmp_path: Path) -> None:
    address = Address(tmp_path / f"desk{SOCKET}")
    async with listening(Service(), address):
        with pytest.raises(OutsideError, match="use the same"):
            async with attached(address, "another"):
                pass


async def test_a_broken_line_is_mended_and_no_event_is_missed(tmp_path: Path) -> None:
    service, address = Service(), Address(tmp_path / f"desk{SOCKET}")
    async with asyncio.TaskGroup() as group:
        async with listening(service, address):
            context = attached(address, VERSION)
            desk = await context.__aenter__()
            listener = group.create_task(heard(desk, 20), name="listener")
            await service.say(10)
            await until(lambda: desk.newest == 10)
        await service.say(5)
        async with listening(service, address):
            await service.say(5)
            assert await listener == [*range(1, 21)]
            await context.__aexit__(None, None, None)


async def test_a_service_that_stays_away_closes_the_desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.faces.attached.GIVEN_UP_S", 0.2)
    monkeypatch.setattr("daemon.faces.attached.AGAIN_S", 0.05)
    address = Address(tmp_path / f"desk{SOCKET}")
    async with listening(Service(), address):
        context = attached(address, VERSION)
        desk = await context.__aenter__()
    await until(lambda: desk.closed)
    await context.__aexit__(None, None, None)


async def test_another_session_at_the_same_address_is_not_the_same_desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("daemon.faces.attached.AGAIN_S", 0.05)
    address = Address(tmp_path / f"desk{SOCKET}")
    async with listening(Service(), address, "first"):
        context = attached(address, VERSION)
        desk = await context.__aenter__()
    other = Service()
    async with listening(other, address, "second"):
        await other.say(2)
        await until(lambda: desk.closed)
        assert desk.since(0) == []
        await context.__aexit__(None, None, None)


async def test_only_its_user_may_enter(tmp_path: Path) -> None:
    for suffix, token in ((SOCKET, ""), (TCP, "secret")):
        address = Address(tmp_path / f"desk{suffix}", token)
        async with listening(Service(), address):
            assert stat.S_IMODE(address.path.stat().st_mode) == 0o600
        assert not address.path.exists()


async def test_over_tcp_a_wrong_token_is_refused(tmp_path: Path) -> None:
    address = Address(tmp_path / f"desk{TCP}", "secret")
    async with listening(Service(), address):
        told = json.loads(address.path.read_text())
        assert told["host"] == "127.0.0.1"
        address.path.write_text(json.dumps({**told, "token": "guess"}))
        with pytest.raises(OutsideError, match="the token is wrong"):
            async with attached(Address(address.path), VERSION):
                pass


async def test_a_leftover_gives_way_and_a_service_does_not(tmp_path: Path) -> None:
    address = Address(tmp_path / f"desk{SOCKET}")
    address.path.write_text("left behind")
    async with listening(Service(), address):
        second = ear.Listening(Service().desk, address, wire.Welcome(VERSION, "b"))
        with pytest.raises(OutsideError, match="another service listens"):
            await second.run()
        assert address.path.exists()


async def test_which_service_is_meant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    with pytest.raises(OutsideError, match="no service of yours runs"):
        addresses.found()
    one, two = (addresses.address_of(tmp_path / f"{name}.toml") for name in ("one", "two"))
    async with listening(Service(), one):
        assert await asyncio.to_thread(addresses.found) == one
        async with listening(Service(), two):
            with pytest.raises(BadInputError, match="several run"):
                await asyncio.to_thread(addresses.found)
            for name in (str(tmp_path / "two.toml"), str(two.path)):
                assert await asyncio.to_thread(addresses.found, name) == two


def test_a_folder_that_others_may_enter_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    assert stat.S_IMODE(addresses.folder().stat().st_mode) == 0o700
    addresses.folder().chmod(0o755)
    with pytest.raises(OutsideError, match="others may enter"):
        addresses.folder()
