"""A plain terminal, line by line: works over ssh and on a pipe. One line above the prompt may live."""

import asyncio
import os
import shutil
import sys
import threading
from collections import deque
from collections.abc import Callable
from typing import TextIO, cast

from shared.plain import plain, plain_lines
from shared.rows import cells, rows

LOOK_S = 0.25
PROMPT = "> "
_ABOVE = "\x1b7\x1b[1A\r{}\x1b[K\x1b8"
"""Save the cursor, up, a line anew, back (ECMA-48 and DEC's 7 and 8): what is typed stays."""
ESCAPE = "\x1b"
"""What an arrow and its like begin with."""
NO_ANSWER = "  An arrow or another key that types nothing was in it: type it again."
LONGEST_BYTES = 65_536
"""More without a line end is no answer."""


class Lines:
    """Reads a file descriptor in a thread of its own, because no system can wait for both.

    Args:
        descriptor: where answers come from.
        out: where everything is printed.

    Attributes:
        stream: this, for code that prints to a stream.
    """

    def __init__(self, descriptor: int, out: TextIO) -> None:
        self._descriptor = descriptor
        self._out = out
        self.stream = cast(TextIO, self)
        self._typed: deque[str | None] = deque()
        self._waiter: asyncio.Future[None] | None = None
        self._begun = False
        self._ended = False
        self._redraws = (
            out.isatty()
            and os.isatty(descriptor)
            and os.environ.get("TERM") not in {None, "", "dumb"}
        ) and sys.platform != "win32"

    def say(self, *lines: str) -> None:
        """Print lines."""
        for line in lines:
            print(self._wrapped(plain_lines(line)), file=self._out)
        self._out.flush()

    def write(self, text: str) -> int:
        """Take what code prints that knows a stream; wrapped like the rest."""
        body, end = (text[:-1], "\n") if text.endswith("\n") else (text, "")
        self._out.write(self._wrapped(plain_lines(body)) + end)
        return len(text)

    def flush(self) -> None:
        """Write out what is held."""
        self._out.flush()

    def _wrapped(self, text: str) -> str:
        """Break what a terminal would break in the middle of a word, each line indented as it is."""
        width = cells(self._out)
        lines = ((line, len(line) - len(line.lstrip())) for line in text.split("\n"))
        return "\n".join(row for line, indent in lines for row in rows(line, width, indent))

    def forget_typed(self) -> None:
        """Forget what was typed while something else went on: a person's stray keys, no pipe's."""
        while os.isatty(self._descriptor) and self._typed and not self._ended:
            self._ended = self._typed.popleft() is None

    async def line(self, asked: str, live: Callable[[], str] | None = None) -> str:
        """Print what is asked; return what was typed, stripped.

        Raises:
            EOFError: the input has ended.
        """
        self._begin()
        self.say(asked, *([_cut(live())] if live else []))
        self._out.write(PROMPT)
        self._out.flush()
        while (typed := await self._next(live if self._redraws else None)) and ESCAPE in typed:
            self.say(NO_ANSWER)
            self._out.write(PROMPT)
            self._out.flush()
        if typed is None:
            self._ended = True
            self.say("")
            raise EOFError
        if not os.isatty(self._descriptor):
            self.say(typed)
        return typed

    async def quiet_line(self) -> str:
        """Return the next line without a prompt, as `line`."""
        self._begin()
        typed = await self._next(None)
        if typed is None:
            self._ended = True
            raise EOFError
        return typed

    async def _next(self, live: Callable[[], str] | None) -> str | None:
        """Return the next line, None at the end; what lives is drawn anew meanwhile."""
        while not self._typed and not self._ended:
            # not a timeout, whose cancel could meet the line that it waits for
            self._waiter = asyncio.get_running_loop().create_future()
            await asyncio.wait([self._waiter], timeout=LOOK_S if live else None)
            if live and not self._typed:
                self._out.write(_ABOVE.format(_cut(live())))
                self._out.flush()
        return self._typed.popleft() if self._typed else None

    def _arrive(self, line: str | None) -> None:
        self._typed.append(line)
        if self._waiter is not None and not self._waiter.done():
            self._waiter.set_result(None)

    def _begin(self) -> None:
        if not self._begun:
            self._begun = True
            loop = asyncio.get_running_loop()
            threading.Thread(target=self._read, args=(loop,), name="lines", daemon=True).start()

    def _read(self, loop: asyncio.AbstractEventLoop) -> None:
        kept = b""
        while True:
            try:
                data = os.read(self._descriptor, 4096)
            except OSError:
                data = b""
            *whole, kept = (kept + data).split(b"\n")
            kept = kept[-LONGEST_BYTES:]
            lines: list[str | None] = [one.decode("utf-8", "replace").strip() for one in whole]
            try:
                for line in [*lines, *([] if data else [None])]:
                    loop.call_soon_threadsafe(self._arrive, line)
            except RuntimeError:  # the loop has ended
                return
            if not data:
                return


def _cut(text: str) -> str:
    """Return one line that does not wrap."""
    return plain(text)[: shutil.get_terminal_size().columns - 1]
