"""How often a level really sends."""

from dataclasses import dataclass, field
from statistics import median

from shared.inputs import NS
from shared.profile import Reporting

LEARNED_OVER_S = 5
"""An unbroken stream this long tells the level's real rate."""
WORTH_SAYING = 0.2
"""Relative difference from the profile's rate up to which the profile stands."""


@dataclass(slots=True)
class Unbroken:
    """A stream without a gap so far."""

    from_ns: int
    intervals: int = 0
    by_second: list[int] = field(default_factory=lambda: [0] * LEARNED_OVER_S)

    def sample(self, elapsed_s: float) -> None:
        """One more sample came, so long after the first."""
        self.intervals += 1
        if elapsed_s < LEARNED_OVER_S:
            self.by_second[int(elapsed_s)] += 1

    @property
    def burst(self) -> bool:
        """Some seconds held so many samples that they alone would look like another rate.

        Those are a backlog: they had waited somewhere before the stream was read.
        """
        usual = max(1.0, median(self.by_second))
        return sum(self.by_second) > (1.0 + WORTH_SAYING) * LEARNED_OVER_S * usual


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
        elapsed_s = (t_ns - stream.from_ns) / NS
        stream.sample(elapsed_s)
        if elapsed_s < LEARNED_OVER_S:
            return 0
        if stream.burst:
            self._unbroken = Unbroken(t_ns)
            return 0
        self._known = True
        return self._learn(stream.intervals, elapsed_s)

    def _learn(self, intervals: int, elapsed_s: float) -> int:
        hz, stated_hz = intervals / elapsed_s, self.hz
        if abs(hz - stated_hz) <= WORTH_SAYING * stated_hz:
            return 0
        self.hz = hz
        return intervals
