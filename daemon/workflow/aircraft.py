"""Has the aircraft tilted? The hub witness tells, whenever the hub stands as it stood before.

A level taped to the hub is never quite square to the shaft, so what it shows of the tilt goes
round with the hub. It is therefore compared only with itself at the same place of the hub.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from daemon.measure.angle.witness import Seen, hub_turned, theta_change
from shared.inputs import NS

LEAST_DEG = 0.1
"""A smaller tilt is left to the reference, which is read again in every round."""
OUT_OF_SQUARE_DEG = 2.0
"""So far from square a taped level may sit; it matters by how far the hub stands from then."""
SAME_PLACE_U_DEG = 0.7
"""How well a blade is brought to the same azimuth again, standard uncertainty."""
SURE_NS = 5 * NS
"""A tilt has to stay so long: someone who leans on a blade or the wing lets go again."""
STEADY_DEG = 0.3


@dataclass(slots=True)
class Aircraft:
    """Remembers what the witness showed at every place of the hub since the reference."""

    _visits: list[tuple[Seen, ...]] = field(default_factory=list)
    _since_ns: int | None = None

    def forget(self) -> None:
        """The reference was read: the tilt is known anew."""
        self._visits.clear()
        self._since_ns = None

    def look(self, now: Sequence[Seen], now_ns: int) -> float | None:
        """Take the newest looks at a hub that stands still.

        Returns:
            How far the aircraft tilted since the hub last stood here, nose-up positive, once
            that has lasted; None as long as it has not, or where nothing can be compared.
        """
        if not _steady(now):
            return None
        then = next((v for v in self._visits if not _elsewhere(v[0], now[0])), None)
        if then is None:
            self._visits.append(tuple(now))
            self._since_ns = None
            return None
        change = theta_change(then, now)
        if change is None or abs(change) <= _limit(then[0], now[0]):
            self._since_ns = None
            return None
        if self._since_ns is None:
            self._since_ns = now_ns
        if now_ns - self._since_ns < SURE_NS:
            return None
        self.forget()
        self._visits.append(tuple(now))
        return change


def _steady(now: Sequence[Seen]) -> bool:
    tilts = [seen.theta_deg for seen in now if seen.theta_deg is not None]
    return bool(tilts) and max(tilts) - min(tilts) <= STEADY_DEG


def _elsewhere(then: Seen, now: Seen) -> bool:
    return hub_turned(then, now, SAME_PLACE_U_DEG)


def _limit(then: Seen, now: Seen) -> float:
    turned = math.radians(abs(now.turn_deg - then.turn_deg))
    return LEAST_DEG + OUT_OF_SQUARE_DEG * abs(math.sin(turned))
