"""The Bluetooth supervisor against a hostile stack; bleak's own Linux backend is in tests/radio."""

import asyncio
import itertools
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from typing import Any

import pytest
from bleak.exc import BleakDBusError, BleakError

from drivers import codecs, sentences
from drivers.links.advert import keep_advert
from drivers.links.patience import Patience
from drivers.links.sink import Announcer
from drivers.links.uuids import long_uuid
from shared.job import LevelEntry
from shared.samples import Sample
from tests.drivers.fake_air import World
from tests.drivers.making import bare_profile, profile_of
from tests.drivers.sinks import QUICK as FOR_A_RADIO
from tests.drivers.sinks import Heard, kept

PROFILE = profile_of("ble-notify")
QUICK = replace(FOR_A_RADIO, call_s=0.4, close_s=0.2, find_s=0.4, data_s=0.3, quiet_data_s=0.3)
UUID = PROFILE.channels[0].characteristic_uuid
BATTERY = "00002a19-0000-1000-8000-00805f9b34fb"
MAKER = "00002a29-0000-1000-8000-00805f9b34fb"
A, B = "AA:BB:CC:00:00:0A", "AA:BB:CC:00:00:0B"


class Stage:
    """A world with one level that counts, kept by the supervisor."""

    def __init__(self, profile: Any = PROFILE, **trouble: list[Any]) -> None:
        self.world = World()
        self.world.trouble = dict(trouble)
        self.level = self.world.add(A, {UUID: b"", BATTERY: b"\x4b", MAKER: b"nobody"})
        self.heard = Heard()
        self.air = self.world.air()
        self.profile = profile
        self.sending = True
        self._count = itertools.count()

    async def _send(self) -> None:
        while True:
            if self.sending:
                self.level.notify(UUID, next(self._count).to_bytes(4, "little"))
            await asyncio.sleep(0.005)

    @asynccontextmanager
    async def running(self, patience: Patience = QUICK, *others: str) -> AsyncIterator[None]:
        async with asyncio.TaskGroup() as group:
            tasks = [
                group.create_task(self.world.run(), name="advertise"),
                group.create_task(self._send(), name="send"),
                *(
                    group.create_task(
                        self.world.keep(self.profile, one, self.heard, patience, self.air),
                        name=f"keep {one}",
                    )
                    for one in (A, *others)
                ),
            ]
            try:
                yield
            finally:
                for task in tasks:
                    task.cancel()

    async def flows(self) -> None:
        """Wait until data has come for a while after now."""
        wanted = len(self.heard.data()) + 20
        await self.heard.until(lambda: len(self.heard.data()) >= wanted)

    def numbers(self) -> list[int]:
        return [int.from_bytes(data, "little") for data in self.heard.data("0A")]

    def assert_in_order_and_once(self) -> None:
        numbers = self.numbers()
        assert all(after > before for before, after in itertools.pairwise(numbers))


async def test_data_battery_strength_and_maker() -> None:
    stage = Stage()
    async with stage.running():
        await stage.flows()
        await stage.heard.until(lambda: len(stage.heard.on(codecs.BATTERY_CHANNEL)) >= 2)
    assert stage.heard.log == [("up", A)]
    assert stage.heard.on(codecs.BATTERY_CHANNEL)[0] == b"\x4b"
    assert stage.heard.on(codecs.SIGNAL_CHANNEL) == [(-50 & 0xFF).to_bytes(1, "big")]
    assert stage.heard.on(codecs.INFORMATION_CHANNEL) == [b"maker nobody"]
    numbers = stage.numbers()
    assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    assert stage.level.clients == [], "the connection was ended with the task"


async def test_lost_link_comes_back_without_doubles() -> None:
    stage = Stage()
    async with stage.running():
        for times in range(1, 4):
            await stage.flows()
            assert stage.heard.ups() == times
            stage.level.lose_loudly()
            await stage.heard.until(lambda times=times: stage.heard.ups() == times + 1)  # type: ignore[misc]
        await stage.flows()
    stage.assert_in_order_and_once()
    assert set(stage.heard.reasons()) == {sentences.link_lost(A)}
    assert stage.world.calls.count("disconnect") >= 4, "always before the next connection"


async def test_silent_link_is_dead_whatever_it_claims() -> None:
    stage = Stage()
    async with stage.running():
        await stage.flows()
        stage.sending = False
        await stage.heard.until(lambda: bool(stage.heard.reasons()))
        stage.sending = True
        await stage.flows()
    assert stage.heard.reasons()[0] == sentences.no_data(A, QUICK.data_s)
    stage.assert_in_order_and_once()


