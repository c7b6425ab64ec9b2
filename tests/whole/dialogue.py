"""`stillblade new` as a person sees it: a process on a pseudo-terminal of its own."""

import fcntl
import os
import pty
import select
import subprocess
import sys
import termios
import time
from pathlib import Path

from tests.whole.program import PATIENCE_S

ROOT = Path(__file__).parents[2]
OWN_TERMINAL = """
import fcntl, os, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
os.execv(sys.executable, [sys.executable, "-m", "daemon", *sys.argv[1:]])
"""
"""Makes its standard input the terminal whose Ctrl-C it hears, then is the program."""


class Dialogue:
    """A program on a terminal. heard: everything it printed so far."""

    def __init__(self, folder: Path, *words: str, **env: str) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, b"\x28\x00\x64\x00\x00\x00\x00\x00")
        self.process = subprocess.Popen(
            [sys.executable, "-c", OWN_TERMINAL, *words],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", **env},
            start_new_session=True,
        )
        os.close(slave)
        self.heard = ""
        self._closed = False
        self._seen = 0

    def wait_for(self, words: str) -> None:
        """Wait until it has printed these words, after those waited for before."""
        end = time.monotonic() + PATIENCE_S
        while words not in self.heard[self._seen :]:
            assert self._read() or time.monotonic() < end, self.heard[-1500:]
            assert time.monotonic() < end, f"no {words!r} in {self.heard[-1500:]}"
        self._seen = self.heard.index(words, self._seen) + len(words)

    def type(self, text: str) -> None:
        """Type a line."""
        self.keys(text + "\n")

    def keys(self, keys: str) -> None:
        """Type keys as they are."""
        os.write(self._master, keys.encode())

    def say(self, *pairs: tuple[str, str]) -> None:
        """Answer one question after the other: what it ends with, and the answer."""
        for question, answer in pairs:
            self.wait_for(question)
            self.wait_for("> ")
            self.type(answer)

    def end(self) -> int:
        """Wait for its end; return its exit code."""
        end = time.monotonic() + PATIENCE_S
        while self._read():
            assert time.monotonic() < end, f"no end: {self.heard[-1500:]}"
        return self.process.wait(PATIENCE_S)

    def kill(self) -> None:
        """End it where a test failed."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(PATIENCE_S)
        if not self._closed:
            self._closed = True
            os.close(self._master)

    def _read(self) -> bool:
        """Take what has come within a moment; False at its end."""
        if not select.select([self._master], [], [], 0.2)[0]:
            return self.process.poll() is None
        try:
            data = os.read(self._master, 65_536)
        except OSError:
            return False
        self.heard += data.decode("utf-8", "replace")
        return bool(data)
