"""A level that only advertises: nothing to connect, everything to hear."""

import asyncio
import time

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from drivers import sentences
from drivers.codecs import SIGNAL_CHANNEL
from drivers.links.air import Air
from drivers.links.patience import Patience
from drivers.links.retry import LinkDownError, for_ever
from drivers.links.sink import Announcer
from drivers.links.uuids import long_uuid
from drivers.links.where import is_address
from shared.job import LevelEntry
from shared.profile import LevelProfile


async def keep_advert(
    entry: LevelEntry, profile: LevelProfile, announcer: Announcer, patience: Patience, air: Air
) -> None:
    """Listen to one advertising level until cancelled."""

    async def once() -> None:
        if not entry.port:
            raise LinkDownError(sentences.no_port(entry.name))
        if not is_address(entry.port):
            raise LinkDownError(sentences.port_for_an_address(entry.port))
        ear = _Ear(profile, announcer)
        async with air.listening(entry.port, ear.heard, patience):
            while ear.silent_s() < patience.seen_s:
                await asyncio.sleep(min(1.0, patience.seen_s / 4))
                await air.keep_scanning(entry.port, patience)
        raise LinkDownError(sentences.not_in_the_air(entry.port))

    await for_ever(once, announcer, patience)


class _Ear:
    def __init__(self, profile: LevelProfile, announcer: Announcer) -> None:
        self._announcer = announcer
        self._services = {long_uuid(one.advert_uuid): one.number for one in profile.channels}
        self._makers = {one.manufacturer_id: one.number for one in profile.channels}
        self._heard_at = time.monotonic()
        self._up = False
        self._rssi = 0

    def silent_s(self) -> float:
        return time.monotonic() - self._heard_at

    def heard(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        services, makers = advertisement.service_data, advertisement.manufacturer_data
        found = [(self._services.get(uuid.lower()), data) for uuid, data in services.items()]
        found += [(self._makers.get(company), data) for company, data in makers.items()]
        for number, data in found:
            if number is not None:
                self._take(device.address, number, data)
                self._signal(advertisement.rssi)

    def _take(self, address: str, number: int, data: bytes) -> None:
        self._heard_at = time.monotonic()
        if not self._up:
            self._up = True
            self._announcer.up(address)
        self._announcer.bytes(number, data)

    def _signal(self, rssi: int) -> None:
        if rssi != self._rssi:
            self._rssi = rssi
            self._announcer.bytes(SIGNAL_CHANNEL, bytes([rssi & 0xFF]))
