"""One port for all Modbus levels on it: several units share two wires, and speak in turn."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from weakref import WeakKeyDictionary

from drivers import sentences
from drivers.links.patience import Patience
from drivers.links.port import Port, opened
from drivers.links.retry import LinkDownError
from shared.profile import Transport


def _nobody(_data: bytes) -> None:
    """Bytes that came unasked, before the first request."""


class SharedPort:
    """A port that opens with its first user and closes with its last.

    Attributes:
        turn: held from a request to its reply.
        receive: takes what arrives; whoever has the turn sets it.
    """

    def __init__(self, path: str, settings: Transport) -> None:
        self._path = path
        self._settings = settings
        self._changing = asyncio.Lock()
        self._stack = AsyncExitStack()
        self._port: Port | None = None
        self.users = 0
        self.turn = asyncio.Lock()
        self.receive: Callable[[bytes], None] = _nobody

    async def join(self, settings: Transport, patience: Patience) -> Port:
        """Return the open port.

        Raises:
            LinkDownError: it cannot be opened, or is open with other settings.
        """
        async with self._changing:
            wanted = settings.model_copy(update={"silent_after_s": self._settings.silent_after_s})
            if wanted != self._settings:
                why = "two levels on it have different speed or parity"
                raise LinkDownError(sentences.port_failed(self._path, why))
            if self._port is not None and self._port.lost.done():
                raise LinkDownError(self._port.lost.result())
            if self._port is None:
                self._port = await self._stack.enter_async_context(
                    opened(self._path, self._settings, self._received, patience)
                )
            return self._port

    async def close(self) -> None:
        """Close the port; the last user does."""
        async with self._changing:
            self._port = None
            await self._stack.aclose()

    def _received(self, data: bytes) -> None:
        self.receive(data)


_PORTS: WeakKeyDictionary[asyncio.AbstractEventLoop, dict[str, SharedPort]] = WeakKeyDictionary()


@asynccontextmanager
async def shared_port(
    path: str, settings: Transport, patience: Patience
) -> AsyncIterator[tuple[SharedPort, Port]]:
    """Use a port together with all others of this process that poll on it.

    Raises:
        LinkDownError: it cannot be opened; says why and what to do.
    """
    ports = _PORTS.setdefault(asyncio.get_running_loop(), {})
    shared = ports.setdefault(path, SharedPort(path, settings))
    shared.users += 1
    try:
        yield shared, await shared.join(settings, patience)
    finally:
        shared.users -= 1
        if not shared.users:
            if ports.get(path) is shared:
                del ports[path]
            await shared.close()
