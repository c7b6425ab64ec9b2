"""A person at a keyboard: lines of standard input, awaited without holding anything up."""

import asyncio
import threading
from typing import TextIO


class Typed:
    """Lines of a text stream, one after the other; see `daemon.levels.guided.Person`.

    A thread of its own reads them: a read that never ends must not keep the program.
    """

    def __init__(self, source: TextIO) -> None:
        self._source = source
        self._lines: asyncio.Queue[str | None] = asyncio.Queue()
        self._started = False

    async def answer(self) -> str | None:
        """Return the next line without its end; None after the last."""
        if not self._started:
            self._started = True
            loop = asyncio.get_running_loop()
            threading.Thread(target=self._read, args=(loop,), name="typed", daemon=True).start()
        return await self._lines.get()

    def _read(self, loop: asyncio.AbstractEventLoop) -> None:
        line: str | None = ""
        while line is not None:
            try:
                line = self._source.readline() or None
            except (OSError, ValueError):
                line = None
            said = None if line is None else line.rstrip("\r\n")
            try:
                loop.call_soon_threadsafe(self._lines.put_nowait, said)
            except RuntimeError:  # the dialog is over
                return
