"""Where a link puts what it hears. The service gives it; a link knows nothing else of it."""

from typing import Protocol

from drivers.links.first_frame import FirstFrame

Data = bytes
"""Inside a class with a method of that name, the type."""


class Sink(Protocol):
    """Every call stamps and appends in one synchronous step, and never waits."""

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Take one transport chunk, unchanged."""
        ...

    def up(self, level: str, identity: str) -> None:
        """The link works now. identity: address or stable port link of what answered."""
        ...

    def down(self, level: str, reason: str) -> None:
        """The link does not work. reason: a sentence with a remedy."""
        ...


class Announcer:
    """One level's way to the sink: a reason is said once until it changes or the link was up.

    Bytes that come before the link is said to be up wait for it, so that none comes before
    its link; what waited is forgotten when the link fails.

    first: reads along until the first valid frame. While its bytes cannot be read the level
    counts as down, with that as the reason; the bytes are passed on all the same.
    """

    def __init__(self, level: str, sink: Sink, first: FirstFrame | None = None) -> None:
        self._level = level
        self._sink = sink
        self._first = first
        self._said = ""
        self._identity = ""
        self._unread = ""
        self._waiting: list[tuple[int, Data]] | None = []

    def bytes(self, channel: int, data: bytes) -> None:
        """Pass one chunk on."""
        if self._waiting is not None:
            self._waiting.append((channel, data))
            return
        if self._first is not None and not self._first.found:
            self._read_along(self._first, channel, data)
        self._sink.bytes(self._level, channel, data)

    def up(self, identity: str) -> None:
        """Say that the link works."""
        self._said = self._unread = ""
        self._identity = identity
        if self._first is not None:
            self._first.restart()
        self._sink.up(self._level, identity)
        waiting, self._waiting = self._waiting or [], None
        for channel, data in waiting:
            self.bytes(channel, data)

    def down(self, reason: str) -> None:
        """Say why it does not, unless that was the last thing said."""
        self._unread = ""
        self._waiting = []
        self._say(reason)

    def _read_along(self, first: FirstFrame, channel: int, data: Data) -> None:
        problem = first.take(channel, data)
        if problem:
            self._unread = problem
            self._say(problem)
        elif first.found and self._unread:
            self._said = self._unread = ""
            self._sink.up(self._level, self._identity)

    def _say(self, reason: str) -> None:
        if reason != self._said:
            self._said = reason
            self._sink.down(self._level, reason)
