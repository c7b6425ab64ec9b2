"""Where a link puts what it hears. The service gives it; a link knows nothing else of it."""

from typing import Protocol


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
    """One level's way to the sink: a reason is said once until it changes or the link was up."""

    def __init__(self, level: str, sink: Sink) -> None:
        self._level = level
        self._sink = sink
        self._said = ""

    def bytes(self, channel: int, data: bytes) -> None:
        """Pass one chunk on."""
        self._sink.bytes(self._level, channel, data)

    def up(self, identity: str) -> None:
        """Say that the link works."""
        self._said = ""
        self._sink.up(self._level, identity)

    def down(self, reason: str) -> None:
        """Say why it does not, unless that was the last thing said."""
        if reason != self._said:
            self._said = reason
            self._sink.down(self._level, reason)