async def test_level_that_only_sends_on_change_is_asked_instead() -> None:
    stage = Stage(profile_of("ble-notify", reporting={"mode": "on-change"}))
    async with stage.running():
        await stage.flows()
        stage.sending = False
        reads = stage.world.calls.count("read")
        await asyncio.sleep(3 * QUICK.quiet_data_s)
        assert stage.world.calls.count("read") > reads
        assert stage.heard.log == [("up", A)]
        stage.world.trouble["read"] = ["hang"] * 50
        await stage.heard.until(lambda: bool(stage.heard.reasons()))
    assert stage.heard.reasons()[0] == sentences.no_data(A, QUICK.quiet_data_s)


@pytest.mark.parametrize(
    ("call", "trouble", "said"),
    [
        ("connect", "hang", sentences.not_answering(A, QUICK.call_s)),
        ("connect", BleakError("odd"), sentences.connect_failed(A, "odd")),
        ("start_notify", "hang", sentences.not_answering(A, QUICK.call_s)),
        ("start_notify", BleakError("odd"), sentences.connect_failed(A, "odd")),
        ("scan", "hang", sentences.not_answering("the Bluetooth service", QUICK.call_s)),
        ("scan", BleakDBusError("org.bluez.Error.NotReady", []), sentences.bluetooth_off()),
        ("scan", FileNotFoundError(), sentences.no_bus()),
        ("scan", PermissionError(), sentences.bus_forbidden()),
    ],
)
async def test_any_call_may_fail_or_never_return(call: str, trouble: Any, said: str) -> None:
    stage = Stage(**{call: [trouble, trouble]})
    async with stage.running():
        await stage.flows()
    assert stage.heard.log == [("down", said), ("up", A)]
    stage.assert_in_order_and_once()


async def test_disconnect_that_hangs_or_fails() -> None:
    stage = Stage(disconnect=["hang", BleakError("odd"), AssertionError(), EOFError()])
    async with stage.running():
        for times in range(1, 5):
            await stage.flows()
            stage.level.lose_loudly()
            await stage.heard.until(lambda times=times: stage.heard.ups() == times + 1)  # type: ignore[misc]
        await stage.flows()
    stage.assert_in_order_and_once()


async def test_one_scanner_and_one_connection_at_a_time() -> None:
    stage = Stage()
    stage.world.add(B, {UUID: b""})
    others = [f"AA:BB:CC:00:01:{number:02X}" for number in range(6)]
    for one in others:
        stage.world.add(one, {UUID: b""})
    async with stage.running(QUICK, B, *others):
        await stage.heard.until(lambda: stage.heard.ups() == 8)
    assert stage.world.most_scanners == 1
    assert stage.world.most_connecting == 1
    assert not stage.world.scanners, "nobody listens, nobody scans"


async def test_two_levels_of_one_name_are_told_apart_by_address() -> None:
    stage = Stage()
    twin = stage.world.add(B, {UUID: b""}, name=stage.level.name)
    async with stage.running(QUICK, B):
        await stage.heard.until(lambda: stage.heard.ups() == 2)
        twin.notify(UUID, b"twin")
        await stage.flows()
    assert {identity for kind, identity in stage.heard.log if kind == "up"} == {A, B}
    assert stage.heard.data("0B") == [b"twin"]
    assert b"twin" not in stage.heard.data("0A")


async def test_silent_scanner_is_replaced() -> None:
    stage = Stage()
    stage.level.in_the_air = False
    async with stage.running(replace(QUICK, scanner_s=0.2)):
        await stage.heard.until(lambda: bool(stage.heard.reasons()))
        assert stage.heard.reasons() == [sentences.not_in_the_air(A)]
        scans = stage.world.calls.count("scan")
        stage.world.scanners.clear()  # the service restarted: the old scanner hears nothing
        stage.level.in_the_air = True
        await stage.flows()
    assert stage.world.calls.count("scan") > scans


async def test_wrong_profile_names_the_characteristic() -> None:
    uuid = "11111111-1111-1111-1111-111111111111"
    stage = Stage(profile_of("ble-notify", channels=[{"number": 0, "characteristic_uuid": uuid}]))
    async with stage.running():
        await stage.heard.until(lambda: bool(stage.heard.reasons()))
        await asyncio.sleep(0.3)
    assert stage.heard.log == [("down", sentences.no_characteristic(A, uuid))]


