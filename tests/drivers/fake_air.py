"""A hostile Bluetooth stack without a bus: fake backends for bleak, for every platform.

Calls can hang, fail, answer late; links die loudly or in silence; notifications come before a
subscription is answered, and twice for whoever connects again without having disconnected.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient, NotifyCallback
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakError

from drivers.links.air import Air
from drivers.links.ble import keep_ble
from drivers.links.patience import Patience
from drivers.links.sink import Announcer
from shared.job import LevelEntry
from shared.profile import LevelProfile
from tests.drivers.sinks import Heard


@dataclass
class FakeLevel:
    """One level in the fake air."""

    address: str
    name: str
    characteristics: dict[str, bytes]
    service: str = "7d1c0001-5a2e-4c7b-9b1f-2f6e8d3a4b5c"
    in_the_air: bool = True
    manufacturer_data: dict[int, bytes] = field(default_factory=dict)
    service_data: dict[str, bytes] = field(default_factory=dict)
    clients: list["FakeClient"] = field(default_factory=list)
    """Clients that are subscribed; one that was never ended stays."""

    def notify(self, uuid: str, data: bytes) -> None:
        for client in list(self.clients):
            client.deliver(uuid, data)

    def lose_loudly(self) -> None:
        for client in list(self.clients):
            client.lost()


class World:
    """The fake air, and what is to go wrong in it.

    trouble: by name of a call ("connect", "start_notify", "disconnect", "scan", "read"): each
    use takes the next entry: "hang", an exception, or None for nothing.
    """

    def __init__(self) -> None:
        self.levels: dict[str, FakeLevel] = {}
        self.scanners: set[FakeScanner] = set()
        self.most_scanners = 0
        self.connecting = 0
        self.most_connecting = 0
        self.trouble: dict[str, list[Any]] = {}
        self.calls: list[str] = []
        self.written: list[bytes] = []
        self.written_to: set[str] = set()

    def add(
        self, address: str, characteristics: dict[str, bytes], name: str = "level"
    ) -> FakeLevel:
        level = FakeLevel(address, name, characteristics)
        self.levels[address] = level
        return level

    async def act(self, call: str) -> None:
        self.calls.append(call)
        await asyncio.sleep(0)
        waiting = self.trouble.get(call, [])
        trouble = waiting.pop(0) if waiting else None
        if trouble == "hang":
            await asyncio.Event().wait()
        elif isinstance(trouble, BaseException):
            raise trouble

    def advertise(self) -> None:
        for level in self.levels.values():
            connected = any(client.is_connected for client in level.clients)
            if level.in_the_air and not connected:
                for scanner in list(self.scanners):
                    scanner.hear(level)

    async def run(self) -> None:
        while True:
            self.advertise()
            await asyncio.sleep(0.01)

    def scanner_class(self) -> type[BaseBleakScanner]:
        return type("Scanner", (FakeScanner,), {"world": self})

    def client_class(self) -> type[BaseBleakClient]:
        return type("Client", (FakeClient,), {"world": self})

    def air(self) -> Air:
        return Air(self.scanner_class(), _NoAdapter)

    async def keep(
        self, profile: LevelProfile, address: str, sink: Heard, patience: Patience, air: Air
    ) -> None:
        entry = LevelEntry(name=address[-2:], profile=profile.kind, port=address)
        announcer = Announcer(entry.name, sink)
        await keep_ble(entry, profile, announcer, patience, air, self.client_class())


class _NoAdapter:
    @classmethod
    async def get(cls, **_more: Any) -> "_NoAdapter":
        raise NotImplementedError


class FakeScanner(BaseBleakScanner):
    world: World

    def __init__(
        self, detection_callback: Any, service_uuids: Any, *_rest: Any, **_more: Any
    ) -> None:
        super().__init__(detection_callback, service_uuids)

    async def start(self) -> None:
        await self.world.act("scan")
        if self.world.scanners:
            raise BleakError("InProgress")
        self.world.scanners.add(self)
        self.world.most_scanners = max(self.world.most_scanners, len(self.world.scanners))

    async def stop(self) -> None:
        self.world.scanners.discard(self)
        await self.world.act("stop")

    def hear(self, level: FakeLevel) -> None:
        made, sent = level.manufacturer_data, level.service_data
        data = AdvertisementData(level.name, made, sent, [level.service], None, -50, ())
        self.call_detection_callbacks(BLEDevice(level.address, level.name, level), data)


class FakeClient(BaseBleakClient):
    world: World

    def __init__(self, device: Any, **more: Any) -> None:
        self.level: FakeLevel = device.details
        self._connected = False
        self._callbacks: dict[str, NotifyCallback] = {}
        super().__init__(
            device,
            disconnected_callback=more["disconnected_callback"],
            timeout=more["timeout"],
        )

    @property
    def mtu_size(self) -> int:
        return 23

    @property
    def is_connected(self) -> bool:
        return self._connected

    async def connect(self, pair: bool, **_more: Any) -> None:
        world = self.world
        world.connecting += 1
        world.most_connecting = max(world.most_connecting, world.connecting)
        try:
            await world.act("connect")
            await asyncio.sleep(0.005)
        finally:
            world.connecting -= 1
        self._connected = True
        self.level.clients.append(self)
        self.services = _services(self.level)

    async def disconnect(self) -> None:
        self._connected = False
        if self in self.level.clients:
            self.level.clients.remove(self)
        await self.world.act("disconnect")

    async def pair(self, *_args: Any, **_more: Any) -> None:
        raise NotImplementedError

    async def unpair(self) -> None:
        raise NotImplementedError

    async def read_gatt_char(
        self, characteristic: BleakGATTCharacteristic, **_more: Any
    ) -> bytearray:
        await self.world.act("read")
        return bytearray(self.level.characteristics[characteristic.uuid])

    async def read_gatt_descriptor(self, *_args: Any, **_more: Any) -> bytearray:
        raise NotImplementedError

    async def write_gatt_char(self, one: Any, data: Any, _response: Any) -> None:
        await self.world.act("write")
        self.world.written_to.add(one.uuid)
        self.world.written.append(bytes(data))

    async def write_gatt_descriptor(self, *_args: Any, **_more: Any) -> None:
        raise NotImplementedError

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: NotifyCallback, **_more: Any
    ) -> None:
        self._callbacks[characteristic.uuid] = callback
        await self.world.act("start_notify")

    async def stop_notify(self, _one: Any) -> None:
        raise NotImplementedError

    def deliver(self, uuid: str, data: bytes) -> None:
        callback: Callable[[bytearray], None] | None = self._callbacks.get(uuid)
        if callback is not None:
            callback(bytearray(data))

    def lost(self) -> None:
        """The link drops; what is subscribed stays so until somebody disconnects."""
        self._connected = False
        if self._disconnected_callback is not None:
            self._disconnected_callback()


def _services(level: FakeLevel) -> BleakGATTServiceCollection:
    found = BleakGATTServiceCollection()
    service = BleakGATTService(None, 1, level.service)
    found.add_service(service)
    for handle, uuid in enumerate(level.characteristics, 2):
        found.add_characteristic(
            BleakGATTCharacteristic(
                None, handle, uuid, ["read", "notify", "write"], lambda: 20, service
            )
        )
    return found
