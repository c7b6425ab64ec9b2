"""A level over Bluetooth LE, kept connected all day: one supervisor a device.

Being connected is never taken for being alive: only data is. Every call has a timeout, every
connection is ended before the next one is made (else notifications come twice, then three
times), and each connection starts from a fresh advertisement.
"""

import asyncio
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Any, Protocol

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice

from drivers import sentences
from drivers.codecs import SIGNAL_CHANNEL
from drivers.links.air import Air
from drivers.links.ble_aside import tell_battery, tell_information
from drivers.links.ble_errors import OUTSIDE, sentence
from drivers.links.patience import Patience
from drivers.links.retry import LinkDownError, for_ever
from drivers.links.sink import Announcer
from drivers.links.uuids import long_uuid
from drivers.links.where import is_address
from shared.job import LevelEntry
from shared.profile import Channel, LevelProfile


async def keep_ble(
    entry: LevelEntry,
    profile: LevelProfile,
    announcer: Announcer,
    patience: Patience,
    air: Air,
    backend: Any = None,
) -> None:
    """Keep one notifying level connected until cancelled.

    backend: class of a client backend for tests; None = the platform's own.
    """
    services = [one.service_uuid for one in profile.channels if one.service_uuid] or ["1801"]

    async def once() -> None:
        if not entry.port:
            raise LinkDownError(sentences.no_port(entry.name))
        if not is_address(entry.port):
            raise LinkDownError(sentences.port_for_an_address(entry.port))
        device, rssi = await air.find(entry.port, services, patience)
        connection = Connection(device, profile, announcer, patience)
        try:
            async with connected(connection, air, backend) as client:
                await connection.subscribe(client)
                if rssi is not None:
                    announcer.bytes(SIGNAL_CHANNEL, bytes([rssi & 0xFF]))
                await connection.live(client)
        except OUTSIDE as error:  # the link may go between any two calls
            raise LinkDownError(sentence(error, connection.address)) from error

    await for_ever(once, announcer, patience)


