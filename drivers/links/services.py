"""What a Bluetooth device offers, whatever it is: its services and characteristics, values as they change.

For a device that no profile is known of. Nothing is ever written to it but subscriptions.
"""

import asyncio
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Protocol

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.uuids import uuid16_dict

from drivers import sentences
from drivers.links.air import Air
from drivers.links.ble import connected
from drivers.links.ble_errors import OUTSIDE, sentence
from drivers.links.patience import Patience
from drivers.links.retry import LinkDownError, for_ever
from drivers.links.sink import Announcer, Sink

AGAIN_S = 2.0
"""Between two readings of what can be read and does not notify."""
_SHORT = re.compile(r"0000([0-9a-f]{4})-0000-1000-8000-00805f9b34fb")
_STANDARD = range(0x1800, 0x2E00)
"""Services, units, declarations, descriptors and characteristics; what lies above are companies."""


@dataclass(frozen=True, slots=True)
class Offered:
    """One characteristic of a service.

    Attributes:
        service, uuid: four hexadecimal digits where that is all there is of them, else in full.
        service_name, name: as the assigned numbers of the Bluetooth SIG have them, "" where they
            have none.
        does: what it lets be done: "read", "notify", ...
    """

    service: str
    service_name: str
    uuid: str
    name: str
    does: tuple[str, ...]


class Listener(Protocol):
    """Who is told."""

    def offers(self, device: str, found: list[Offered]) -> None:
        """A device was connected to; its name as it says it itself."""
        ...

    def value(self, one: Offered, data: bytes, how: str) -> None:
        """A value was "read", or the device sent one ("notified")."""
        ...

    def trouble(self, reason: str) -> None:
        """Why nothing comes: a sentence with a remedy."""
        ...


def short(uuid: str) -> str:
    """Return the four digits of a UUID that has no more, else the whole in lower case."""
    found = _SHORT.fullmatch(uuid.lower())
    return found[1] if found else uuid.lower()


def standard_name(uuid: str) -> str:
    """Return the name of a service or characteristic in the Bluetooth SIG's assigned numbers, or "".

    They are those that bleak ships (`bleak.uuids`, which names its sources).
    """
    found = _SHORT.fullmatch(uuid.lower())
    number = int(found[1], 16) if found else -1
    return uuid16_dict.get(number, "") if number in _STANDARD else ""


async def listen_to_services(
    address: str, told: Listener, patience: Patience, air: Air, backend: Any = None
) -> None:
    """Tell what one device offers and every value it gives, until cancelled; reconnects for ever.

    backend: class of a client backend for tests; None = the platform's own.
    """
    announcer = Announcer(address, _Told(told))

    async def once() -> None:
        device, _ = await air.find(address, ["1801"], patience)
        visit = _Visit(device, patience)
        try:
            async with connected(visit, air, backend) as client:
                announcer.up(address)  # so that a second loss is told like the first
                await _followed(visit, client, told)
        except OUTSIDE as error:
            raise LinkDownError(sentence(error, address)) from error

    await for_ever(once, announcer, patience)


class _Visit:
    """One connection, as `connected` wants it."""

    def __init__(self, device: BLEDevice, patience: Patience) -> None:
        self.device = device
        self.patience = patience
        self.lost = asyncio.Event()

    @property
    def address(self) -> str:
        return self.device.address

    def on_disconnect(self, _client: BleakClient) -> None:
        self.lost.set()


class _Told(Sink):
    """Passes on why a link is down."""

    def __init__(self, told: Listener) -> None:
        self._told = told

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Nothing comes this way."""

    def up(self, level: str, identity: str) -> None:
        """Nothing comes this way."""

    def down(self, level: str, reason: str) -> None:
        del level
        self._told.trouble(reason)


def _offered(client: BleakClient) -> Iterator[tuple[Offered, BleakGATTCharacteristic]]:
    for service in client.services:
        for one in service.characteristics:
            names = standard_name(service.uuid), standard_name(one.uuid)
            yield (
                Offered(
                    short(service.uuid), names[0], short(one.uuid), names[1], tuple(one.properties)
                ),
                one,
            )


async def _followed(visit: _Visit, client: BleakClient, told: Listener) -> None:
    """Tell what there is, subscribe to all that sends, read all that can be read again and again.

    Raises:
        LinkDownError: the link ended.
    """
    found = list(_offered(client))
    told.offers(visit.device.name or "", [one for one, _ in found])
    sends = [pair for pair in found if {"notify", "indicate"} & set(pair[0].does)]
    for one, characteristic in sends:
        with suppress(TimeoutError, *OUTSIDE):  # one that refuses does not hide the others
            async with asyncio.timeout(visit.patience.call_s):
                await client.start_notify(
                    characteristic, _notified(told, one), bluez={"use_start_notify": True}
                )
    readable = [pair for pair in found if "read" in pair[0].does]
    while not visit.lost.is_set():
        for one, characteristic in readable:
            with suppress(TimeoutError, *OUTSIDE):
                async with asyncio.timeout(visit.patience.call_s):
                    told.value(one, bytes(await client.read_gatt_char(characteristic)), "read")
        readable = [pair for pair in readable if pair not in sends]
        with suppress(TimeoutError):
            async with asyncio.timeout(AGAIN_S):
                await visit.lost.wait()
    raise LinkDownError(sentences.link_lost(visit.address))


def _notified(told: Listener, one: Offered) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
    def heard(_sender: BleakGATTCharacteristic, data: bytearray) -> None:
        told.value(one, bytes(data), "notified")

    return heard
