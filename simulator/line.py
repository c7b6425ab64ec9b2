"""A pseudo-terminal that stands in for a level's serial line (POSIX).

The program opens the slave by a path that stays the same (a symbolic link), as a good serial
port's stable link does; pulling the line closes both ends, so the program sees it vanish.
"""

import os
import tempfile
import threading
from pathlib import Path

ROOM_BYTES = 65536


class Line:
    """One line. Nothing in it ever waits: what does not fit is counted and lost.

    A level may stream in a thread of its own while somebody else pulls the line, or disturbs it.

    Attributes:
        lost: bytes that found the line full or pulled.
    """

    def __init__(self, name: str) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="stillblade-line-"))
        self._path = self._folder / name
        self._master = -1
        self._slave = -1
        self._waiting = bytearray()
        self._one = threading.RLock()
        self.lost = 0

    def open(self) -> str:
        """Make the line; return the path to give to the serial link.

        Raises:
            OSError: the system gives no pseudo-terminal.
        """
        self._connect()
        return str(self._path)

    def write(self, data: bytes) -> None:
        """Send bytes; what the reader has no room for yet waits, up to 64 KiB, then is lost."""
        with self._one:
            if self._master < 0:
                self.lost += len(data)
                return
            room = ROOM_BYTES - len(self._waiting)
            self._waiting += data[:room]
            self.lost += max(0, len(data) - room)
            self._flush()

    def read(self) -> bytes:
        """Return what the program has written to the level, or nothing."""
        with self._one:
            if self._master < 0:
                return b""
            try:
                return os.read(self._master, 4096)
            except (BlockingIOError, OSError):
                return b""

    def pull(self) -> None:
        """Pull the line: the path vanishes and a reader sees an error."""
        with self._one:
            if self._master < 0:
                return
            self.lost += len(self._waiting)
            self._waiting.clear()
            self._path.unlink(missing_ok=True)
            os.close(self._slave)
            os.close(self._master)
            self._master = self._slave = -1

    def put_back(self) -> None:
        """Put the line back: a new pseudo-terminal under the same path."""
        with self._one:
            if self._master < 0:
                self._connect()

    def close(self) -> None:
        """Pull the line for good and remove its path. May be called twice."""
        self.pull()
        if self._folder.exists():
            self._folder.rmdir()

    def _connect(self) -> None:
        # Only here: systems without pseudo-terminals still run the demo on data time.
        import pty  # noqa: PLC0415
        import tty  # noqa: PLC0415

        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        # The slave stays open here so that the line lives on while the program reopens it.
        self._path.symlink_to(os.ttyname(self._slave))

    def _flush(self) -> None:
        try:
            sent = os.write(self._master, self._waiting)
        except (BlockingIOError, InterruptedError):
            return
        except OSError:
            self.pull()
            return
        del self._waiting[:sent]
