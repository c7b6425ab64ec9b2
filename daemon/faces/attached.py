"""The face's end of the wire: a Desk in this process that mirrors the service's.

The connection is kept: where it breaks, it is made again, and events go on after the last one heard,
so a face misses none. After a while without a service the Desk closes.
"""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from daemon.faces import wire
from daemon.faces.addresses import Address, connected
from daemon.shell.counter import Counter
from shared.errors import OutsideError
from shared.events import Event
from shared.inputs import Command
from shared.view import View

log = logging.getLogger(__name__)

WELCOME_S = 5.0
AGAIN_S = 0.5
"""So long between two attempts to reach a service that went away."""
GIVEN_UP_S = 30.0
AWAY = "the service went away: nothing here is new, and nothing is taken, until it is back"
LEAVE_S = 2.0


class RefusedError(OutsideError):
    """The service does not want this face."""


@asynccontextmanager
async def attached(address: Address, version: str) -> AsyncIterator[Counter]:
    """Give the Desk of a running service, for as long as the context is open.

    Raises:
        OutsideError: nobody is there, or it does not want this face.
    """
    mirror = _Mirror(address, version)
    try:
        desk = await mirror.begin()
        async with asyncio.TaskGroup() as group:
            keeping = group.create_task(mirror.keep(), name="attached")
            yield desk
            keeping.cancel()
    finally:
        await mirror.hang_up()


class _Mirror:
    """One service's Desk, and the connection it comes over."""

    def __init__(self, address: Address, version: str) -> None:
        self._address = address
        self._version = version
        self._session = ""
        self._streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        self._desk: Counter

    def put(self, command: Command) -> None:
        """Send a command; its answer is an event. One that meets a broken line has none."""
        if self._streams is not None:
            self._streams[1].write(wire.asked_line(command))

    async def begin(self) -> Counter:
        """Connect; return the Desk as soon as there is a picture to show."""
        await self._connect(after=0)
        view = await self._told()
        if not isinstance(view, View):
            raise OutsideError(f"the service at {self._address.path} shows nothing")
        self._desk = Counter(self, [], view)
        return self._desk

    async def keep(self) -> None:
        """Mirror until the session is over, or the service is gone for good."""
        try:
            while not await self._hear():
                await self._desk.notice((AWAY,))
                if not await self._again():
                    return
        finally:
            await self._desk.close()

    async def _hear(self) -> bool:
        """Pass on what is told; False: the connection broke."""
        try:
            while True:
                match told := await self._told():
                    case View():
                        await self._desk.tell([], told)
                    case Event():
                        if told.n > self._desk.newest:
                            await self._desk.tell([told], self._desk.view)
                    case _:
                        return True
        except (OSError, asyncio.IncompleteReadError) as error:
            log.warning("the service does not answer: %s", error)
            return False

    async def _again(self) -> bool:
        """Reach the service again; False: it is gone, or runs another session."""
        session = self._session
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(GIVEN_UP_S):
                while True:
                    await asyncio.sleep(AGAIN_S)
                    with contextlib.suppress(OutsideError, OSError, asyncio.IncompleteReadError):
                        await self._connect(after=self._desk.newest)
                        return self._session == session
        return False

    async def _connect(self, after: int) -> None:
        await self.hang_up()
        reader, writer, token = await connected(self._address, wire.LONGEST_ANSWER)
        self._streams = reader, writer
        writer.write(wire.hello_line(wire.Hello(self._version, after, token)))
        try:
            async with asyncio.timeout(WELCOME_S):
                welcome = await self._told()
        except (TimeoutError, OSError, ValueError, asyncio.IncompleteReadError) as error:
            raise OutsideError(f"no service answers at {self._address.path}: {error}") from error
        if isinstance(welcome, wire.Refusal):
            raise RefusedError(f"the service refuses: {welcome.why}")
        if not isinstance(welcome, wire.Welcome):
            raise OutsideError(f"what answers at {self._address.path} is no stillblade")
        self._session = welcome.session

    async def _told(self) -> wire.Told:
        """Return the next line.

        Raises:
            IncompleteReadError: the service hung up.
        """
        assert self._streams is not None
        return wire.told_from(await self._streams[0].readuntil(b"\n"))

    async def hang_up(self) -> None:
        """Close the connection, if there is one."""
        if self._streams is None:
            return
        (_, writer), self._streams = self._streams, None
        writer.close()
        with contextlib.suppress(OSError, TimeoutError):
            async with asyncio.timeout(LEAVE_S):
                await writer.wait_closed()
