"""The way to an unknown level on a serial port: its speed is found by listening."""

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

from daemon.levels.ways import MOVE_IT, SILENT, Kept, Say, Take, Tempo
from drivers.learn.asked import Heard
from drivers.learn.speeds import USUAL, speeds
from drivers.links.patience import PATIENT, Patience
from drivers.links.port import Port, opened
from drivers.links.retry import LinkDownError
from shared.errors import OutsideError
from shared.profile import Transport

LISTEN_S = 4.0
"""At each speed."""
SURE = 5.0
"""What is read so well at one speed needs no other to be tried."""


class ByWire:
    """One serial port; see `daemon.levels.ways.Way`."""

    def __init__(self, port: str, patience: Patience = PATIENT) -> None:
        self.source = f"a level on {Path(port).name}"
        self._path = port
        self._patience = patience
        self._baud = USUAL[0]
        self._port: Port | None = None

    @asynccontextmanager
    async def opened(self, take: Take, say: Say, tempo: Tempo) -> AsyncIterator[bool]:
        """Find the speed, and hear the port at it."""
        try:
            if not await self._speed(take, say, tempo):
                yield False
                return
            async with self._open(self._baud, take) as self._port:
                yield True
        except LinkDownError as error:
            raise OutsideError(str(error)) from error

    async def missed(self) -> str:
        """Raise where the port is gone: it does not come back by itself."""
        if self._port is not None and self._port.lost.done():
            raise OutsideError(self._port.lost.result())
        return ""

    def heard(self, kept: Sequence[Kept]) -> tuple[Heard, ...]:
        """Return what came, with the speed."""
        return (Heard([(t_ns, data) for t_ns, _, data in kept], "serial", self._baud),)

    async def _speed(self, take: Take, say: Say, tempo: Tempo) -> bool:
        """Listen at the usual speeds, at rest and in motion; tell whether one of them was found."""
        say(f"listening to {self._path}; nothing is sent to it")
        heard = await self._at_speeds(take, say, tempo)
        if not any(heard.values()):
            say(MOVE_IT)
            heard = await self._at_speeds(take, say, tempo)
        ranked = await asyncio.to_thread(speeds, heard)
        if ranked:
            self._baud = ranked[0].baud
            return True
        read = "what it sends could not be read at any of these speeds: not found"
        say(read if any(heard.values()) else SILENT)
        return False

    async def _at_speeds(self, take: Take, say: Say, tempo: Tempo) -> dict[int, bytes]:
        """Return what is heard at each speed, up to the first at which it can surely be read."""
        heard: dict[int, bytes] = {}
        for baud in USUAL:
            heard[baud] = await self._listened(baud, take, tempo)
            best = await asyncio.to_thread(speeds, {baud: heard[baud]})
            says = best[0].says if best else f"{len(heard[baud])} bytes that make no frames"
            say(f"  at {baud}: {says if heard[baud] else 'nothing'}")
            if best and best[0].read >= SURE:
                break
        return heard

    async def _listened(self, baud: int, take: Take, tempo: Tempo) -> bytes:
        data = bytearray()

        def both(channel: int, part: bytes) -> None:
            data.extend(part)
            take(channel, part)

        async with self._open(baud, both):
            await tempo.wait(LISTEN_S)
        return bytes(data)

    @asynccontextmanager
    async def _open(self, baud: int, take: Take) -> AsyncIterator[Port]:
        transport = Transport(baud=baud)
        async with opened(
            self._path, transport, lambda data: take(0, data), self._patience
        ) as port:
            yield port
