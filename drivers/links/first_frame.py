"""After a link came up: do its bytes mean anything?

A line at the wrong speed brings bytes all day and never a frame. Until the first valid frame
the bytes are read along; from then on they are only passed through. Text that can be read, and
frames whose check is right, came at the right speed: then it is the profile's fields.
"""

import time
from collections.abc import Callable

from drivers import codecs, sentences
from shared.profile import LevelProfile

_TEXT = frozenset({"text-line", "nmea-xdr", "json-line"})
"""Codecs of formats that a person can read."""
_READABLE = frozenset(b"\t\n\r\xb0\xc2") | frozenset(range(32, 127))
"""Printable ASCII, line ends, and the degree sign."""
_MOSTLY = 0.9
"""So much of a text is readable at the right speed, even on a bad line."""
_UNFRAMED = frozenset({"checksum", "no checksum", "length", "kind", "byte", "channel", "too long"})
"""Refusals of bytes that were no whole frame; any other is of one whose check was right."""


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
        self._heard = self._readable = 0
        self.found = False

    def take(self, channel: int, data: bytes) -> str:
        """Read one chunk along; return the sentence when it is time to say it, else ""."""
        if self.found or channel >= codecs.BATTERY_CHANNEL:
            return ""
        self.found = bool(self._codec.feed(channel, data)) or self._answered()
        self._heard += len(data)
        self._readable += sum(byte in _READABLE for byte in data)
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

    def _whole(self) -> bool:
        """The bytes came as they were sent."""
        if self._profile.format.codec in _TEXT:
            return self._readable >= _MOSTLY * self._heard
        return bool(set(self._codec.refused) - _UNFRAMED)

    def _sentence(self) -> str:
        transport = self._profile.transport
        if transport.link in {"serial", "modbus"} and self._whole():
            return sentences.wrong_fields(self._patience_s, self._codec.refused)
        if transport.link in {"serial", "modbus"}:
            return sentences.wrong_speed(transport.baud, self._patience_s)
        return sentences.wrong_format(self._patience_s)
