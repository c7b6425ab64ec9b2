"""The hub witness: a second level taped to the hub.

All the time it gives the shaft's tilt, where every blade stands, and whether the hub was
turned, so that which blade is horizontal need not be told.

Mounting: its normal along the shaft. Turned about its normal the upward vertical goes round
in its chord-span plane; `facing` says whether the normal looks forward or aft. Clockwise
seen from behind is a right-handed turn about forward.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daemon.measure.stream.tilts import Tilt, asin_deg
from shared.angles import difference_deg, wrap_deg
from shared.job import Propeller
from shared.profile import LevelProfile

Facing = Literal["forward", "aft"]
NEAR_DEG = 20.0
"""A blade further than this from the horizontal is not the one being read."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One look at the hub.

    Attributes:
        turn_deg: how far the propeller stands turned in its direction of rotation, from a
            zero of the level's own.
        theta_deg: the shaft's tilt, nose-up positive; None from a planar level.
    """

    turn_deg: float
    theta_deg: float | None


def socket_azimuths(propeller: Propeller) -> tuple[float, ...]:
    """Azimuths of the sockets from blade 1, growing in the direction of rotation."""
    if propeller.azimuths_deg:
        first = propeller.azimuths_deg[0]
        return tuple(wrap_deg(azimuth - first) for azimuth in propeller.azimuths_deg)
    return tuple(wrap_deg(360.0 * k / propeller.blades) for k in range(propeller.blades))


def _handedness(profile: LevelProfile) -> float:
    """+1 when chord, span, normal are a right-handed set of the level's axes, else -1."""
    axes = (profile.mounting.chord, profile.mounting.span, profile.mounting.normal)
    order = ["xyz".index(axis[1]) for axis in axes]
    even = order in ([0, 1, 2], [1, 2, 0], [2, 0, 1])
    minus = sum(axis[0] == "-" for axis in axes) % 2
    return (1.0 if even else -1.0) * (-1.0 if minus else 1.0)


class Witness:
    """Reads the hub for one propeller.

    Args:
        profile: the level taped to the hub.
        propeller: its blades and direction of rotation.
        facing: which way the level's normal looks.
        bias_deg: how much too much it shows of theta (its zero and how it sits), from a
            comparison with the reference or from two positions half a turn apart.
    """

    def __init__(
        self,
        profile: LevelProfile,
        propeller: Propeller,
        facing: Facing = "forward",
        bias_deg: float = 0.0,
    ) -> None:
        self._sockets = socket_azimuths(propeller)
        forward = facing == "forward"
        self._nose = 1.0 if forward else -1.0
        along = forward == (propeller.rotation == "clockwise")
        self._way = -1.0 if along else 1.0
        self._hand = _handedness(profile)
        self._bias_deg = bias_deg
        self._tied: float | None = None

    def look(self, tilt: Tilt) -> Seen:
        """Return the hub's turn and tilt behind one tilt of the witness."""
        if tilt.gravity is None:
            return Seen(wrap_deg(-self._way * tilt.angle_deg), None)
        chord, span, normal = tilt.gravity
        up = math.degrees(math.atan2(self._hand * span, chord))
        return Seen(wrap_deg(self._way * up), self._nose * asin_deg(normal) - self._bias_deg)

    def tie(self, seen: Seen, blade: int, psi_deg: float = 0.0) -> None:
        """Learn where blade 1 is: this blade stands at psi_deg on its reading side now."""
        first = psi_deg - self._sockets[blade - 1]
        self._tied = wrap_deg(first - seen.turn_deg)

    @property
    def tied(self) -> bool:
        """Whether it is known which blade is where."""
        return self._tied is not None

    def azimuths(self, seen: Seen) -> tuple[float, ...]:
        """Return psi of every blade, 0 = horizontal on the reading side, up positive.

        Raises:
            ValueError: nobody said yet where a blade is.
        """
        if self._tied is None:
            raise ValueError("the witness has not been told where a blade stands")
        first = self._tied + seen.turn_deg
        return tuple(wrap_deg(first + socket) for socket in self._sockets)

    def horizontal(self, seen: Seen) -> int | None:
        """Return the blade that stands horizontal on the reading side, None if none is near."""
        psis = self.azimuths(seen)
        nearest = min(range(len(psis)), key=lambda k: abs(psis[k]))
        return nearest + 1 if abs(psis[nearest]) <= NEAR_DEG else None


def hub_turned(then: Seen, now: Seen, u_deg: float) -> bool:
    """Whether the hub stands elsewhere than it did, beyond three standard uncertainties."""
    return abs(difference_deg(now.turn_deg, then.turn_deg)) > 3.0 * math.sqrt(2.0) * u_deg


def theta_change(then: Sequence[Seen], now: Sequence[Seen]) -> float | None:
    """Return how much the aircraft rocked between two stretches, None from a planar level.

    The witness's own bias cancels as long as the hub was not turned.
    """
    before = [seen.theta_deg for seen in then if seen.theta_deg is not None]
    after = [seen.theta_deg for seen in now if seen.theta_deg is not None]
    if not before or not after:
        return None
    return math.fsum(after) / len(after) - math.fsum(before) / len(before)
