"""The hub witness in the job: which blade is horizontal, and how far from it.

The witness is tied to the blades by the readings themselves: a blade that was read stood
horizontal, within the job's `psi_u_deg`. Every further reading improves the tie.
"""

import math
from collections import deque
from dataclasses import dataclass

from daemon.measure.angle.witness import Seen, Witness, socket_azimuths
from daemon.measure.stream.tilts import Tilt
from daemon.workflow.aircraft import Aircraft
from shared.angles import difference_deg, wrap_deg
from shared.job import Header

KEPT = 10
STILL_DEG = 0.5
"""The hub stands still when its last samples spread less than this."""
OWN_U_DEG = 0.1
"""Standard uncertainty of the witness's own azimuth at rest."""


@dataclass(frozen=True, slots=True)
class Tilted:
    """How far the witness saw the aircraft tilt in all, and the shaft's tilt before that."""

    by_deg: float
    before_deg: float


class Hub:
    """Follows the level taped to the hub; without one, knows nothing."""

    def __init__(self, header: Header) -> None:
        self._propeller = header.job.propeller
        self._psi_u_deg = header.job.setup.psi_u_deg
        entry = next((e for e in header.job.level if e.role == "hub"), None)
        self.level = entry.name if entry else None
        self._witness = (
            Witness(header.profiles[entry.name], self._propeller) if entry is not None else None
        )
        self.aircraft = Aircraft()
        self._newest: deque[Seen] = deque(maxlen=KEPT)
        self._ties: list[float] = []
        self._tied_at: float | None = None
        self._tilted: Tilted | None = None

    def see_tilt(self, by_deg: float, before_deg: float) -> None:
        """It saw the aircraft tilt; before_deg: the shaft's tilt in force."""
        seen = self._tilted or Tilted(0.0, before_deg)
        self._tilted = Tilted(seen.by_deg + by_deg, seen.before_deg)

    @property
    def tilted(self) -> Tilted | None:
        """What it saw of the aircraft since the reference was last read; None: nothing."""
        return self._tilted

    def answered(self) -> Tilted | None:
        """The reference was read because of it, or shifted as it said: return what it saw."""
        seen, self._tilted = self._tilted, None
        return seen

    def forget_tilts(self) -> None:
        """The reference was read: how the aircraft stands is known anew."""
        self.aircraft.forget()

    def push(self, tilt: Tilt, now_ns: int) -> float | None:
        """Take one sample of the witness; return how far the aircraft tilted, if it just did."""
        if self._witness is None:
            return None
        self._newest.append(self._witness.look(tilt))
        if len(self._newest) < KEPT or self._still() is None:
            return None
        return self.aircraft.look(self._newest, now_ns)

    def lost(self) -> None:
        """The witness fell silent: where the hub stands is not known any more."""
        self._newest.clear()

    def tie(self, blade: int) -> None:
        """A reading of this blade was taken: it stands horizontal now."""
        seen = self._still()
        if self._witness is None or seen is None or self._stood(seen):
            return
        first = -socket_azimuths(self._propeller)[blade - 1]
        self._ties.append(wrap_deg(first - seen.turn_deg))
        start = self._ties[0]
        apart = [difference_deg(tie, start) for tie in self._ties]
        mean = start + math.fsum(apart) / len(apart)
        self._witness.tie(seen, blade, wrap_deg(mean - first + seen.turn_deg))

    def _stood(self, seen: Seen) -> bool:
        """Whether the hub was not turned since the last tie: that says nothing new."""
        before, self._tied_at = self._tied_at, seen.turn_deg
        return before is not None and abs(difference_deg(seen.turn_deg, before)) < STILL_DEG

    @property
    def turns(self) -> bool:
        """Whether it is seen to turn: nothing lies on a blade then."""
        return len(self._newest) >= KEPT // 2 and self._still() is None

    def horizontal(self) -> int | None:
        """Return the blade that stands horizontal on the reading side; None: not known."""
        seen = self._still()
        if self._witness is None or seen is None or not self._witness.tied:
            return None
        return self._witness.horizontal(seen)

    def theta_deg(self) -> float | None:
        """Return the tilt of the shaft as it sees it, sitting as it does; None: not known."""
        seen = self._still()
        return None if seen is None else seen.theta_deg

    def azimuth(self, blade: int) -> tuple[float, float] | None:
        """Return psi of a blade and its standard uncertainty; None: not known."""
        seen = self._still()
        if self._witness is None or seen is None or not self._witness.tied:
            return None
        u = math.hypot(self._psi_u_deg / math.sqrt(len(self._ties)), OWN_U_DEG)
        return self._witness.azimuths(seen)[blade - 1], u

    def _still(self) -> Seen | None:
        """Return the mean of the newest looks if the hub stands still."""
        if len(self._newest) < KEPT // 2:
            return None
        first = self._newest[0]
        apart = [difference_deg(seen.turn_deg, first.turn_deg) for seen in self._newest]
        if max(apart) - min(apart) > STILL_DEG:
            return None
        turn = wrap_deg(first.turn_deg + math.fsum(apart) / len(apart))
        return Seen(turn, self._newest[-1].theta_deg)
