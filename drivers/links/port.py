"""One serial port, open: serialx behind a thin adapter.

Bytes are handed over in the callback that got them, so nothing can reorder them. Every way
a port can fail comes out as a LinkDownError with its sentence.
"""

import asyncio
import errno
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import serialx

from drivers import sentences
from drivers.links.patience import Patience
from drivers.links.retry import LinkDownError
from drivers.links.where import is_address, is_server, names_a_server
from shared.profile import Transport

_PARITY = {
    "none": serialx.Parity.NONE,
    "even": serialx.Parity.EVEN,
    "odd": serialx.Parity.ODD,
}
_STOP_BITS = {1: serialx.StopBits.ONE, 2: serialx.StopBits.TWO}
_OUTSIDE = (OSError, ValueError, RuntimeError, serialx.SerialException, serialx.UnsupportedSetting)
_BY_ID = Path("/dev/serial/by-id")


class Port(asyncio.Protocol):
    """An open port. `lost` is done when it went away."""

    def __init__(self, path: str, receive: Callable[[bytes], None]) -> None:
        self._path = path
        self._receive = receive
        self._transport: asyncio.WriteTransport | None = None
        self.lost: asyncio.Future[str] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Keep the transport (called by serialx)."""
        assert isinstance(transport, asyncio.WriteTransport)
        self._transport = transport

    def data_received(self, data: bytes) -> None:
        """Hand one chunk over (called by serialx)."""
        self._receive(data)

    def connection_lost(self, exc: Exception | None) -> None:
        """Remember why it ended (called by serialx)."""
        if not self.lost.done():
            self.lost.set_result(_lost(self._path, exc))

    def write(self, data: bytes) -> None:
        """Send bytes.

        Raises:
            LinkDownError: the port is gone.
        """
        if self._transport is None or self.lost.done():
            raise LinkDownError(sentences.unplugged(self._path))
        try:
            self._transport.write(data)
        except OSError as error:
            raise LinkDownError(sentences.unplugged(self._path)) from error


@asynccontextmanager
async def opened(
    path: str, settings: Transport, receive: Callable[[bytes], None], patience: Patience
) -> AsyncIterator[Port]:
    """Open a port exclusively, and close its descriptor at once at the end.

    receive: called with every chunk, in order.

    path: a serial port, or the URL of a serial server ("socket://host:port"), which keeps the
        line's speed itself.

    Raises:
        LinkDownError: it cannot be opened; says why and what to do.
    """
    if is_address(path):
        raise LinkDownError(sentences.address_for_a_port(path))
    port = Port(path, receive)
    try:
        async with asyncio.timeout(patience.call_s):
            plain = is_server(path) or await asyncio.to_thread(_is_pseudo, path)
            transport, _ = await serialx.create_serial_connection(
                asyncio.get_running_loop(),
                lambda: port,
                path,
                settings.baud,
                _PARITY["none" if plain else settings.parity],
                _STOP_BITS[settings.stop_bits],
                exclusive=True,
            )
    except TimeoutError as error:
        raise LinkDownError(sentences.not_answering(path, patience.call_s)) from error
    except _OUTSIDE as error:
        raise LinkDownError(_sentence(path, error)) from error
    try:
        yield port
    finally:
        transport.abort()
        with suppress(TimeoutError):
            async with asyncio.timeout(patience.close_s):
                await transport.wait_closed()


def stable_link(path: str) -> str:
    """Return the link that names the adapter itself rather than the order of plugging in.

    The path unchanged where there is none (no udev, a built-in port, a pseudo-terminal).
    """
    try:
        links = [link for link in _BY_ID.iterdir() if link.samefile(path)]
    except OSError:
        return path
    return str(min(links)) if links else path


async def settled_link(path: str, before: str, patience_s: float) -> str:
    """Return the stable link, and wait a little for the one that was there before.

    The system makes the link some time after the port appears; an adapter that was plugged in
    again must not look like another one meanwhile.
    """
    deadline = time.monotonic() + patience_s
    while True:
        link = await asyncio.to_thread(stable_link, path)
        if link != path or before in {"", path} or time.monotonic() > deadline:
            return link
        await asyncio.sleep(0.1)


def _is_pseudo(path: str) -> bool:
    """Tell a pseudo-terminal: it has no parity, and the system refuses to pretend twice."""
    return str(Path(path).resolve()).startswith("/dev/pts/")


def _lost(path: str, error: Exception | None) -> str:
    """Return why an open port ended."""
    plain = error is None or getattr(error, "errno", None) in {errno.EIO, errno.ENXIO}
    if plain and is_server(path):
        return sentences.server_failed(path, "it ended the connection")
    return sentences.unplugged(path) if plain else _sentence(path, error)


def _sentence(path: str, error: Exception | None) -> str:
    if is_server(path):
        known = names_a_server(path)
        return sentences.server_failed(path, str(error)) if known else sentences.no_server(path)
    if isinstance(error, serialx.UnsupportedSetting):
        return sentences.setting_refused(path, str(error))
    number = getattr(error, "errno", None)
    if number in {errno.ENOTTY, errno.EISDIR}:
        return sentences.not_a_port(path)
    if number in {errno.ENOENT, errno.ENODEV, errno.ENXIO}:
        return sentences.port_missing(path)
    if number in {errno.EBUSY, errno.EAGAIN}:
        return sentences.port_busy(path)
    if number in {errno.EACCES, errno.EPERM}:
        return sentences.port_forbidden(path, _group(path))
    if number == errno.EIO:
        return sentences.unplugged(path)
    return sentences.port_failed(path, str(error))


def _group(path: str) -> str:
    try:
        return Path(path).group()
    except (OSError, KeyError, NotImplementedError):  # gone, unnamed, or no groups here
        return ""
