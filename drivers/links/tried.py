"""Ports and the air, tried once: whether a link would come up here, and else its sentence."""

import asyncio

import serialx

from drivers import sentences
from drivers.links.patience import PATIENT, Patience
from drivers.links.port import opened, stable_link
from drivers.links.retry import LinkDownError
from shared.job import LevelEntry
from shared.profile import Transport


async def port_trouble(
    entry: LevelEntry, transport: Transport, patience: Patience = PATIENT
) -> str:
    """Open a level's port and close it again; return why that does not go, or ""."""
    if not entry.port:
        return sentences.no_port(entry.name)
    return await _trouble(entry.port, transport, patience)


async def ports_with_trouble(patience: Patience = PATIENT) -> list[tuple[str, str]]:
    """Try every port of the machine; return its stable link and its trouble, or ""."""
    try:
        async with asyncio.timeout(patience.call_s):
            ports = await serialx.async_list_serial_ports()
    except (TimeoutError, OSError):
        return []
    found = []
    for port in ports:
        where = await asyncio.to_thread(stable_link, port.device)
        found.append((where, await _trouble(where, Transport(), patience)))
    return found


async def _trouble(where: str, transport: Transport, patience: Patience) -> str:
    try:
        async with opened(where, transport, lambda _: None, patience):
            return ""
    except LinkDownError as error:
        return str(error)


async def air_trouble(seconds: float, patience: Patience = PATIENT) -> str:
    """Scan for so long; return why that does not go, or ""."""
    # Bluetooth libraries load only where they are needed: start-up time.
    from drivers.links.air import shared_air  # noqa: PLC0415

    try:
        async with shared_air().listening("", lambda *_: None, patience):
            await asyncio.sleep(seconds)
    except LinkDownError as error:
        return str(error)
    return ""
