"""What a level that sends on change did not send: its silence says that it shows the same."""

from shared.inputs import NS
from shared.profile import Reporting

LATE = 0.5
"""Periods that a sample may come late before it counts as not sent."""
LONGEST_S = 12.0
"""A silence longer than the longest average tells nothing more."""


class Unsaid:
    """Counts the samples that a level would have sent, had its number changed.

    For a level that reports in another way there are none.
    """

    def __init__(self, reporting: Reporting) -> None:
        self._counts = reporting.mode == "on-change"
        self._period_ns = NS / reporting.rate_hz
        self._most = max(1, round(LONGEST_S * reporting.rate_hz))
        self._last_ns: int | None = None
        self._count = 0

    def said(self, t_ns: int) -> None:
        """A sample came."""
        self._last_ns, self._count = t_ns, 0

    def restart(self) -> None:
        """The line is down: what it shows is not known."""
        self._last_ns = None

    @property
    def due(self) -> int | None:
        """When the next sample counts as not sent, unless it comes first."""
        if self._last_ns is None or not self._counts or self._count >= self._most:
            return None
        return self._last_ns + round((self._count + 1.0 + LATE) * self._period_ns)

    def missed(self) -> None:
        """It was due and did not come."""
        self._count += 1
