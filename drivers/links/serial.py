"""A level that talks on a serial line, kept open all day."""

import asyncio

from drivers import sentences
from drivers.links.patience import Patience
from drivers.links.port import Port, opened, settled_link
from drivers.links.retry import LinkDownError, for_ever
from drivers.links.sink import Announcer
from shared.job import LevelEntry
from shared.profile import Ask, LevelProfile


async def keep_serial(
    entry: LevelEntry, profile: LevelProfile, announcer: Announcer, patience: Patience
) -> None:
    """Keep one serial level connected until cancelled."""
    identity = ""

    async def once() -> None:
        nonlocal identity
        if not entry.port:
            raise LinkDownError(sentences.no_port(entry.name))
        async with opened(
            entry.port, profile.transport, lambda data: announcer.bytes(0, data), patience
        ) as port:
            identity = await settled_link(entry.port, identity, patience.close_s)
            announcer.up(identity)
            await _talk(port, profile.ask)
            raise LinkDownError(await port.lost)

    await for_ever(once, announcer, patience)


async def _talk(port: Port, ask: Ask) -> None:
    """Ask what the profile wants asked; returns when the port is lost."""
    if ask.on_connect:
        port.write(ask.on_connect.encode("latin-1", "replace"))
    poll = ask.poll.encode("latin-1", "replace")
    while poll and not port.lost.done():
        port.write(poll)
        await asyncio.wait([port.lost], timeout=ask.every_s)
    await asyncio.wait([port.lost])
