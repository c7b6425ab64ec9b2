"""Look around: what is on the ports and in the air, and which profile might fit it."""

import asyncio
import re
from dataclasses import dataclass

import serialx

from drivers import codecs, profiles
from drivers.codecs.nmea_xdr import SEVERAL
from drivers.links.patience import Patience
from drivers.links.port import opened, stable_link
from drivers.links.retry import LinkDownError
from drivers.links.uuids import long_uuid
from shared.profile import LevelProfile, Transport

_FEWEST = 3
"""Samples below which a guess would be one from chance."""
_DEGREES = rb"(?:\xb0|\xc2\xb0|\xc2\xba|deg(?:ree)?s?)"
_ANGLE = re.compile(
    rb"\s*[+-]?\s*\d{1,3}(?:[.,]\d+\s*" + _DEGREES + rb"?|\s*" + _DEGREES + rb")\s*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that may be a level. `where` goes into the job as its port."""

    where: str
    name: str
    rssi: int | None = None
    """Received signal strength in dBm; None on a wire."""
    guess: str = ""
    """A shipped kind, "" = no idea. Never more than a guess: formats are not announced."""


async def on_the_ports(patience: Patience, listen_s: float = 1.2) -> list[Found]:
    """Return the serial ports with their stable links, and what is heard on each.

    Ports are only listened to: what a stranger would make of bytes sent to it nobody knows.
    """
    try:
        async with asyncio.timeout(patience.call_s):
            ports = await serialx.async_list_serial_ports()
    except (TimeoutError, OSError):
        return []
    found = []
    for port in ports:
        where = await asyncio.to_thread(stable_link, port.device)
        name = shown(" ".join(part for part in (port.manufacturer, port.product) if part))
        found.append(Found(where, name, guess=await guess_on_port(where, patience, listen_s)))
    return found


async def guess_on_port(path: str, patience: Patience, listen_s: float) -> str:
    """Return the shipped kind that makes most of what is sent on a port, or ""."""
    kinds = [profiles.load(kind) for kind in profiles.names()]
    serial = [profile for profile in kinds if profile.transport.link == "serial"]
    best, most = "", 0
    for baud in sorted({profile.transport.baud for profile in serial}):
        transport = Transport(baud=baud)
        heard = bytearray()
        try:
            async with opened(path, transport, heard.extend, patience):
                await asyncio.sleep(listen_s)
        except LinkDownError:
            return ""
        for profile in serial:
            count = _tilts(profile, bytes(heard)) if profile.transport.baud == baud else 0
            if count > most:
                best, most = profile.kind, count
    return best


def _tilts(profile: LevelProfile, data: bytes) -> int:
    """Return how many samples a kind makes of these bytes; 0 unless nearly all fits.

    A line of text without a check fits nearly anything that sends numbers. It counts as an
    angle only where each line is one number with a degree sign or decimals.
    """
    codec = codecs.make(profile)
    samples = len(codec.feed(0, data)) + codec.refused.pop(SEVERAL, 0)  # only a name is missing
    refused = sum(codec.refused.values())
    if samples < _FEWEST or refused > 1 + samples // 10:
        return 0
    if profile.format.codec == "text-line" and not _like_angles(data):
        return 0
    return samples


def _like_angles(data: bytes) -> bool:
    lines = data.replace(b"\r", b"\n").split(b"\n")[1:-1]
    return all(_ANGLE.fullmatch(line) for line in lines if line.strip())


def shown(name: str) -> str:
    """Return a name from the air without what would act on a terminal."""
    return "".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in name)


async def in_the_air(seconds: float, patience: Patience) -> tuple[list[Found], str]:
    """Return the devices heard, strongest first, and why there are none to be heard, or ""."""
    # Bluetooth libraries load only where they are needed: start-up time.
    from bleak.backends.device import BLEDevice  # noqa: PLC0415
    from bleak.backends.scanner import AdvertisementData  # noqa: PLC0415

    from drivers.links.air import shared_air  # noqa: PLC0415

    kinds = [profiles.load(kind) for kind in profiles.names()]
    found: dict[str, Found] = {}

    def heard(device: BLEDevice, advertisement: AdvertisementData) -> None:
        uuids = {uuid.lower() for uuid in advertisement.service_uuids}
        uuids |= {uuid.lower() for uuid in advertisement.service_data}
        name = shown(advertisement.local_name or device.name or "")
        found[device.address] = Found(
            device.address, name, advertisement.rssi, _guess(uuids, kinds)
        )

    try:
        async with shared_air().listening("", heard, patience):
            await asyncio.sleep(seconds)
    except LinkDownError as error:
        return [], str(error)
    return sorted(found.values(), key=lambda one: -(one.rssi or -127)), ""


def _guess(uuids: set[str], kinds: list[LevelProfile]) -> str:
    """Return the kind whose service is advertised."""
    for profile in kinds:
        for channel in profile.channels:
            wanted = {long_uuid(channel.service_uuid), long_uuid(channel.advert_uuid)} - {""}
            if wanted & uuids:
                return profile.kind
    return ""
