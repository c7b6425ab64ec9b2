"""Each row of the fault table in docs/levels.md recovers by itself, once, in order, on record.

The emulated service behaves as BlueZ was seen to; bleak is unmodified.
"""

import asyncio
from contextlib import aclosing
from dataclasses import replace
from pathlib import Path

import pytest
from bleak import BleakClient, BleakScanner

from drivers import sentences
from simulator.radio import Radio
from tests.drivers.sinks import QUICK
from tests.radio.stage import UUID, Stage, address

pytestmark = pytest.mark.real
A = address(0)


async def test_first_connection(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await stage.heard.until(lambda: bool(stage.heard.on(252)))
        await stage.heard.until(lambda: bool(stage.heard.on(250)))
    assert stage.heard.log == [("up", A)]
    assert stage.heard.on(250)[0] == b"\x50"
    assert stage.heard.on(252) == [b"maker nobody, firmware 1.0"]
    numbers = stage.numbers()
    assert numbers == list(range(numbers[0], numbers[-1] + 1))


async def test_link_drops(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        for _ in range(3):
            await stage.flows()
            await radio.fault("drop", A)
            assert await stage.goes_down_and_comes_back() == sentences.link_lost(A)
            await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_half_open_link(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("half-open", A)
        assert await stage.goes_down_and_comes_back() == sentences.no_data(A, QUICK.data_s)
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_adapter_removed_and_back(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("unplug")
        await stage.heard.until(lambda: sentences.no_adapter() in stage.heard.reasons())
        await radio.fault("plug-in")
        await stage.heard.until(lambda: stage.heard.ups() == 2)
        await stage.flows()
        await stage.assert_one_subscription()
    assert stage.heard.reasons()[0] == sentences.no_data(A, QUICK.data_s)
    stage.assert_in_order_and_once()


async def test_service_restarted(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.kill_service()
        await stage.heard.until(lambda: sentences.no_bluetooth_service() in stage.heard.reasons())
        await radio.start_service()
        await stage.heard.until(lambda: stage.heard.ups() == 2)
        await stage.flows()
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_adapter_off_and_on(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("power", on=False)
        await stage.heard.until(lambda: sentences.bluetooth_off() in stage.heard.reasons())
        await radio.fault("power", on=True)
        await stage.heard.until(lambda: stage.heard.ups() == 2)
        await stage.flows()
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


@pytest.mark.parametrize(
    ("method", "fault"),
    [
        ("Connect", "drop"),
        ("StartNotify", "drop"),
        ("StartDiscovery", "drop"),
        ("Disconnect", "half-open"),
    ],
)
async def test_a_call_never_returns(radio: Radio, method: str, fault: str) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("spoil", method=method, answer="never", times=1)
        await radio.fault(fault, A)
        await stage.goes_down_and_comes_back()
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_calls_are_slow(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        for method in ("Connect", "StartNotify", "StartDiscovery", "StopDiscovery", "ReadValue"):
            await radio.fault("spoil", method=method, answer="slow", times=9, delay_s=0.3)
        await radio.fault("drop", A)
        assert await stage.goes_down_and_comes_back() == sentences.link_lost(A)
    assert len(stage.heard.reasons()) == 1
    stage.assert_in_order_and_once()


@pytest.mark.parametrize(
    ("method", "error", "text"),
    [
        ("Connect", "org.bluez.Error.Failed", "le-connection-abort-by-local"),
        ("Connect", "org.bluez.Error.InProgress", "Operation already in progress"),
        ("Connect", "org.bluez.Error.NotReady", "Resource Not Ready"),
        ("StartNotify", "org.bluez.Error.NotConnected", "Not Connected"),
        ("StartNotify", "org.bluez.Error.Failed", "Operation failed with ATT error: 0x0e"),
        ("StartDiscovery", "org.bluez.Error.InProgress", "Operation already in progress"),
        ("ReadValue", "org.bluez.Error.NotPermitted", "Read not permitted"),
    ],
)
async def test_a_call_is_refused(radio: Radio, method: str, error: str, text: str) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("spoil", method=method, answer="error", times=2, error=error, text=text)
        await radio.fault("drop", A)
        await stage.goes_down_and_comes_back()
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_services_changed(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("services-changed", A)
        assert await stage.goes_down_and_comes_back() == sentences.no_data(A, QUICK.data_s)
        await stage.assert_one_subscription()
    stage.assert_in_order_and_once()


async def test_out_of_range_and_back(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("in-the-air", A, on=False)
        await radio.fault("drop", A)
        await stage.heard.until(lambda: sentences.not_in_the_air(A) in stage.heard.reasons())
        await radio.fault("in-the-air", A, on=True)
        await stage.heard.until(lambda: stage.heard.ups() == 2)
        await stage.flows()
    stage.assert_in_order_and_once()


async def test_level_held_for_a_program_that_ended(radio: Radio) -> None:
    """The service keeps the link of a killed program; such a level does not advertise."""
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
        await radio.fault("spoil", method="Disconnect", answer="error", times=1)
    # The task has ended and its Disconnect was refused: the level is still held.
    again = Stage(radio)
    async with again.running():
        await again.flows()
    assert again.heard.log == [("up", A)]


async def test_one_shared_scanner_for_all(radio: Radio) -> None:
    stage = Stage(radio, count=4)
    async with stage.running(replace(QUICK, call_s=5.0, find_s=5.0)):
        await stage.flows()
        await radio.fault("power", on=False)
        await radio.fault("power", on=True)
        await stage.heard.until(lambda: stage.heard.ups() == 8)
        await stage.flows()
        seen = await radio.look("seen")
    assert seen["scanning"] == 0, "nobody listens, nobody scans"
    assert not [reason for reason in stage.heard.reasons() if "InProgress" in reason]
    stage.assert_in_order_and_once()


async def test_without_disconnecting_notifications_double(radio: Radio) -> None:
    """The oracle of this file: the emulated service does punish what the supervisor must not do."""
    stage = Stage(radio)
    await stage.prepare()
    got: asyncio.Queue[bytes] = asyncio.Queue()

    async def connect() -> BleakClient:
        async with BleakScanner() as scanner, aclosing(scanner.advertisement_data()) as heard:
            device, _data = await anext(heard)
        client = BleakClient(device)
        await client.connect()
        await client.start_notify(UUID, lambda _one, data: got.put_nowait(bytes(data)))
        return client

    async with asyncio.timeout(15):
        first = await connect()
        await radio.fault("drop", A)
        second = await connect()
        assert (await radio.look("subscriptions", A))["count"] == 2
        radio.feed(A, UUID, b"once")
        assert [await got.get(), await got.get()] == [b"once", b"once"]
        await second.disconnect()
        await first.disconnect()


async def test_no_permission_on_the_bus(radio: Radio) -> None:
    denied = "org.freedesktop.DBus.Error.AccessDenied"
    await radio.fault("spoil", method="GetManagedObjects", answer="error", times=3, error=denied)
    stage = Stage(radio)
    async with stage.running():
        await stage.flows()
    assert stage.heard.log == [("down", sentences.bus_forbidden()), ("up", A)]


async def test_no_bus_until_there_is_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path / 'none'}")
    radio = Radio()
    stage = Stage(radio)
    async with stage.kept():
        await stage.heard.until(lambda: stage.heard.log == [("down", sentences.no_bus())])
        await radio.start()
        try:
            await stage.prepare()
            async with asyncio.TaskGroup() as group:
                sending = group.create_task(stage.send(), name="send")
                await stage.flows()
                sending.cancel()
        finally:
            await radio.stop()
    stage.assert_in_order_and_once()


async def test_no_such_level(radio: Radio) -> None:
    stage = Stage(radio)
    async with stage.kept():
        await stage.heard.until(lambda: bool(stage.heard.log))
        assert stage.heard.log == [("down", sentences.not_in_the_air(A))]
        await stage.prepare()
        await stage.heard.until(lambda: stage.heard.ups() == 1)
