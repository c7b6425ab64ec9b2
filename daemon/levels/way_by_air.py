"""The way to an unknown level over Bluetooth: every characteristic that sends is subscribed."""

import asyncio
from collections import Counter
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from typing import Any

from daemon.levels.ways import MOVE_IT, SILENT, Kept, Say, Take, Tempo
from drivers.codecs import BATTERY_CHANNEL
from drivers.learn.asked import Heard
from drivers.links.air import shared_air
from drivers.links.ble_aside import BATTERY
from drivers.links.patience import PATIENT, Patience
from drivers.links.services import Listener, Offered, listen_to_services, short
from shared.errors import OutsideError

LISTEN_S = 5.0
"""Untouched, once it is connected."""
MOVED_S = 8.0
"""In motion, where nothing came."""


class ByAir:
    """One Bluetooth address; see `daemon.levels.ways.Way`. A channel is a characteristic that sends.

    air, backend: for tests; None = the shared one, and the platform's own.
    """

    source = "a level over Bluetooth"

    def __init__(
        self, address: str, patience: Patience = PATIENT, air: Any = None, backend: Any = None
    ) -> None:
        self._address = address
        self._patience = patience
        self._air = air or shared_air()
        self._backend = backend
        self._device = _Device()

    @asynccontextmanager
    async def opened(self, take: Take, say: Say, tempo: Tempo) -> AsyncIterator[bool]:
        """Connect, subscribe to all that sends, and hear it; a lost connection is made again."""
        self._device = device = _Device(take)
        say(f"connecting to {self._address}; nothing is written to it but subscriptions")
        failed: OutsideError | None = None
        async with asyncio.TaskGroup() as group:
            link = group.create_task(
                listen_to_services(self._address, device, self._patience, self._air, self._backend),
                name=f"unknown {self._address}",
            )
            try:
                await self._connected()
                yield await self._sends(say, tempo)
            except OutsideError as error:
                failed = error  # not out of the group, which would wrap it
            finally:
                link.cancel()
        if failed is not None:
            raise failed

    async def missed(self) -> str:
        """Return why the connection broke meanwhile, once it is there again."""
        why, self._device.broke = self._device.broke, ""
        if why:
            await self._connected()
            self._device.broke = ""
        return why

    def heard(self, kept: Sequence[Kept]) -> tuple[Heard, ...]:
        """Return the notifications of each characteristic that sent any."""
        by_channel: dict[int, list[tuple[int, bytes]]] = {}
        for t_ns, channel, data in kept:
            by_channel.setdefault(channel, []).append((t_ns, data))
        return tuple(
            Heard(
                chunks,
                "ble-notify",
                service_uuid=self._device.sending[channel].service,
                characteristic_uuid=self._device.sending[channel].uuid,
            )
            for channel, chunks in sorted(by_channel.items())
        )

    async def _connected(self) -> None:
        """Wait until it is connected.

        Raises:
            OutsideError: it is not in the air, or does not let itself be connected.
        """
        limit_s = self._patience.find_s + 2 * self._patience.call_s
        try:
            async with asyncio.timeout(limit_s):
                await self._device.there.wait()
        except TimeoutError as error:
            raise OutsideError(
                self._device.broke or f"{self._address} is not there after {limit_s:g} s"
            ) from error

    async def _sends(self, say: Say, tempo: Tempo) -> bool:
        """Listen to it at rest, and in motion where nothing came; say what it is that sends."""
        device = self._device
        if not device.sending:
            say("it offers nothing that sends: not found")
            return False
        await tempo.wait(LISTEN_S)
        if not device.angle_may_be_there:
            say(MOVE_IT)
            await tempo.wait(MOVED_S)
        for channel, one in enumerate(device.sending):
            count = device.counts[channel]
            name = f" ({one.name})" if one.name else ""
            say(f"  {one.uuid}{name}: {f'{count} notifications' if count else 'nothing'}")
        if not device.angle_may_be_there:
            say(SILENT)
        return device.angle_may_be_there


class _Device(Listener):
    """What is connected: which characteristics send, and whether the link is there.

    Attributes:
        sending: the characteristics that can send; their places are the channels.
        counts: notifications by channel.
        broke: why the link was last not there; "" where nothing broke.
    """

    def __init__(self, take: Take = lambda _channel, _data: None) -> None:
        self._take = take
        self.sending: list[Offered] = []
        self.counts = Counter[int]()
        self.there = asyncio.Event()
        self.broke = ""

    @property
    def angle_may_be_there(self) -> bool:
        """Something came that is not the battery."""
        sent = [one.uuid for channel, one in enumerate(self.sending) if self.counts[channel]]
        return any(uuid != short(BATTERY) for uuid in sent)

    def offers(self, device: str, found: list[Offered]) -> None:
        """Number what can send; a number once given stays."""
        del device
        can = [one for one in found if {"notify", "indicate"} & set(one.does)]
        self.sending += [one for one in can if one not in self.sending]
        del self.sending[BATTERY_CHANNEL:]
        self.there.set()

    def value(self, one: Offered, data: bytes, how: str) -> None:
        """Take what it sends; what is only read does not follow a motion in time."""
        if how == "notified" and one in self.sending:
            channel = self.sending.index(one)
            self.counts[channel] += 1
            self._take(channel, data)

    def trouble(self, reason: str) -> None:
        """Remember why it is gone."""
        self.there.clear()
        self.broke = reason
