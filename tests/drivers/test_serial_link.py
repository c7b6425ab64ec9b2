"""A serial level on a pseudo-terminal: pulled, taken, forbidden, silent; always back by itself."""

import asyncio
import errno
import itertools
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
import serialx

from drivers import codecs, sentences
from drivers.links.patience import Patience
from drivers.links.port import settled_link
from drivers.links.sink import Announcer
from shared.profile import LevelProfile
from shared.samples import Role
from simulator.line import Line
from simulator.wire.modbus_rtu import ModbusUnit
from simulator.wire.terminal import TerminalLevel
from simulator.wire.text_line import TextLine, TextStyle
from tests.drivers.making import profile_of
from tests.drivers.sinks import QUICK, Heard, kept

TEXT = profile_of("text-line")


@pytest.fixture
def line() -> Iterator[Line]:
    made = Line("level")
    yield made
    made.close()


async def test_bytes_come_through_unchanged(line: Line) -> None:
    path, heard = line.open(), Heard()
    async with kept(TEXT, path, heard):
        await heard.until(lambda: heard.ups() == 1)
        for byte in range(256):
            line.write(bytes([byte]))
        await heard.until(lambda: len(b"".join(heard.data())) == 256)
    assert b"".join(heard.data()) == bytes(range(256))
    assert heard.log == [("up", path)]


async def test_pulled_and_put_back(line: Line) -> None:
    path, heard = line.open(), Heard()
    async with kept(TEXT, path, heard):
        for times in (1, 2, 3):
            await heard.until(lambda times=times: heard.ups() == times)  # type: ignore[misc]
            line.write(b"%d\r\n" % times)
            await heard.until(lambda times=times: b"%d\r\n" % times in b"".join(heard.data()))  # type: ignore[misc]
            line.pull()
            await heard.until(lambda: heard.log[-1] == ("down", sentences.port_missing(path)))
            line.put_back()
    assert b"".join(heard.data()) == b"1\r\n2\r\n3\r\n"
    assert sentences.unplugged(path) in heard.reasons()


async def test_missing_port_is_said_once_and_kept_trying(tmp_path: Path) -> None:
    heard, path = Heard(), str(tmp_path / "none")
    async with kept(TEXT, path, heard):
        await heard.until(lambda: bool(heard.log))
        await asyncio.sleep(0.5)  # many tries go by
        assert heard.log == [("down", sentences.port_missing(path))]


async def test_port_in_use(line: Line) -> None:
    path, first, second = line.open(), Heard(), Heard()
    async with kept(TEXT, path, first):
        await first.until(lambda: first.ups() == 1)
        async with kept(TEXT, path, second, name="b"):
            await second.until(lambda: bool(second.log))
            assert second.log == [("down", sentences.port_busy(path))]
    async with kept(TEXT, path, second, name="b"):
        await second.until(lambda: second.ups() == 1)


async def test_no_port_given() -> None:
    heard = Heard()
    async with kept(TEXT, "", heard):
        await heard.until(lambda: bool(heard.log))
    assert heard.log == [("down", sentences.no_port("a"))]


