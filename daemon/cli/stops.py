"""Stops: SIGINT, SIGTERM and SIGHUP, all alike.

The first ends the work in order, and the program with it. Whatever hangs then, the second ends it
within two seconds, and so does waiting: a terminal that was closed sends no second one. The record
is closed in any case.
"""

import asyncio
import contextlib
import os
import select
import signal
import socket
import sys
import threading
from collections.abc import Callable, Coroutine
from types import FrameType, TracebackType
from typing import Any, Self, TypeVar

from daemon.shell.recorder import close_all

T = TypeVar("T")
STOPS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
BY_ITSELF_S = 15.0
"""Work that was told to stop and has not after so long is ended."""
GRACE_S = 0.5
"""What ends in order meanwhile is let: a system that goes down sends two signals at once."""
CLOSE_WITHIN_S = 1.0
FORCED = 3
"""The exit code: something of the world outside hung."""
_LEAVE_SCREEN = (
    b"\x1b[?1049l\x1b[?25h\x1b[?1000l\x1b[?1003l\x1b[?1006l\x1b[?1015l\x1b[?2004l\x1b[?1004l\x1b[<u"
)
"""Terminal modes of a screen taken back: alternate screen, cursor, mouse, paste, focus, keys."""


def until_stopped(work: Coroutine[Any, Any, T]) -> tuple[T | None, bool]:
    """Run to the end, or until a stop. The record is closed.

    A signal that is ignored (`nohup`) stays so.

    Returns:
        What the work returned, None where it was cut short; and whether there was a stop.
    """
    with Stops() as stops:

        async def guarded() -> T:
            task, loop = asyncio.current_task(), asyncio.get_running_loop()
            assert task is not None
            stops.begin(lambda: loop.call_soon_threadsafe(task.cancel))
            return await work

        try:
            return asyncio.run(guarded()), stops.asked
        except asyncio.CancelledError:
            return None, True


class Stops:
    """Hears the signals in a thread of its own, so that nothing which hangs can be in the way.

    Attributes:
        asked: there was one.
    """

    def __init__(self) -> None:
        self.asked = False
        self._stop: Callable[[], object] = lambda: None
        self._over = threading.Event()
        self._mouth, self._ear = socket.socketpair()
        self._before: list[tuple[signal.Signals, Any]] = []
        self._terminal = _Terminal()

    def __enter__(self) -> Self:
        """Hear the signals from here on."""
        self._mouth.setblocking(False)
        self._fd_before = signal.set_wakeup_fd(self._mouth.fileno(), warn_on_full_buffer=False)
        for number in STOPS:
            if signal.getsignal(number) is not signal.SIG_IGN:
                self._before.append((number, signal.signal(number, self._heard)))
        threading.Thread(target=self._listen, name="stops", daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.asked:
            return  # the program ends now: what hangs on its way out is ended as well
        for number, before in self._before:
            signal.signal(number, before)
        signal.set_wakeup_fd(self._fd_before)
        self._over.set()
        with contextlib.suppress(OSError):
            self._mouth.send(b"\0")

    def begin(self, stop: Callable[[], object]) -> None:
        """From now on call this, from another thread, at the first stop; or at once."""
        self._stop = stop
        if self.asked:
            stop()

    def _heard(self, number: int, _: FrameType | None) -> None:
        """Pass it on where the system does not do so by itself: its loops take the wake-up."""
        if sys.platform == "win32":
            with contextlib.suppress(OSError):
                self._mouth.send(bytes([number]))

    def _listen(self) -> None:
        with contextlib.suppress(TimeoutError):
            self._next()
            if not self._over.is_set():
                self.asked = True
                with contextlib.suppress(RuntimeError):  # the loop has just ended
                    self._stop()
                self._ear.settimeout(BY_ITSELF_S)
                self._next()
        if not self._over.wait(GRACE_S):
            self._force()
        self._mouth.close()
        self._ear.close()

    def _next(self) -> None:
        """Wait for a stop, or for the end."""
        while not self._over.is_set():
            if any(number in STOPS for number in self._ear.recv(1)):
                return

    def _force(self) -> None:
        closed = close_all(CLOSE_WITHIN_S)
        self._terminal.restore()
        how = "the record is closed" if closed else "the disk does not answer"
        _say(f"stillblade: ended by force: {how}; everything told is in it\n")
        os._exit(FORCED)


class _Terminal:
    """The terminal as it was before a screen was put on it."""

    def __init__(self) -> None:
        self._modes: list[Any] | None = None
        if sys.platform != "win32":
            import termios

            with contextlib.suppress(termios.error, OSError, ValueError, AttributeError):
                if os.isatty(1):
                    self._modes = termios.tcgetattr(0)

    def restore(self) -> None:
        """Put it back, as far as it still takes anything."""
        if self._modes is None or sys.platform == "win32":
            return
        import termios

        with contextlib.suppress(termios.error, OSError):
            if _takes(1):
                os.write(1, _LEAVE_SCREEN)
            termios.tcsetattr(0, termios.TCSANOW, self._modes)


def _say(words: str) -> None:
    with contextlib.suppress(OSError, ValueError):
        if _takes(2):
            os.write(2, words.encode())


def _takes(descriptor: int) -> bool:
    """Whether a few bytes can be written there without waiting."""
    return bool(select.select([], [descriptor], [], 0)[1])
