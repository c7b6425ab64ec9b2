"""What is in the air: one scanner for everybody in the process.

A second scanner, or a connection by address, would be answered "in progress". The scanner
runs only while somebody listens. It is replaced when it has been silent for long: after the
adapter was switched off and on, or the Bluetooth service restarted, it never speaks again.
"""

import asyncio
import logging
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Any
from weakref import WeakKeyDictionary

from bleak import BleakAdapter, BleakScanner
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers import sentences
from drivers.links.ble_errors import OUTSIDE, sentence
from drivers.links.patience import Patience
from drivers.links.retry import LinkDownError

Heard = Callable[[BLEDevice, AdvertisementData], None]

logging.getLogger("bleak").addHandler(logging.NullHandler())


class Air:
    """The shared scanner. No task of its own: whoever listens keeps it going.

    backend, adapter_backend: classes of backends for tests; None = the platform's own.
    """

    def __init__(self, backend: Any = None, adapter_backend: Any = None) -> None:
        self.connecting = asyncio.Lock()
        """Held while connecting: one device at a time."""
        self._backend = backend
        self._adapter_backend = adapter_backend
        self._changing = asyncio.Lock()
        self._listeners: dict[object, tuple[str, Heard]] = {}
        self._scanner: BleakScanner | None = None
        self._heard_at = 0.0

    @asynccontextmanager
    async def listening(
        self, address: str, heard: Heard, patience: Patience
    ) -> AsyncIterator[None]:
        """Call `heard` for every advertisement of one address ("" = of all) inside the block.

        Raises:
            LinkDownError: the scanner cannot be started; says why and what to do.
        """
        key = object()
        self._listeners[key] = (address.casefold(), heard)
        try:
            await self.keep_scanning(address, patience)
            yield
        finally:
            del self._listeners[key]
            async with self._changing:
                if not self._listeners:
                    await self._stop(patience)

    async def keep_scanning(self, address: str, patience: Patience) -> None:
        """Start the scanner, or a new one where the old one fell silent. Call it now and then.

        Raises:
            LinkDownError: it cannot be started.
        """
        async with self._changing:
            silent_s = time.monotonic() - self._heard_at
            if self._scanner is None or silent_s >= patience.scanner_s:
                await self._stop(patience)
                await self._start(address, patience)

    async def find(
        self, address: str, services: list[str], patience: Patience
    ) -> tuple[BLEDevice, int | None]:
        """Wait for an advertisement; return the fresh device that comes with it, and its strength.

        A level that the Bluetooth service still holds for a program that has ended does not
        advertise: where none is heard, it is taken up again (strength None).

        services: UUIDs of the profile, by which held levels are looked up.

        Raises:
            LinkDownError: neither heard in time nor held, or no scanning.
        """
        found: asyncio.Future[tuple[BLEDevice, int | None]]
        found = asyncio.get_running_loop().create_future()

        def heard(device: BLEDevice, advertisement: AdvertisementData) -> None:
            if not found.done():
                found.set_result((device, advertisement.rssi))

        async with self.listening(address, heard, patience):
            deadline = time.monotonic() + patience.find_s
            while not found.done() and (left := deadline - time.monotonic()) > 0:
                await asyncio.wait([found], timeout=min(left, 1.0))
                await self.keep_scanning(address, patience)
        if found.done():
            return found.result()
        return await self._held(address, services, patience), None

    async def _held(self, address: str, services: list[str], patience: Patience) -> BLEDevice:
        """Return the device if the Bluetooth service claims a connection to it."""
        extra = {"backend": self._adapter_backend} if self._adapter_backend else {}
        with suppress(TimeoutError, NotImplementedError, *OUTSIDE):
            async with asyncio.timeout(patience.call_s):
                adapter = await BleakAdapter.get(**extra)
                for device in await adapter.get_connected_devices(services):
                    if device.address.casefold() == address.casefold():
                        return device
        raise LinkDownError(sentences.not_in_the_air(address))

    async def _start(self, address: str, patience: Patience) -> None:
        extra = {"backend": self._backend} if self._backend else {}
        try:
            scanner = BleakScanner(
                self._on_advertisement, bluez={"filters": {"DuplicateData": True}}, **extra
            )
            async with asyncio.timeout(patience.call_s):
                await scanner.start()
        except TimeoutError as error:
            raise LinkDownError(
                sentences.not_answering("the Bluetooth service", patience.call_s)
            ) from error
        except OUTSIDE as error:
            raise LinkDownError(sentence(error, address)) from error
        self._scanner = scanner
        self._heard_at = time.monotonic()

    async def _stop(self, patience: Patience) -> None:
        scanner, self._scanner = self._scanner, None
        if scanner is not None:
            with suppress(TimeoutError, *OUTSIDE):
                async with asyncio.timeout(patience.close_s):
                    await scanner.stop()

    def _on_advertisement(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        self._heard_at = time.monotonic()
        address = device.address.casefold()
        for wanted, heard in list(self._listeners.values()):
            if wanted in {"", address}:
                heard(device, advertisement)


_AIRS: WeakKeyDictionary[asyncio.AbstractEventLoop, Air] = WeakKeyDictionary()


def shared_air() -> Air:
    """Return the one Air of this event loop."""
    loop = asyncio.get_running_loop()
    air = _AIRS.get(loop)
    if air is None:
        air = _AIRS[loop] = Air()
    return air
