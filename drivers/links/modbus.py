"""Poll a Modbus RTU level over a serial port, all day.

The raw reply goes to the sink on the channel that was polled; the codec reads it. No answer
and exception replies are ordinary traffic: the poll is simply made again.
"""

import asyncio
import time

from drivers import sentences
from drivers.codecs.modbus_rtu import request, with_crc
from drivers.links.patience import Patience
from drivers.links.port import Port, settled_link
from drivers.links.retry import LinkDownError, for_ever
from drivers.links.shared_port import SharedPort, shared_port
from drivers.links.sink import Announcer
from shared.job import LevelEntry
from shared.profile import Channel, LevelProfile


class _Reply:
    """The bytes that came since the last request."""

    def __init__(self) -> None:
        self.channel = Channel()
        self.data = b""
        self.arrived = asyncio.Event()

    def ask(self, channel: Channel) -> None:
        self.channel = channel
        self.data = b""
        self.arrived.clear()

    def complete(self) -> bool:
        """Tell whether the bytes so far end in a reply or an exception of this poll."""
        size = 2 * self.channel.count + 5
        plain = bytes([self.channel.unit, self.channel.function])
        exception = bytes([self.channel.unit, self.channel.function | 0x80])
        return any(
            tail.startswith(head) and len(tail) == length and with_crc(tail[:-2]) == tail
            for head, length in ((plain, size), (exception, 5))
            for tail in (self.data[-length:],)
        )


async def keep_modbus(
    entry: LevelEntry, profile: LevelProfile, announcer: Announcer, patience: Patience
) -> None:
    """Keep one polled level answering until cancelled."""
    identity = ""

    async def once() -> None:
        nonlocal identity
        if not entry.port:
            raise LinkDownError(sentences.no_port(entry.name))
        async with shared_port(entry.port, profile.transport, patience) as (shared, port):
            identity = await settled_link(entry.port, identity, patience.close_s)
            await Poller(entry, profile, announcer, patience, shared, identity).run(port)

    await for_ever(once, announcer, patience)


class Poller:
    """Asks one channel after the other, at the profile's rate."""

    def __init__(
        self,
        entry: LevelEntry,
        profile: LevelProfile,
        announcer: Announcer,
        patience: Patience,
        shared: SharedPort,
        identity: str,
    ) -> None:
        self._shared = shared
        self._port_name = entry.port
        self._identity = identity
        self._channels = profile.channels
        self._period_s = 1.0 / profile.reporting.rate_hz
        self._announcer = announcer
        self._patience = patience
        self._reply = _Reply()
        self._up = False

    def receive(self, data: bytes) -> None:
        """Take one chunk from the port."""
        if not self._up:
            self._up = True
            self._announcer.up(self._identity)
        self._announcer.bytes(self._reply.channel.number, data)
        self._reply.data += data
        self._reply.arrived.set()

    async def run(self, port: Port) -> None:
        """Poll until the port is lost or nothing answers.

        Raises:
            LinkDownError: always; says which of the two.
        """
        answered = due = time.monotonic()
        while not port.lost.done():
            for channel in self._channels:
                if await self._poll(port, channel):
                    answered = time.monotonic()
            if time.monotonic() - answered > self._patience.data_s:
                unit = self._channels[0].unit
                raise LinkDownError(sentences.no_reply(unit, self._port_name))
            due = max(due + self._period_s, time.monotonic())
            await asyncio.wait([port.lost], timeout=due - time.monotonic())
        raise LinkDownError(port.lost.result())

    async def _poll(self, port: Port, channel: Channel) -> bool:
        """Ask once, when it is this level's turn; return whether a whole reply came."""
        async with self._shared.turn:
            self._shared.receive = self.receive
            self._reply.ask(channel)
            port.write(request(channel))
            if await self._complete(self._patience.reply_s):
                return True
            # A reply that comes late must not be taken for the answer to the next request.
            return await self._complete(self._patience.reply_s)

    async def _complete(self, seconds: float) -> bool:
        try:
            async with asyncio.timeout(seconds):
                while not self._reply.complete():
                    await self._reply.arrived.wait()
                    self._reply.arrived.clear()
        except TimeoutError:
            return False
        return True
