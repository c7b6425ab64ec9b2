"""After a link came up: do its bytes mean anything?

A line at the wrong speed brings bytes all day and never a frame. Until the first valid frame
the bytes are read along; from then on they are only passed through.
"""

import time
from collections.abc import Callable

from drivers import codecs, sentences
from shared.profile import LevelProfile


class FirstFrame:
    """Reads along until the first valid frame.

    patience_s: bytes for so long without one are called unreadable.
    """

    def __init__(
        self,
        profile: LevelProfile,
        patience_s: float,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._profile = profile
        self._patience_s = patience_s
        self._clock = clock
        self.restart()

    def restart(self) -> None:
        """The link came up: begin anew."""
        self._codec = codecs.make(self._profile)
        self._since: float | None = None
        self.found = False

    def take(self, channel: int, data: bytes) -> str:
        """Read one chunk along; return the sentence when it is time to say it, else ""."""
        if self.found or channel >= codecs.BATTERY_CHANNEL:
            return ""
        self.found = bool(self._codec.feed(channel, data)) or self._answered()
        now = self._clock()
        self._since = now if self._since is None else self._since
        late = now - self._since >= self._patience_s
        return self._sentence() if late and not self.found and self._suspicious() else ""

    def _answered(self) -> bool:
        """An exception is no sample, and still a frame of the right device."""
        return any(reason.startswith("exception") for reason in self._codec.refused)

    def _suspicious(self) -> bool:
        """A level that sends only at times may have had nothing to say yet."""
        return self._profile.reporting.mode == "stream" or bool(self._codec.refused)

    def _sentence(self) -> str:
        transport = self._profile.transport
        if transport.link in {"serial", "modbus"}:
            return sentences.wrong_speed(transport.baud, self._patience_s)
        return sentences.wrong_format(self._patience_s)
