"""Scanning, listening and advertisements over the emulated radio."""

import asyncio
import io
from contextlib import AsyncExitStack
from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.levels import look as levels
from daemon.levels.offers import listen_to
from daemon.session.headers import make_header
from daemon.session.jobs import resolve_profiles
from drivers import codecs, sentences
from shared.plain import plainly
from simulator import scenario
from simulator.hangar import Chunk as HangarChunk
from simulator.hangar import Hangar
from simulator.radio import Radio
from simulator.radio.uart import RadioLine, over_the_air
from simulator.wire.bthome import UUID, Bthome
from tests.drivers.making import angles, profile_of
from tests.drivers.sinks import QUICK, Heard, kept
from tests.radio.stage import SERVICES, address
from tests.radio.stage import UUID as UUID_OF_IT

pytestmark = pytest.mark.real
THERMOMETER = "AA:BB:CC:00:00:77"


async def test_scan_tells_twins_apart_and_guesses(radio: Radio) -> None:
    await radio.add_level(address(1), "twin", SERVICES, rssi=-40)
    await radio.add_level(address(2), "twin", SERVICES, rssi=-70)
    await RadioLine(radio, "stream", 3).open()
    await radio.add_level(THERMOMETER, "advert")
    radio.advertise(THERMOMETER, UUID, Bthome().write({"angle": 1.0})[0][1])
    out = io.StringIO()
    assert await levels.scan(out, 1.0, QUICK) == 0
    lines = {line.split()[0]: line for line in out.getvalue().splitlines()}
    assert "-40 dBm" in lines[address(1)]
    assert "-70 dBm" in lines[address(2)]
    assert all("one of several of this name" in lines[address(one)] for one in (1, 2))
    assert "ble-notify" in lines[address(1)]
    assert "ble-uart" in lines["C0:00:00:00:00:03"]
    assert "bthome" in lines[THERMOMETER]


async def test_scan_with_bluetooth_off(radio: Radio) -> None:
    await radio.fault("power", on=False)
    out = io.StringIO()
    await levels.scan(out, 0.2, QUICK)
    assert sentences.bluetooth_off() in out.getvalue()


async def test_the_services_of_an_address_with_their_values(radio: Radio) -> None:
    values = {"2a19": b"\x50", "2a29": b"no\x1bbody"}
    await radio.add_level(address(1), "a\x1b[31mlevel", SERVICES, values)
    out = io.StringIO()

    async def send() -> None:
        while True:
            radio.feed(address(1), UUID_OF_IT, b"\x01\x02 12.5")
            await asyncio.sleep(0.05)

    async with asyncio.TaskGroup() as group:
        sending = group.create_task(send(), name="send")
        assert await listen_to(address(1), plainly(out), 5.0, QUICK) == 0
        sending.cancel()
    text = out.getvalue()
    assert "service 180f (Battery Service)" in text
    assert "2a19 (Battery Level)  50" in text
    assert "2a29 (Manufacturer Name String)" in text
    assert f"{UUID_OF_IT}  01 02 20 31 32 2e 35" in text
    assert "connected: a\\x1b[31mlevel" in text
    assert "\x1b" not in text


async def test_listen_over_the_air(radio: Radio) -> None:
    line = RadioLine(radio, "stream", 1)
    where = await line.open()
    out = io.StringIO()

    async def talk() -> None:
        while True:
            line.write(b"a line longer than any packet\r\n12.50 deg\r\n")
            await asyncio.sleep(0.02)

    async with asyncio.TaskGroup() as group:
        talking = group.create_task(talk(), name="talk")
        code = await levels.listen(levels.target("ble-uart", port=where), out, 1.5, QUICK)
        talking.cancel()
    assert code == 0
    assert f"connected: {where}" in out.getvalue()
    assert "angle 12.5" in out.getvalue()


async def test_advertising_level_survives_adapter_and_service(radio: Radio) -> None:
    profile = profile_of("bthome")
    codec, heard, wire = codecs.make(profile), Heard(), Bthome()
    await radio.add_level(THERMOMETER, "advert")

    async def advertise() -> None:
        while True:
            for _channel, data in wire.write({"angle": -12.3, "battery": 80.0}):
                radio.advertise(THERMOMETER, UUID, data, rssi=-55)
            await asyncio.sleep(0.02)

    async def flows() -> None:
        wanted = len(heard.data()) + 5
        await heard.until(lambda: len(heard.data()) >= wanted)

    async with asyncio.TaskGroup() as group:
        talking = group.create_task(advertise(), name="advertise")
        async with kept(profile, THERMOMETER, heard):
            await flows()
            assert heard.log == [("up", THERMOMETER)]
            await radio.fault("power", on=False)
            await heard.until(lambda: sentences.bluetooth_off() in heard.reasons())
            await radio.fault("power", on=True)
            await flows()
            await radio.kill_service()
            await heard.until(lambda: sentences.no_bluetooth_service() in heard.reasons())
            await radio.start_service()
            await flows()
        talking.cancel()
    assert heard.on(codecs.SIGNAL_CHANNEL)[0] == bytes([-55 & 0xFF])
    found = angles(codec, *heard.data())
    assert found
    assert set(found) == {-12.3}
    assert not codec.refused.keys() - {"repeated packet"}


async def test_stream_over_the_air_is_whole(radio: Radio) -> None:
    """A UART over GATT is a stream: packets cut frames anywhere, and nothing may be missing."""
    line, heard = RadioLine(radio, "stream", 1), Heard()
    where = await line.open()
    async with kept(profile_of("ble-uart"), where, heard):
        await heard.until(lambda: heard.ups() == 1)
        sent = b"".join(b"%d.%02d deg\r\n" % (n % 30, n % 100) for n in range(2000))
        for at in range(0, len(sent), 333):
            line.write(sent[at : at + 333])
            await radio.drain()
        await heard.until(lambda: len(b"".join(heard.data())) == len(sent))
        line.pull()
        await heard.until(lambda: heard.log[-1] == ("down", sentences.not_in_the_air(where)))
        line.put_back()
        await heard.until(lambda: heard.ups() == 2)
    assert b"".join(heard.data()) == sent


async def test_levels_of_a_scenario_work_through_the_air(radio: Radio) -> None:
    """The main job's own levels: hangar, radio, bleak, supervisor, codec."""
    hangar = Hangar(scenario.load("default"), 1)
    job = over_the_air(hangar.job)
    heard, sent = Heard(), dict[str, bytes]()
    lines = {one.name: RadioLine(radio, one.name, n) for n, one in enumerate(job.level, 1)}
    async with AsyncExitStack() as stack:
        made = resolve_profiles(job, Path())
        for name, line in lines.items():
            port = await line.open()
            await stack.enter_async_context(kept(made[name], port, heard, name=name))
        await heard.until(lambda: heard.ups() == len(lines))
        view = Engine(make_header(job, Path(), session="air")).view
        for step in range(1, 200):
            for item in hangar.advance(step * 50_000_000, [], view):
                if isinstance(item, HangarChunk):
                    lines[item.level].write(item.data)
                    sent[item.level] = sent.get(item.level, b"") + item.data
            await radio.drain()
        assert sent
        await heard.until(lambda: all(b"".join(heard.data(one)) == sent[one] for one in sent))
    for name, data in sent.items():
        assert codecs.make(made[name]).feed(0, data)
