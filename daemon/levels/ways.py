"""The way to a level that no profile describes: what the dialog of motions wants of a link."""

import asyncio
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractAsyncContextManager
from typing import Protocol

from drivers.learn.asked import Heard

Take = Callable[[int, bytes], None]
"""Given the channel, and the bytes that came at once."""
Say = Callable[[str], None]
"""Given a line for the person."""
Kept = tuple[int, int, bytes]
"""Nanoseconds since the motions began, channel, bytes."""

MOVE_IT = (
    "Nothing came while it lay still. Some levels send only on a change: tilt it to and fro, "
    "without a pause, until it is heard ..."
)
SILENT = (
    "not found: it sends nothing by itself, neither at rest nor in motion. Switch it on, let it "
    "stream. One that sends only when its button is pressed, or that has to be asked (polled), is "
    "not learned, because nothing is ever sent to it unasked: its profile is written by hand, with "
    "what to ask in [ask]."
)


class Tempo(Protocol):
    """The clock of a dialog: nanoseconds that never go back, and a wait."""

    def now_ns(self) -> int:
        """Return the time now."""
        ...

    async def wait(self, seconds: float) -> None:
        """Let so much time pass."""
        ...


class WallTempo:
    """Time as it passes."""

    def now_ns(self) -> int:
        """Return the time now."""
        return time.monotonic_ns()

    async def wait(self, seconds: float) -> None:
        """Let so much time pass."""
        await asyncio.sleep(seconds)


class Way(Protocol):
    """A port, or a Bluetooth address. Nothing is ever sent there unasked.

    Attributes:
        source: what the level is, in words, for the header of its recording.
    """

    source: str

    def opened(self, take: Take, say: Say, tempo: Tempo) -> AbstractAsyncContextManager[bool]:
        """Open it, find out how it is read, and hear it inside the block.

        Yields:
            Whether something came that motions can be made for; what did is said.

        Raises:
            OutsideError: it cannot be opened, or is gone.
        """
        ...

    async def missed(self) -> str:
        """Return why bytes may be missing since this was last called, "" where none are.

        Where the link broke it is awaited.

        Raises:
            OutsideError: it will not come back.
        """
        ...

    def heard(self, kept: Sequence[Kept]) -> tuple[Heard, ...]:
        """Return what came as the learner takes it: each channel that sent by itself."""
        ...
