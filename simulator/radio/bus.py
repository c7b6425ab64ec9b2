"""A private D-Bus daemon, so that no real system bus is touched."""

import asyncio
import contextlib
import shutil
from pathlib import Path


class PrivateBus:
    """One dbus-daemon process. `address` is what a client's environment must hold."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "bus"
        self.address = f"unix:path={self._path}"
        self._process: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        """Start the daemon and wait until it listens.

        Raises:
            FileNotFoundError: there is no dbus-daemon program.
            TimeoutError: it does not listen within 10 s.
        """
        program = shutil.which("dbus-daemon")
        if program is None:
            raise FileNotFoundError("dbus-daemon is not installed (Debian package dbus-daemon)")
        self._process = await asyncio.create_subprocess_exec(
            program,
            "--session",
            "--nofork",
            "--nopidfile",
            f"--address={self.address}",
            stderr=asyncio.subprocess.DEVNULL,
            start_new_session=True,  # Ctrl-C is for the program, which ends this one itself
        )
        async with asyncio.timeout(10.0):
            while not self._path.exists():  # noqa: ASYNC110 - a file, not an event
                await asyncio.sleep(0.01)

    @property
    def pid(self) -> int:
        """Process id of the daemon, 0 while it does not run."""
        return self._process.pid if self._process else 0

    async def stop(self) -> None:
        """End the daemon, by its process id."""
        await end(self._process)
        self._process = None


async def end(process: asyncio.subprocess.Process | None) -> None:
    """End one child process: kindly, then for certain. Does nothing to one that has ended."""
    if process is None:
        return
    with contextlib.suppress(ProcessLookupError):
        process.terminate()
    try:
        async with asyncio.timeout(5.0):
            await process.wait()
    except TimeoutError:
        process.kill()
        await process.wait()
