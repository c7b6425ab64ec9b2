"""A level in a hand, a blade being turned, or a few bad samples: told apart by how it moves."""

import math
from dataclasses import dataclass

from daemon.measure.stream.average import median
from daemon.measure.stream.stretch import Stretch

HAND_SPEED = 12.0
"""Degrees a second: faster than a blade is turned by hand in its hub."""
FAR = 2.5
"""A rest left by this many times the lift angle was left by lifting, however slowly."""
JITTER_DEG, JITTER_SDS = 0.6, 8.0
"""Sample-to-sample unevenness of a level carried in a hand; a blade turns more smoothly."""
LEFT_SDS, AT_REST_SDS = 4.0, 5.0
"""Off the rest is a median this far from it; at rest is a sample this near."""
MOSTLY = 0.55
"""Share of a second's samples that, at rest, make the others outliers."""


@dataclass(frozen=True, slots=True)
class Windows:
    """Samples in half a second, in a second, in the few that decide, in the newest of them."""

    half: int
    second: int
    few: int
    newest: int


def windows_of(rate_hz: float) -> Windows:
    """Return the windows of a level with so many samples a second."""
    return Windows(
        half=max(6, math.ceil(rate_hz / 2.0) + 3),
        second=max(8, math.ceil(rate_hz)),
        few=max(5, math.ceil(rate_hz * 0.4)),
        newest=max(3, math.ceil(rate_hz * 0.05)),
    )


@dataclass(slots=True)
class Rest:
    """Where the level came to rest, and the quickest movement since, degrees a second."""

    at: float
    fastest: float = 0.0


class Handling:
    """Watches how the newest samples move against the last rest.

    Args:
        stretch: the samples.
        sd: standard deviation of a sample at rest.
        lift_deg: a swing by this much at more than HAND_SPEED is a lift.
        rate_hz: samples a second.
    """

    def __init__(self, stretch: Stretch, sd: float, lift_deg: float, rate_hz: float) -> None:
        self._stretch = stretch
        self._sd = self._seen_sd = sd
        self._lift_deg = lift_deg
        self._rest: Rest | None = None
        self._near = 0
        """So many of the newest samples, one after the other, are at the rest."""
        self.set_rate(rate_hz)

    def set_rate(self, hz: float) -> None:
        """Take another rate."""
        self._rate_hz, self._windows = hz, windows_of(hz)

    def set_noise(self, sd: float) -> None:
        """Take another standard deviation of a sample at rest."""
        self._sd, self._seen_sd, self._near = sd, sd, 0

    def lifted(self) -> None:
        """Forget the rest."""
        self._rest = None

    def rests(self, at: float, noise: float) -> None:
        """It rests here, with this noise."""
        self._rest = Rest(at)
        self._seen_sd = max(self._sd, noise)
        off = [abs(x - at) > LEFT_SDS * self._seen_sd for x in self._second()]
        self._near = len(off) if True not in off else off[::-1].index(True)

    def left(self) -> bool:
        """Whether most of the newest samples are off the rest; ask after `in_hand`."""
        if self._near >= self._windows.few:
            return False
        newest = median(sorted(self._stretch.tail(self._windows.few)))
        return self._rest is not None and abs(newest - self._rest.at) > LEFT_SDS * self._seen_sd

    def in_hand(self) -> bool:
        """Whether someone carries the level: it swings far or fast, or jitters. Ask once a sample."""
        if self._lies():
            return False
        few, k = self._stretch.tail(self._windows.half), self._windows.newest
        if len(few) < self._windows.half:
            return False
        newest, before = median(sorted(few[-k:])), median(sorted(few[:k]))
        speed = abs(newest - before) * self._rate_hz / (len(few) - k)
        if speed * 0.5 > self._lift_deg:
            return True
        if self._rest is not None:
            if self._swung(self._rest, newest, speed):
                return True
            if self._mostly_at(self._rest):
                return False
        return self._jitter() > max(JITTER_DEG, JITTER_SDS * self._seen_sd)

    def _lies(self) -> bool:
        """Whether all of the newest second is at the rest, and so near that what follows would say no.

        It nearly always is, and to count is quicker than to look at that second again.
        """
        if self._rest is None:
            return False
        reach = LEFT_SDS * self._seen_sd
        self._near = self._near + 1 if abs(self._stretch.newest - self._rest.at) <= reach else 0
        if self._near < self._windows.second:
            return False
        most = 2.0 * reach * self._rate_hz / (self._windows.half - self._windows.newest)
        return reach <= self._lift_deg and most <= min(HAND_SPEED, 2.0 * self._lift_deg)

    def _second(self) -> list[float]:
        return self._stretch.tail(self._windows.second)

    def _swung(self, rest: Rest, newest: float, speed: float) -> bool:
        rest.fastest = max(rest.fastest, speed)
        left = abs(newest - rest.at)
        if left > FAR * self._lift_deg:
            return True
        return left > self._lift_deg and rest.fastest > HAND_SPEED

    def _mostly_at(self, rest: Rest) -> bool:
        """A few outliers are not a hand."""
        few = self._second()
        near = [abs(x - rest.at) <= AT_REST_SDS * self._seen_sd for x in few]
        return sum(near) > MOSTLY * len(few)

    def _jitter(self) -> float:
        """Unevenness that neither starting, stopping nor a few outliers show."""
        few = self._stretch.tail(self._windows.second + 2)
        bends = sorted(
            [abs(a - 2.0 * b + c) for a, b, c in zip(few, few[1:], few[2:], strict=False)]
        )
        return bends[2 * len(bends) // 5] if len(bends) > 4 else 0.0