async def test_level_is_asked_and_polled() -> None:
    ask = {"on_connect": "GO\r", "poll": "?", "every_s": 0.02}
    stage = Stage(profile_of("ble-notify", ask=ask))
    async with stage.running():
        async with asyncio.timeout(10):
            while stage.world.written.count(b"?") < 3:
                await stage.flows()
    assert stage.world.written[0] == b"GO\r"


async def test_data_before_the_subscription_is_answered_is_kept_in_order() -> None:
    stage = Stage()
    stage.sending = False
    patience = QUICK
    original = stage.world.act

    async def act(call: str) -> None:
        await original(call)
        if call == "start_notify":
            for number in range(5):
                stage.level.notify(UUID, number.to_bytes(4, "little"))

    stage.world.act = act  # type: ignore[method-assign]
    async with stage.running(patience):
        await stage.heard.until(lambda: len(stage.heard.data()) == 5)
    assert stage.heard.log[0] == ("up", A)
    assert stage.numbers() == [0, 1, 2, 3, 4]


async def test_link_lost_between_two_calls() -> None:
    """Bleak forgets the services with the link; asking for them then is an error of its own."""
    stage = Stage(profile_of("ble-notify", ask={"poll": "?", "every_s": 0.001}))
    original = stage.world.act
    left = ["start_notify", "write", "read", "start_notify"]

    async def act(call: str) -> None:
        await original(call)
        if left and call == left[0]:
            left.pop(0)
            for client in list(stage.level.clients):
                client.services = None
                client.lost()

    stage.world.act = act  # type: ignore[method-assign]
    async with stage.running():
        await stage.heard.until(lambda: not left)
        await stage.flows()
    stage.assert_in_order_and_once()


async def test_the_characteristic_to_write_may_be_named() -> None:
    ask = {"poll": "?", "every_s": 0.01, "characteristic_uuid": "2a29"}
    stage = Stage(profile_of("ble-notify", ask=ask))
    async with stage.running():
        await stage.heard.until(lambda: stage.world.written.count(b"?") >= 2)
    assert stage.world.written_to == {MAKER}


async def test_a_characteristic_to_write_that_is_missing_is_named() -> None:
    ask = {"on_connect": "GO", "characteristic_uuid": "fff2"}
    stage = Stage(profile_of("ble-notify", ask=ask))
    async with stage.running():
        await stage.heard.until(lambda: bool(stage.heard.reasons()))
    assert "fff2" in stage.heard.reasons()[0]


async def test_manufacturer_data_of_advertisements() -> None:
    profile = bare_profile(
        "ble-notify",
        {"layouts": {"0": "kind:u8 angle:i16", "1": "battery:u8"}},
        {"angle": {"scale": 0.01}, "battery": {"unit": "percent"}},
        transport={"link": "ble-advert"},
        channels=[{"manufacturer_id": 0xFFFF}, {"number": 1, "advert_uuid": "180f"}],
    )
    stage = Stage(profile)
    stage.level.manufacturer_data = {0xFFFF: b"\x01\xd2\x04", 0x0001: b"\xff\xff\xff"}
    stage.level.service_data = {long_uuid("180f"): b"\x50", long_uuid("180a"): b"?"}
    entry = LevelEntry(name="a", profile="test", port=A)
    async with asyncio.TaskGroup() as group:
        announcer = Announcer("a", stage.heard)
        tasks = [
            group.create_task(stage.world.run(), name="advertise"),
            group.create_task(
                keep_advert(entry, profile, announcer, QUICK, stage.air), name="keep"
            ),
        ]
        await stage.heard.until(lambda: len(stage.heard.data()) >= 6)
        for task in tasks:
            task.cancel()
    assert set(stage.heard.chunks) - {("a", codecs.SIGNAL_CHANNEL, b"\xce")} == {
        ("a", 0, b"\x01\xd2\x04"),
        ("a", 1, b"\x50"),
    }
    codec = codecs.make(profile)
    assert codec.feed(0, stage.heard.on(0)[0]) == [Sample({"angle": 12.34})]


@pytest.mark.parametrize("kind", ["ble-notify", "bthome"])
async def test_a_port_given_for_an_address_is_said(kind: str) -> None:
    heard = Heard()
    async with kept(profile_of(kind), "/dev/ttyUSB0", heard):
        await heard.until(lambda: bool(heard.log))
    assert heard.reasons() == [sentences.port_for_an_address("/dev/ttyUSB0")]
