"""The last samples of a level, unwrapped, oldest first."""

import math

from daemon.measure.stream.average import median
from daemon.measure.stream.tilts import Tilt
from shared.angles import difference_deg


class Stretch:
    """A bounded run of samples; an angle that passes half a turn goes on counting."""

    def __init__(self, circular: bool) -> None:
        self._circular = circular
        self._angles: list[float] = []
        self._spans: list[float | None] = []
        self._most = 1

    def keep(self, samples: int) -> None:
        """Keep at least the newest so many samples."""
        self._most = samples

    def clear(self) -> None:
        """Forget all."""
        self._angles.clear()
        self._spans.clear()

    def push(self, tilt: Tilt) -> None:
        """Add one sample."""
        angle = tilt.angle_deg
        if self._circular and self._angles:
            before = self._angles[-1]
            angle = before + difference_deg(angle, before)
        self._add(angle, tilt.psi_deg)

    def repeat(self) -> None:
        """Add the newest sample once more; there must be one."""
        self._add(self._angles[-1], self._spans[-1])

    @property
    def empty(self) -> bool:
        """There is no sample."""
        return not self._angles

    @property
    def newest(self) -> float:
        """The newest sample; there must be one."""
        return self._angles[-1]

    def tail(self, n: int) -> list[float]:
        """Return the newest n samples, or all there are."""
        return self._angles[-n:]

    def before(self, n: int, most: int) -> list[float]:
        """Return up to `most` samples that came just before the newest n."""
        end = max(len(self._angles) - n, 0)
        return self._angles[max(end - most, 0) : end]

    def span(self, n: int) -> float | None:
        """Median elevation of the span over the newest n samples, where the level knows it."""
        known = sorted([span for span in self._spans[-n:] if span is not None])
        return median(known) if known else None

    def live(self, rate_hz: float, reach: float) -> float:
        """Return an angle for the eye: a short mean at rest, the newest in motion."""
        few = self.tail(max(1, math.floor(rate_hz * 0.35)))
        middle, newest = median(sorted(few)), median(sorted(few[-3:]))
        near = [x for x in few if abs(x - middle) <= reach]
        calm = abs(newest - middle) <= reach and 2 * len(near) > len(few)
        return math.fsum(near) / len(near) if calm else newest

    def _add(self, angle: float, span: float | None) -> None:
        self._angles.append(angle)
        self._spans.append(span)
        if len(self._angles) > 2 * self._most:
            del self._angles[: -self._most]
            del self._spans[: -self._most]