@pytest.mark.parametrize(
    ("error", "expected"),
    [
        (PermissionError(errno.EACCES, "denied"), "no permission to open"),
        (OSError(errno.EIO, "gone"), "was unplugged"),
        (OSError(errno.ENOTTY, "no terminal"), "is no serial port"),
        (OSError(errno.EISDIR, "a folder"), "is no serial port"),
        (OSError(errno.ENOSPC, "odd"), "unplug it, plug it in again"),
        (serialx.UnsupportedSetting("speed"), "baud, parity and stop_bits"),
    ],
)
async def test_every_refusal_has_its_sentence(
    error: Exception, expected: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    async def refuse(*_args: Any, **_more: Any) -> None:
        raise error

    monkeypatch.setattr(serialx, "create_serial_connection", refuse)
    heard = Heard()
    async with kept(TEXT, str(tmp_path), heard):
        await heard.until(lambda: bool(heard.log))
    assert expected in heard.reasons()[0]


@pytest.mark.parametrize("path", ["/", "/dev/null", "/etc/hostname"])
async def test_what_is_no_port_is_called_so(path: str) -> None:
    heard = Heard()
    async with kept(TEXT, path, heard):
        await heard.until(lambda: bool(heard.log))
    assert heard.reasons() == [sentences.not_a_port(path)]


@pytest.mark.parametrize("kind", ["text-line", "modbus-rtu"])
@pytest.mark.parametrize("address", ["AA:BB:CC:00:00:01", "12345678-90ab-cdef-1234-567890ABCDEF"])
async def test_an_address_given_for_a_port_is_said(kind: str, address: str) -> None:
    heard = Heard()
    async with kept(profile_of(kind), address, heard):
        await heard.until(lambda: bool(heard.log))
    assert heard.reasons() == [sentences.address_for_a_port(address)]


async def test_a_serial_server_is_read_like_a_port() -> None:
    writers: list[asyncio.StreamWriter] = []

    async def serve(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writers.append(writer)
        writer.write(b"12.5\r\n")
        await writer.drain()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    url = f"socket://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    heard = Heard()
    async with kept(TEXT, url, heard):
        await heard.until(lambda: b"12.5\r\n" in b"".join(heard.data()))
        writers[0].close()
        await heard.until(lambda: heard.ups() == 2)
        server.close()
        for writer in writers:
            writer.close()
        await heard.until(lambda: len(heard.reasons()) >= 2)
    assert heard.log[0] == ("up", url)
    assert all(reason.startswith(f"{url} cannot be reached") for reason in heard.reasons())


@pytest.mark.parametrize("url", ["foo://x:1", "socket://nohost", "socket://x:port", "socket://"])
async def test_what_names_no_serial_server_is_not_to_be_switched_on(url: str) -> None:
    heard = Heard()
    async with kept(TEXT, url, heard):
        await heard.until(lambda: bool(heard.log))
    assert heard.reasons()[0] == sentences.no_server(url)


async def test_group_is_named_where_a_port_is_forbidden(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    async def refuse(*_args: Any, **_more: Any) -> None:
        raise PermissionError(errno.EACCES, "denied")

    monkeypatch.setattr(serialx, "create_serial_connection", refuse)
    heard, group = Heard(), await asyncio.to_thread(tmp_path.group)
    async with kept(TEXT, str(tmp_path), heard):
        await heard.until(lambda: bool(heard.log))
    assert f"join group {group}" in heard.reasons()[0]


async def test_an_open_that_never_returns(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: asyncio.Queue[int] = asyncio.Queue()

    async def hang(*_args: Any, **_more: Any) -> None:
        calls.put_nowait(1)
        await asyncio.Event().wait()

    monkeypatch.setattr(serialx, "create_serial_connection", hang)
    heard = Heard()
    async with kept(TEXT, "/dev/never", heard, Patience(call_s=0.05, first_retry_s=0.01)):
        await heard.until(lambda: bool(heard.log))
        async with asyncio.timeout(10):
            for _ in range(3):
                await calls.get()
    assert heard.log == [("down", sentences.not_answering("/dev/never", 0.05))]


async def test_level_is_asked_as_the_profile_says(line: Line) -> None:
    profile = profile_of("text-line", ask={"on_connect": "HELLO\r", "poll": "?\n", "every_s": 0.05})
    heard, path = Heard(), line.open()
    got = b""
    async with kept(profile, path, heard):
        async with asyncio.timeout(10):
            while got.count(b"?\n") < 3:
                got += line.read()
                await asyncio.sleep(0.01)
    assert got.startswith(b"HELLO\r?\n?\n?\n")


def descriptors() -> int:
    return len(list(Path("/dev/fd").iterdir()))


async def test_no_descriptor_is_left_open(line: Line) -> None:
    path, heard = line.open(), Heard()
    before = descriptors()
    for times in range(5):
        async with kept(TEXT, path, heard):
            await heard.until(lambda times=times: heard.ups() == times + 1)  # type: ignore[misc]
    assert descriptors() <= before


def tilt() -> dict[Role, float]:
    return {"angle": 12.5}


async def test_level_on_a_terminal_with_faults() -> None:
    level = TerminalLevel("level", TextLine(TextStyle()), tilt, rate_hz=100)
    codec, heard = codecs.make(TEXT), Heard()
    async with asyncio.TaskGroup() as group:
        running = group.create_task(level.run(), name="level")
        async with kept(TEXT, level.path, heard):
            await heard.until(lambda: len(heard.chunks) > 20)
            level.fault("wrong-speed")
            from_here = len(heard.chunks) + 2
            await heard.until(lambda: len(heard.chunks) > from_here + 20)
            garbled = b"".join(heard.data(first=from_here))
            assert b"12.50" not in garbled
            level.fault("fair")
            from_here = len(heard.chunks) + 2
            await heard.until(lambda: len(heard.chunks) > from_here + 20)
            found = codec.feed(0, b"".join(heard.data(first=from_here)))
            assert found
            assert all(one.values == {"angle": 12.5} for one in found)
            level.fault("pull")
            await heard.until(lambda: heard.log[-1][0] == "down")
            level.fault("put-back")
            await heard.until(lambda: heard.ups() == 2)
        running.cancel()


async def test_modbus_level_is_polled_and_may_be_deaf_or_busy() -> None:
    profile = profile_of("modbus-rtu", reporting={"rate_hz": 50})
    unit = ModbusUnit()
    level = TerminalLevel("level", unit, tilt, rate_hz=500)
    codec, heard = codecs.make(profile), Heard()
    async with asyncio.TaskGroup() as group:
        running = group.create_task(level.run(), name="level")
        async with kept(profile, level.path, heard):
            await heard.until(lambda: len(heard.data()) > 5)
            unit.busy, unit.deaf = 2, 1
            from_here = len(heard.data()) + 10
            await heard.until(lambda: len(heard.data()) > from_here)
            assert heard.log == [("up", level.path)]
            unit.deaf = 10**9
            await heard.until(lambda: heard.log[-1][0] == "down")
            assert heard.log[-1] == ("down", sentences.no_reply(1, level.path))
            unit.deaf = 0
            await heard.until(lambda: heard.ups() == 2)
        running.cancel()
    found = codec.feed(0, b"".join(heard.data()))
    assert len(found) > 10
    assert all(one.values == {"angle": 12.5} for one in found)
    assert codec.refused["exception: busy"] == 2


class TwoUnits:
    """Two Modbus levels on the same two wires."""

    def __init__(self) -> None:
        self.units = [ModbusUnit(1), ModbusUnit(2)]
        for unit, angle in zip(self.units, (10.0, 20.0), strict=True):
            unit.write({"angle": angle})

    async def run(self, line: Line) -> None:
        while True:
            data = line.read()
            for unit in self.units:
                line.write(unit.answer(data))
            await asyncio.sleep(0.002)


def unit_profile(unit: int, **tables: Any) -> LevelProfile:
    channel = {"number": 0, "unit": unit, "address": 0, "count": 2}
    return profile_of("modbus-rtu", channels=[channel], reporting={"rate_hz": 50}, **tables)


async def test_two_levels_share_a_bus(line: Line) -> None:
    path, heard, both = line.open(), Heard(), TwoUnits()
    async with asyncio.TaskGroup() as group:
        running = group.create_task(both.run(line), name="units")
        async with (
            kept(unit_profile(1), path, heard, name="one"),
            kept(unit_profile(2), path, heard, name="two"),
        ):
            await heard.until(lambda: min(len(heard.data(name)) for name in ("one", "two")) > 15)
            both.units[1].deaf = 10**9
            await heard.until(lambda: sentences.no_reply(2, path) in heard.reasons())
            first = len(heard.chunks)
            await heard.until(lambda: len(heard.data("one", first)) > 15)
            line.pull()
            await heard.until(lambda: heard.log[-1] == ("down", sentences.port_missing(path)))
            both.units[1].deaf = 0
            line.put_back()
            first = len(heard.chunks)
            await heard.until(
                lambda: min(len(heard.data(name, first)) for name in ("one", "two")) > 15
            )
        running.cancel()
    for name, unit, angle in (("one", 1, 10.0), ("two", 2, 20.0)):
        codec = codecs.make(unit_profile(unit))
        samples = codec.feed(0, b"".join(heard.data(name)))
        assert len(samples) > 15
        assert all(one.values == {"angle": angle} for one in samples)


async def test_two_levels_on_a_bus_must_agree_on_its_speed(line: Line) -> None:
    path, heard, other = line.open(), Heard(), Heard()
    fast = unit_profile(2, transport={"baud": 115200})
    async with kept(unit_profile(1), path, heard), kept(fast, path, other, name="b"):
        await other.until(lambda: bool(other.log))
    assert "different speed" in other.reasons()[0]


def test_waits_grow_with_jitter_and_an_end() -> None:
    patience, random = Patience(), Random(1)
    waits = [[patience.wait_s(tries, random) for _ in range(200)] for tries in (1, 2, 5, 50, 5000)]
    for few, more in itertools.pairwise(waits[:3]):
        assert sum(few) < sum(more)
    longest = patience.longest_retry_s * (1.0 + patience.jitter)
    assert all(0.0 < wait <= longest for row in waits for wait in row)
    assert all(len(set(row)) > 150 for row in waits)
    assert QUICK.wait_s(1, random) < 0.05


async def test_identity_waits_for_the_link_that_was_there_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    port, by_id = tmp_path / "ttyUSB0", tmp_path / "by-id"
    port.touch()
    monkeypatch.setattr("drivers.links.port._BY_ID", by_id)
    assert await settled_link(str(port), "", 5.0) == str(port), "no such links on this machine"
    by_id.mkdir()
    link = by_id / "usb-adapter-0001"
    link.symlink_to(port)
    assert await settled_link(str(port), "", 5.0) == str(link)
    link.unlink()
    loop = asyncio.get_running_loop()
    loop.call_later(0.25, link.symlink_to, port)
    assert await settled_link(str(port), str(link), 5.0) == str(link)
    link.unlink()
    assert await settled_link(str(port), str(link), 0.2) == str(port), "another adapter"


def test_no_byte_comes_before_its_link() -> None:
    heard = Heard()
    announcer = Announcer("a", heard)
    announcer.bytes(0, b"early")
    assert heard.chunks == []
    announcer.up("here")
    announcer.bytes(0, b"late")
    announcer.down("gone")
    announcer.bytes(0, b"stale")
    announcer.down("gone again")
    announcer.up("here")
    assert heard.data() == [b"early", b"late"]
