"""Where a running service is found by faces of other processes.

A Unix socket in a folder that only its user may enter, named after the job file. Where there are no
such sockets, or on demand, TCP on the loopback instead: then a file in that folder, readable by its
user alone, says host, port and a token.
"""

import asyncio
import contextlib
import hashlib
import json
import logging
import os
import re
import secrets
import socket
import stat
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path

from filelock import FileLock, Timeout

from shared.errors import BadInputError, OutsideError

log = logging.getLogger(__name__)

LOOPBACK = "127.0.0.1"
SOCKET, TCP = ".sock", ".tcp"
UNIX = sys.platform != "win32"
TELLS = sys.platform == "linux"
"""Who refuses there is gone; on a BSD one whose queue is full refuses too."""
CONNECT_S = 5.0
NEW_S = 60.0
BEGINNING = "beginning.lock"
OURS = re.compile(r".+-(set|read|watch)-[0-9a-f]{8}\.sock")
"""What sockets are called by `address_of`."""
Met = Callable[[asyncio.StreamReader, asyncio.StreamWriter], None]


@dataclass(frozen=True, slots=True)
class Address:
    """One service. path: its socket, or the file that tells of it; token: asked for over TCP."""

    path: Path
    token: str = ""

    @property
    def tcp(self) -> bool:
        """It is reached over TCP."""
        return self.path.suffix == TCP


def folder() -> Path:
    """Return the folder of this user's services; make it.

    Raises:
        OutsideError: it cannot be made, or others may enter it.
    """
    runtime = os.environ.get("XDG_RUNTIME_DIR", "")
    user = os.getuid() if UNIX else os.environ.get("USERNAME", "")
    kept = (
        Path(runtime) / "stillblade"
        if runtime
        else Path(tempfile.gettempdir(), f"stillblade-{user}")
    )
    try:
        kept.mkdir(mode=0o700, parents=True, exist_ok=True)
        status = kept.stat()
    except OSError as error:
        raise OutsideError(f"{kept}: {error.strerror}", "set XDG_RUNTIME_DIR") from error
    if UNIX and not _private(status):
        raise OutsideError(
            f"{kept}: others may enter it", "remove it, or set XDG_RUNTIME_DIR to a folder of yours"
        )
    return kept


def _private(status: os.stat_result) -> bool:
    """Whether a folder is this user's, and nobody else may enter it."""
    return status.st_uid == os.getuid() and not status.st_mode & 0o077


def address_of(job: Path, procedure: str = "set", *, tcp: bool = not UNIX) -> Address:
    """Return where a job's sessions of this kind are reached; over TCP with a token made now.

    Raises:
        OutsideError: this user's folder of services cannot be used.
    """
    where = job.resolve()
    sign = hashlib.sha256(str(where).encode()).hexdigest()[:8]
    name = f"{where.stem[:40]}-{procedure}-{sign}"
    if tcp:
        return Address(folder() / f"{name}{TCP}", secrets.token_urlsafe(32))
    return Address(folder() / f"{name}{SOCKET}")


async def opened(address: Address, met: Met, limit: int) -> asyncio.Server:
    """Listen there; a leftover of a service that was killed gives way, one that answers does not.

    What services of other jobs left that were killed is removed too.
    met: called with every connection; limit: bytes of a line from a face.

    Raises:
        OutsideError: nothing can listen there.
    """
    async with _beginning(address.path.parent):
        if await asyncio.to_thread(_answers, address.path):
            raise OutsideError(f"another service listens at {address.path}", "end it first")
        if TELLS:
            await asyncio.to_thread(_clear, address.path.parent)
        try:
            return await _listening(address, met, limit)
        except OSError as error:
            why = str(error.strerror or error)
            remedy = "set XDG_RUNTIME_DIR to a folder of a shorter name" if "long" in why else ""
            raise OutsideError(f"cannot listen at {address.path}: {why}", remedy) from error


async def _listening(address: Address, met: Met, limit: int) -> asyncio.Server:
    address.path.unlink(missing_ok=True)
    if address.tcp:
        server = await asyncio.start_server(met, LOOPBACK, 0, limit=limit)
        _note_down(address, server.sockets[0].getsockname()[1])
        return server
    server = await asyncio.start_unix_server(met, address.path, limit=limit)
    address.path.chmod(0o600)
    return server


