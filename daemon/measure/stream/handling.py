"""A level in a hand, a blade being turned, or a few bad samples: told apart by how it moves."""

import math

from daemon.measure.stream.average import median
from daemon.measure.stream.stretch import Stretch

HAND_SPEED = 12.0
"""Degrees a second: faster than a blade is turned by hand in its hub."""
FAR = 2.5
"""A rest left by this many times the lift angle was left by lifting, however slowly."""
JITTER_DEG = 0.6
"""Sample-to-sample unevenness of a level carried in a hand; a blade turns more smoothly."""


class Handling:
    """Watches how the newest samples move against the last rest.

    Args:
        stretch: the samples.
        sd: standard deviation of a sample at rest.
        lift_deg: a swing by this much at more than HAND_SPEED is a lift.
    """

    def __init__(self, stretch: Stretch, sd: float, lift_deg: float) -> None:
        self._stretch = stretch
        self._sd = self._seen_sd = sd
        self._lift_deg = lift_deg
        self._rest: float | None = None
        self._fastest = 0.0
        self.set_rate(10.0)

    def set_rate(self, hz: float) -> None:
        """Windows in samples: half a second, a second, and the few that decide."""
        self._rate = hz
        self._half = max(6, math.ceil(hz / 2.0) + 3)
        self._second = max(8, math.ceil(hz))
        self._few = max(5, math.ceil(hz * 0.4))
        self._newest = max(3, math.ceil(hz * 0.05))

    def set_noise(self, sd: float) -> None:
        """Take another standard deviation of a sample at rest."""
        self._sd = self._seen_sd = sd

    def lifted(self) -> None:
        """Forget the rest."""
        self._rest = None
        self._fastest = 0.0

    def rests(self, at: float, noise: float) -> None:
        """It rests here, with this noise."""
        self._rest = at
        self._seen_sd = max(self._sd, noise)
        self._fastest = 0.0

    def left(self) -> bool:
        """Whether most of the newest samples are off the rest."""
        newest = median(sorted(self._stretch.tail(self._few)))
        return self._rest is not None and abs(newest - self._rest) > 4.0 * self._seen_sd

    def in_hand(self) -> bool:
        """Whether someone carries the level: it swings far or fast, or jitters."""
        few = self._stretch.tail(self._half)
        if len(few) < self._half:
            return False
        k = self._newest
        newest, before = median(sorted(few[-k:])), median(sorted(few[:k]))
        speed = abs(newest - before) * self._rate / (len(few) - k)
        self._fastest = max(self._fastest, speed)
        if self._swung(newest, speed):
            return True
        if self._mostly_at_rest():
            return False
        return self._jitter() > max(JITTER_DEG, 8.0 * self._seen_sd)

    def _swung(self, newest: float, speed: float) -> bool:
        if self._rest is not None:
            left = abs(newest - self._rest)
            if left > FAR * self._lift_deg:
                return True
            if left > self._lift_deg and self._fastest > HAND_SPEED:
                return True
        return speed * 0.5 > self._lift_deg

    def _mostly_at_rest(self) -> bool:
        """A few outliers are not a hand."""
        if self._rest is None:
            return False
        few = self._stretch.tail(self._second)
        near = [abs(x - self._rest) <= 5.0 * self._seen_sd for x in few]
        return sum(near) > 0.55 * len(few)

    def _jitter(self) -> float:
        """Unevenness that neither starting, stopping nor a few outliers show."""
        few = self._stretch.tail(self._second + 2)
        bends = sorted(
            [abs(a - 2.0 * b + c) for a, b, c in zip(few, few[1:], few[2:], strict=False)]
        )
        return bends[2 * len(bends) // 5] if len(bends) > 4 else 0.0
