"""The service's end of the wire: every face of another process gets the Desk, and no more.

A face that crashes, hangs up, talks nonsense or reads nothing ends its own connection and disturbs
nothing: each has its own task, and nothing it does is waited for without a limit.
"""

import asyncio
import contextlib
import hmac
import logging
from collections.abc import Callable, Coroutine

from daemon.faces import wire
from daemon.faces.addresses import Address, opened
from daemon.shell.counter import Counter
from shared.messages import LONGEST_LINE

log = logging.getLogger(__name__)

HELLO_S = 5.0
"""A face that has not said who it is by then is sent away."""
STALLED_S = 10.0
"""A face that reads nothing for so long is sent away."""
LEAVE_S = 2.0
"""After the last event a face is given so long to hang up by itself."""
MOST_FACES = 16


class Listening:
    """Answers faces at one address.

    welcome: version and session, told to each; desk: what all are given.
    """

    def __init__(self, desk: Counter, address: Address, welcome: wire.Welcome) -> None:
        self._desk = desk
        self._address = address
        self._welcome = welcome
        self._faces = 0

    async def run(self, ready: Callable[[], None] = lambda: None) -> None:
        """Listen until cancelled. ready: called once faces may come.

        Raises:
            OutsideError: nothing can listen at the address.
        """
        group = asyncio.TaskGroup()

        closing = False

        def met(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            if closing:  # it was on its way when the service ended
                writer.close()
            else:
                group.create_task(self._meet(reader, writer), name="attached face")

        server = await opened(self._address, met, LONGEST_LINE)
        async with group:
            try:
                ready()
                await asyncio.get_running_loop().create_future()
            finally:
                closing = True
                server.close()
                self._address.path.unlink(missing_ok=True)

    async def _meet(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._faces += 1
        try:
            if self._faces > MOST_FACES:
                raise ValueError(f"{MOST_FACES} faces are attached already")  # noqa: TRY301
            await self._serve(reader, _Teller(writer))
        except (ValueError, asyncio.IncompleteReadError) as error:
            log.warning("an attached face is sent away: %s", error)
            with contextlib.suppress(OSError, TimeoutError):
                await _Teller(writer).tell(wire.Refusal(str(error)))
        except (OSError, TimeoutError) as error:
            log.info("an attached face is gone: %s", str(error) or "it read nothing")
        finally:
            self._faces -= 1
            writer.close()
            with contextlib.suppress(OSError, TimeoutError):
                async with asyncio.timeout(LEAVE_S):
                    await writer.wait_closed()

    async def _serve(self, reader: asyncio.StreamReader, teller: "_Teller") -> None:
        async with asyncio.timeout(HELLO_S):
            line = await reader.readline()
        if not line:
            return  # it only looked whether somebody is here
        hello = wire.hello_from(line)
        if not hmac.compare_digest(hello.token.encode(), self._address.token.encode()):
            raise ValueError("the token is wrong")
        if hello.version != self._welcome.version:
            raise ValueError(
                f"the service is stillblade {self._welcome.version}, this face {hello.version}: "
                "use the same"
            )
        await teller.tell(self._welcome)
        await teller.tell(self._desk.view)
        await _first_of(
            commands=self._listen(reader),
            views=self._views(teller),
            events=self._events(hello.after, teller),
        )

    async def _listen(self, reader: asyncio.StreamReader) -> None:
        """Put commands in, one after the other; returns when the face hangs up."""
        while line := await reader.readline():
            await self._desk.send(wire.asked_from(line, self._desk.newest))

    async def _views(self, teller: "_Teller") -> None:
        async for view in self._desk.views():
            await teller.tell(view)
        await asyncio.get_running_loop().create_future()  # it ends with the events

    async def _events(self, after: int, teller: "_Teller") -> None:
        async for event in self._desk.events(after):
            await teller.tell(event)
        await teller.tell(wire.Over())
        await asyncio.sleep(LEAVE_S)


class _Teller:
    """Writes whole lines; who reads nothing makes it fail."""

    def __init__(self, writer: asyncio.StreamWriter) -> None:
        self._writer = writer
        self._turn = asyncio.Lock()

    async def tell(self, told: wire.Told) -> None:
        """Write one line, and wait until there is room for the next.

        Raises:
            TimeoutError: nothing was read for too long.
            OSError: the face is gone.
        """
        async with self._turn, asyncio.timeout(STALLED_S):
            self._writer.write(wire.told_line(told))
            await self._writer.drain()


async def _first_of(**work: Coroutine[None, None, None]) -> None:
    """Run all, each under its name, until the first ends; raise what it raised."""
    try:
        async with asyncio.TaskGroup() as group:
            tasks = [group.create_task(each, name=name) for name, each in work.items()]
            await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in tasks:
                task.cancel()
    except ExceptionGroup as failed:
        raise failed.exceptions[0] from None
