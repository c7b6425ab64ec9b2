"""Where a running service is found by faces of other processes.

A Unix socket in a folder that only its user may enter, named after the job file. Where there are no
such sockets, or on demand, TCP on the loopback instead: then a file in that folder, readable by its
user alone, says host, port and a token.
"""

import asyncio
import contextlib
import hashlib
import json
import os
import secrets
import socket
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from shared.errors import BadInputError, OutsideError

LOOPBACK = "127.0.0.1"
SOCKET, TCP = ".sock", ".tcp"
UNIX = sys.platform != "win32"
CONNECT_S = 5.0
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
    if UNIX and (status.st_uid != os.getuid() or status.st_mode & 0o077):
        raise OutsideError(
            f"{kept}: others may enter it", "remove it, or set XDG_RUNTIME_DIR to a folder of yours"
        )
    return kept


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

    met: called with every connection; limit: bytes of a line from a face.

    Raises:
        OutsideError: nothing can listen there.
    """
    if await asyncio.to_thread(_answers, address.path):
        raise OutsideError(f"another service listens at {address.path}", "end it first")
    try:
        address.path.unlink(missing_ok=True)
        if address.tcp:
            server = await asyncio.start_server(met, LOOPBACK, 0, limit=limit)
            _note_down(address, server.sockets[0].getsockname()[1])
            return server
        server = await asyncio.start_unix_server(met, address.path, limit=limit)
        address.path.chmod(0o600)
    except OSError as error:
        raise OutsideError(f"cannot listen at {address.path}: {error.strerror or error}") from error
    return server


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
            with socket.socket(socket.AF_UNIX) as line:
                line.settimeout(1.0)
                line.connect(str(path))
            return True
        if path.suffix == TCP:
            told = json.loads(path.read_text("utf-8"))
            with socket.create_connection((told["host"], told["port"]), timeout=1.0):
                return True
    return False
