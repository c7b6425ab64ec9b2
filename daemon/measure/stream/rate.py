"""How often a level really sends."""

from dataclasses import dataclass

from shared.inputs import NS
from shared.profile import Reporting

LEARNED_OVER_S = 5.0
"""An unbroken stream this long tells the level's real rate."""
WORTH_SAYING = 0.2
"""Relative difference from the profile's rate up to which the profile stands."""


@dataclass(slots=True)
class Unbroken:
    """A stream without a gap so far."""

    from_ns: int
    intervals: int = 0

    def sample(self) -> None:
        """One more sample came."""
        self.intervals += 1


class RateStudy:
    """Learns the rate of a level that streams, once.

    Attributes:
        hz: the rate that is known best.
    """

    def __init__(self, reporting: Reporting) -> None:
        self.hz = reporting.rate_hz
        self._known = reporting.mode != "stream"
        self._unbroken: Unbroken | None = None

    def restart(self) -> None:
        """Forget the stream, after a gap."""
        self._unbroken = None

    def push(self, t_ns: int) -> int:
        """Take a sample's time; return from how many another rate is known now, mostly 0."""
        if self._known:
            return 0
        if self._unbroken is None:
            self._unbroken = Unbroken(t_ns)
            return 0
        stream = self._unbroken
        stream.sample()
        elapsed_s = (t_ns - stream.from_ns) / NS
        if elapsed_s < LEARNED_OVER_S:
            return 0
        self._known = True
        return self._learn(stream.intervals, elapsed_s)

    def _learn(self, intervals: int, elapsed_s: float) -> int:
        hz, stated_hz = intervals / elapsed_s, self.hz
        if abs(hz - stated_hz) <= WORTH_SAYING * stated_hz:
            return 0
        self.hz = hz
        return intervals