class Connection:
    """One connection of one level, from its first call to its end."""

    def __init__(
        self,
        device: BLEDevice,
        profile: LevelProfile,
        announcer: Announcer,
        patience: Patience,
    ) -> None:
        self.device = device
        self.patience = patience
        self._profile = profile
        self._announcer = announcer
        self._data_at = time.monotonic()
        self.lost = asyncio.Event()

    @property
    def address(self) -> str:
        """The device's address, which is its identity."""
        return self.device.address

    def on_disconnect(self, _client: BleakClient) -> None:
        """Remember that the other side ended it (called by bleak)."""
        self.lost.set()

    async def subscribe(self, client: BleakClient) -> None:
        """Subscribe to every channel of the profile, then say that the level is up.

        Raises:
            LinkDownError: a characteristic is missing, or a call failed.
        """
        channels = [
            (channel.number, self._characteristic(client, channel))
            for channel in self._profile.channels
        ]
        for number, characteristic in channels:
            await self._start(client, number, characteristic)
        await self._ask(client, channels[0][1], self._profile.ask.on_connect)
        self._data_at = time.monotonic()  # connecting may have taken long
        self._announcer.up(self.address)

    async def live(self, client: BleakClient) -> None:
        """Watch the data until it ends; look at the battery now and then.

        Raises:
            LinkDownError: always: lost, or silent for too long.
        """
        async with asyncio.TaskGroup() as group:
            beside = [
                group.create_task(self._aside(client), name=f"aside {self.address}"),
                group.create_task(self._poll(client), name=f"poll {self.address}"),
            ]
            reason = await self._end(client)
            for task in beside:
                task.cancel()
        raise LinkDownError(reason)

    async def _aside(self, client: BleakClient) -> None:
        await tell_information(client, self._announcer, self.patience)
        await tell_battery(client, self._announcer, self.patience)

    async def _end(self, client: BleakClient) -> str:
        """Return why the connection is over."""
        streams = self._profile.reporting.mode == "stream"
        limit_s = self.patience.data_s if streams else self.patience.quiet_data_s
        while True:
            quiet_s = time.monotonic() - self._data_at
            if quiet_s >= limit_s and (streams or not await self._answers(client)):
                return sentences.no_data(self.address, limit_s)
            left_s = max(limit_s - (time.monotonic() - self._data_at), 0.01)
            with suppress(TimeoutError):
                async with asyncio.timeout(left_s):
                    await self.lost.wait()
                return sentences.link_lost(self.address)

    async def _answers(self, client: BleakClient) -> bool:
        """Ask a level that need not send for anything it lets itself be asked."""
        try:
            known = client.services.characteristics.values()
            for one in [one for one in known if "read" in one.properties][:1]:
                async with asyncio.timeout(self.patience.call_s):
                    await client.read_gatt_char(one)
        except (TimeoutError, *OUTSIDE):
            return False
        self._data_at = time.monotonic()
        return True

    async def _poll(self, client: BleakClient) -> None:
        ask = self._profile.ask
        if not ask.poll:
            return
        while True:
            # The watch on the data decides whether the link lives, not a poll.
            with suppress(LinkDownError, *OUTSIDE):
                first = self._characteristic(client, self._profile.channels[0])
                await self._ask(client, first, ask.poll)
            await asyncio.sleep(ask.every_s)

    async def _ask(self, client: BleakClient, beside: BleakGATTCharacteristic, text: str) -> None:
        """Write to the characteristic the profile names, else to one beside the first channel's."""
        if not text:
            return
        to = self._asked(client, beside)
        await self._called(client.write_gatt_char(to, text.encode("latin-1", "replace")))

    def _asked(
        self, client: BleakClient, beside: BleakGATTCharacteristic
    ) -> BleakGATTCharacteristic:
        ask = self._profile.ask
        if ask.characteristic_uuid:
            return self._found(client, ask.service_uuid, ask.characteristic_uuid)
        service = client.services.get_service(beside.service_handle)
        writable = [
            one
            for one in (service.characteristics if service else [])
            if {"write", "write-without-response"} & set(one.properties)
        ]
        if not writable:
            raise LinkDownError(sentences.no_characteristic(self.address, "that can be written"))
        others = [one for one in writable if one.uuid != beside.uuid]
        return (others or writable)[0]

    async def _start(
        self, client: BleakClient, number: int, characteristic: BleakGATTCharacteristic
    ) -> None:
        def notified(_sender: BleakGATTCharacteristic, data: bytearray) -> None:
            # Synchronous on purpose: a callback that awaits lets notifications overtake.
            self._data_at = time.monotonic()
            self._announcer.bytes(number, bytes(data))

        await self._called(
            client.start_notify(characteristic, notified, bluez={"use_start_notify": True})
        )

    def _characteristic(self, client: BleakClient, channel: Channel) -> BleakGATTCharacteristic:
        """Return the channel's characteristic, in the service the profile names if it does."""
        return self._found(client, channel.service_uuid, channel.characteristic_uuid)

    def _found(
        self, client: BleakClient, service_uuid: str, characteristic_uuid: str
    ) -> BleakGATTCharacteristic:
        service, wanted = long_uuid(service_uuid), long_uuid(characteristic_uuid)
        for one in client.services.characteristics.values():
            if one.uuid == wanted and service in {"", one.service_uuid}:
                return one
        raise LinkDownError(sentences.no_characteristic(self.address, wanted))

    async def _called(self, call: Any) -> None:
        try:
            async with asyncio.timeout(self.patience.call_s):
                await call
        except TimeoutError as error:
            raise LinkDownError(
                sentences.not_answering(self.address, self.patience.call_s)
            ) from error
        except OUTSIDE as error:
            raise LinkDownError(sentence(error, self.address)) from error


class Visit(Protocol):
    """What of a connection is wanted to make one."""

    device: BLEDevice
    patience: Patience

    @property
    def address(self) -> str:
        """The device's address."""
        ...

    def on_disconnect(self, _client: BleakClient) -> None:
        """Hear that the other side ended it."""
        ...


@asynccontextmanager
async def connected(connection: Visit, air: Air, backend: Any) -> AsyncIterator[BleakClient]:
    """Connect, one device at a time, and disconnect at the end whatever happened.

    Raises:
        LinkDownError: no connection in time, or refused.
    """
    patience, address = connection.patience, connection.address
    extra = {"backend": backend} if backend else {}
    client = BleakClient(
        connection.device,
        disconnected_callback=connection.on_disconnect,
        timeout=patience.call_s,
        **extra,
    )
    try:
        async with air.connecting:
            try:
                async with asyncio.timeout(patience.call_s):
                    await client.connect()
            except TimeoutError as error:
                raise LinkDownError(sentences.not_answering(address, patience.call_s)) from error
            except OUTSIDE as error:
                raise LinkDownError(sentence(error, address)) from error
        yield client
    finally:
        with suppress(TimeoutError, *OUTSIDE):
            async with asyncio.timeout(patience.close_s):
                await client.disconnect()
