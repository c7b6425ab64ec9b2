"""Debian's mosquitto on a loopback port of its own: started, killed, hung and started again."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Self

STARTS_S = 20.0


def free_port() -> int:
    """Return a port of the loopback that nothing listens at."""
    with socket.socket() as line:
        line.bind(("127.0.0.1", 0))
        return int(line.getsockname()[1])


class Mosquitto:
    """A broker with a folder of its own; started by root it runs as the user that Debian made for it.

    more: lines of its configuration, which then say who may enter.
    keeps: it writes down what it holds with every change, for one that will be killed; else as
        seldom as it does by itself.
    """

    def __init__(self, *more: str, keeps: bool = True) -> None:
        self.port = free_port()
        self._temporary = tempfile.TemporaryDirectory(prefix="broker-")
        self.folder = Path(self._temporary.name)
        self._more = more
        self._saves = ("autosave_interval 1", "autosave_on_changes true") if keeps else ()
        self._process: subprocess.Popen[bytes] | None = None

    def write(self, name: str, content: str) -> Path:
        """Write a file that it may read; return where."""
        path = self.folder / name
        path.write_text(content, "utf-8")
        path.chmod(0o600)
        self._give(path)
        return path

    def start(self) -> Self:
        """Start it, and return when it listens."""
        lines = [
            f"listener {self.port} 127.0.0.1",
            f"allow_anonymous {'false' if self._more else 'true'}",
            "persistence true",
            f"persistence_location {self.folder}/",
            *self._saves,
            "max_queued_messages 100000",
            "set_tcp_nodelay true",
            *self._more,
        ]
        config = self.write("mosquitto.conf", "\n".join(lines) + "\n")
        self._give(self.folder)
        program = shutil.which("mosquitto") or "/usr/sbin/mosquitto"
        self._process = subprocess.Popen(
            [program, "-c", str(config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until = time.monotonic() + STARTS_S
        while time.monotonic() < until:
            with contextlib.suppress(OSError):
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return self
            time.sleep(0.02)
        raise AssertionError("mosquitto does not listen")

    def stop(self, how: signal.Signals = signal.SIGTERM) -> None:
        """End it."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(20)
            self._process = None

    def signal(self, how: signal.Signals) -> None:
        """Hang it (SIGSTOP), or let it go on (SIGCONT)."""
        assert self._process is not None
        self._process.send_signal(how)

    def __enter__(self) -> Self:
        """Start it."""
        return self.start()

    def __exit__(self, *_: object) -> None:
        """End it, and remove what it wrote."""
        self.stop(signal.SIGKILL)
        self._temporary.cleanup()

    def _give(self, path: Path) -> None:
        if os.getuid() == 0:
            with contextlib.suppress(LookupError):
                shutil.chown(path, "mosquitto")
