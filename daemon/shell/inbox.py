"""The Inbox: the one place where inputs get their time.

`put` stamps and appends in one synchronous step, strictly increasing, so that `t_ns` alone is
the total order of everything the core ever sees.
"""

import asyncio
import dataclasses
from collections.abc import Callable
from contextlib import suppress

from shared.inputs import Bytes, Input, Link


class Inbox:
    """Inputs on their way to the engine; also the sink of every link.

    Args:
        now_ns: session time, from a clock that never goes back.
        last_ns: stamps start after this (a resumed session).
        changed: what the clocks have to say, asked before every input: what arrives once a
            stopped program goes on may have waited in a buffer, so it must come after that.
    """

    def __init__(
        self,
        now_ns: Callable[[], int],
        last_ns: int = -1,
        changed: Callable[[], Input | None] = lambda: None,
    ) -> None:
        self._now_ns = now_ns
        self._changed = changed
        self._last_ns = last_ns
        self._items: list[Input] = []
        self._arrived = asyncio.Event()

    def put(self, item: Input) -> int:
        """Stamp and append; return the session time it got."""
        self.look()
        return self._append(item)

    def look(self) -> None:
        """Put in what the clocks have to say, if anything."""
        change = self._changed()
        if change is not None:
            self._append(change)

    def _append(self, item: Input) -> int:
        self._last_ns = max(self._now_ns(), self._last_ns + 1)
        self._items.append(dataclasses.replace(item, t_ns=self._last_ns))
        self._arrived.set()
        return self._last_ns

    def now(self) -> int:
        """Return a session time no later than any stamp to come."""
        return max(self._now_ns(), self._last_ns)

    async def take(self, timeout_s: float) -> list[Input]:
        """Return what has arrived, in order; an empty list when nothing has by `timeout_s`."""
        if not self._items:
            # not wait_for: in Python 3.11 it swallows a cancel that meets an arrival
            with suppress(TimeoutError):
                async with asyncio.timeout(timeout_s):
                    await self._arrived.wait()
        items, self._items = self._items, []
        self._arrived.clear()
        return items

    # --- the sink of the links ----------------------------------------------------------

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Take one transport chunk."""
        self.put(Bytes(level, channel, data))

    def up(self, level: str, identity: str) -> None:
        """A link works."""
        self.put(Link(level, "up", "", identity))

    def down(self, level: str, reason: str) -> None:
        """A link does not work."""
        self.put(Link(level, "down", reason))