@asynccontextmanager
async def _beginning(kept: Path) -> AsyncIterator[None]:
    """Let one service of a folder begin at a time.

    A socket that is bound and not listened on yet refuses like one of a killed service: where nobody
    else begins, there is none.

    Raises:
        OutsideError: another has been beginning for long, or nothing can be written there.
    """
    lock = FileLock(kept / BEGINNING, thread_local=False)
    try:
        await asyncio.to_thread(lock.acquire, timeout=CONNECT_S)
    except Timeout as error:
        raise OutsideError(
            f"another service has been starting for {CONNECT_S:g} s", "end it, or try again"
        ) from error
    except OSError as error:
        raise OutsideError(f"{kept}: {error.strerror}", "set XDG_RUNTIME_DIR") from error
    try:
        yield
    finally:
        lock.release()


def _clear(kept: Path) -> None:
    """Remove sockets of our own that nobody listens on, from a folder that nobody else may enter.

    Only while no service begins (`_beginning`), and none so new that one of an earlier version, which
    waits for nobody, may be beginning.
    """
    if not _private(kept.stat()):
        return
    for path in sorted(kept.iterdir()):
        if OURS.fullmatch(path.name) and _left(path):
            log.info("%s is removed: its service was killed", path)
            path.unlink(missing_ok=True)


def _left(path: Path) -> bool:
    """Whether it is a socket of this user that refuses who connects; one that is busy does not."""
    with contextlib.suppress(OSError):
        status = path.lstat()
        old = time.time() - status.st_mtime > NEW_S
        if old and stat.S_ISSOCK(status.st_mode) and status.st_uid == os.getuid():
            return _refuses(path)
    return False


def _refuses(path: Path) -> bool:
    try:
        _connect(path)
    except ConnectionRefusedError:
        return True
    return False


def _note_down(address: Address, port: int) -> None:
    told = json.dumps({"host": LOOPBACK, "port": port, "token": address.token})
    write_private(address.path, told)


def write_private(path: Path, text: str) -> None:
    """Write a new file that its user alone may read, in place of one that is there.

    Raises:
        OSError: it cannot be written.
    """
    path.unlink(missing_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        file.write(text)


async def connected(
    address: Address, limit: int
) -> tuple[asyncio.StreamReader, asyncio.StreamWriter, str]:
    """Connect to a service; return the streams and the token it wants.

    Raises:
        OutsideError: nobody is there.
    """
    try:
        async with asyncio.timeout(CONNECT_S):
            if not address.tcp:
                return (*await asyncio.open_unix_connection(address.path, limit=limit), "")
            told = json.loads(address.path.read_text("utf-8"))
            streams = await asyncio.open_connection(told["host"], told["port"], limit=limit)
            return (*streams, str(told["token"]))
    except (OSError, TimeoutError, ValueError, KeyError) as error:
        raise OutsideError(
            f"no service answers at {address.path}", "start it: stillblade serve JOB, or run JOB"
        ) from error


def found(where: str = "") -> Address:
    """Return the service that is meant: a socket, a job file, or the only one that runs.

    Raises:
        BadInputError: several run, and none was named.
        OutsideError: none runs, or not that one.
    """
    if where:
        given = Path(where)
        if given.suffix in {SOCKET, TCP}:
            return Address(given)
        ways = [(kind, tcp) for tcp in (False, True) for kind in ("set", "read", "watch")]
        named = [address_of(given, kind, tcp=tcp) for kind, tcp in ways]
        return next((each for each in named if _answers(each.path)), named[0])
    running = [Address(path) for path in sorted(folder().iterdir()) if _answers(path)]
    if not running:
        raise OutsideError("no service of yours runs", "start one: stillblade serve JOB")
    if len(running) > 1:
        names = ", ".join(str(each.path) for each in running)
        raise BadInputError("command line", "ADDRESS", f"several run: {names}", "name one")
    return running[0]


def _answers(path: Path) -> bool:
    """Whether somebody listens there."""
    with contextlib.suppress(OSError, ValueError, KeyError):
        if path.suffix == SOCKET and UNIX:
            _connect(path)
            return True
        if path.suffix == TCP:
            told = json.loads(path.read_text("utf-8"))
            with socket.create_connection((told["host"], told["port"]), timeout=1.0):
                return True
    return False


def _connect(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as line:
        line.settimeout(1.0)
        with contextlib.suppress(BlockingIOError):  # more wait than it takes: it is there
            line.connect(str(path))
