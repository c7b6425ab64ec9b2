"""The ledger: every reading of the job, and what holds of each blade because of them.

Readings are never deleted or changed, only withdrawn or given to another blade. Everything
else about a blade (its baseline, its state) follows from them.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from daemon.measure.angle import BladeAngle, mean_of
from daemon.measure.both_sides import tilt_of
from daemon.measure.reference import turned_mean
from daemon.measure.stream.reading import Reading
from shared.events import REFERENCE, BladeId, Half, Sense, Verdict
from shared.job import Setup


@dataclass(slots=True)
class Entry:
    """One captured reading.

    passed: which pass over its stage it belongs to: the attempt of a blade's setting, or the
    pass of a round (both count up when the work starts over).
    t_ns: session time of the capture.
    azimuth: (psi, u) of the blade from a hub witness, where there is one.
    """

    id: int
    blade: BladeId | None
    stage: str
    passed: int
    level: str
    reading: Reading
    sense: Sense
    angle: BladeAngle
    t_ns: int
    half: Half = 0
    azimuth: tuple[float, float] | None = None
    withdrawn: bool = False


@dataclass(slots=True)
class Blade:
    """What holds of one blade, or of the reference."""

    blade: BladeId
    attempt: int = 1
    """Setting starts over: the readings of earlier attempts stay but do not count."""
    baseline: BladeAngle | None = None
    state: str = "not set"
    verdict: Verdict | None = None
    wanted: int = 0
    """Placements wanted in the stage being read where that is more than the plan's number."""
    rebased: bool = False
    """The baseline was accepted from a later round, not taken from the setting."""
    called_moved: bool = False
    based_on: int = 0
    """Number of the last reading when the baseline was made."""
    confirmed_by: int = 0
    """The reference only: number of the last reading when a round found it steady."""


@dataclass(slots=True)
class OpenAlarm:
    """An alarm nobody has answered yet."""

    id: int
    blade: BladeId
    kind: str
    last_good_deg: float | None
    say: str


@dataclass(slots=True)
class Ledger:
    """All that is known of the job so far."""

    blades: int
    setup: Setup = field(default_factory=Setup)
    entries: list[Entry] = field(default_factory=list)
    state: dict[BladeId, Blade] = field(default_factory=dict)
    alarms: dict[int, OpenAlarm] = field(default_factory=dict)
    next_alarm: int = 1

    def __post_init__(self) -> None:
        for blade in self.members():
            self.state[blade] = Blade(blade)

    def members(self) -> Iterator[BladeId]:
        """The reference first, then blade 1 to n."""
        yield REFERENCE
        yield from range(1, self.blades + 1)

    def numbers(self) -> range:
        """The blades without the reference."""
        return range(1, self.blades + 1)

    def entry(self, reading_id: int) -> Entry | None:
        """Return a reading by its id."""
        if 1 <= reading_id <= len(self.entries):
            return self.entries[reading_id - 1]
        return None

    def read_ns(self, blade: BladeId) -> int | None:
        """Return when a blade was last read; None: not in this session."""
        mine = (e.t_ns for e in reversed(self.entries) if e.blade == blade and not e.withdrawn)
        return next(mine, None)

    def last(self) -> Entry | None:
        """Return the newest reading that counts."""
        return next((e for e in reversed(self.entries) if not e.withdrawn), None)

    def of(self, blade: BladeId, stage: str, passed: int) -> list[Entry]:
        """Return the readings that count of one blade in one pass of a stage."""
        return [
            e
            for e in self.entries
            if e.blade == blade and e.stage == stage and e.passed == passed and not e.withdrawn
        ]

    def placements(self, blade: BladeId, stage: str, passed: int) -> int:
        """Return how many placements count; of a reference in two halves, how many of both."""
        entries = self.of(blade, stage, passed)
        if not self._in_halves(blade):
            return len(entries)
        return min(sum(e.half == half for e in entries) for half in (1, 2))

    def next_placement(
        self, blade: BladeId, stage: str, passed: int, wanted: int
    ) -> tuple[int, Half]:
        """Return the number of the next placement of one pass, and of which half it is.

        All of the first half are taken before the propeller is turned for the second.
        """
        entries = self.of(blade, stage, passed)
        if not self._in_halves(blade):
            return len(entries) + 1, 0
        first, second = (sum(e.half == half for e in entries) for half in (1, 2))
        return (first + 1, 1) if first < wanted else (second + 1, 2)

    def _in_halves(self, blade: BladeId) -> bool:
        return blade == REFERENCE and self.setup.reference != "hub-face"

    def angle_of(self, blade: BladeId, stage: str, passed: int) -> BladeAngle | None:
        """Return the mean over the placements of one pass, or None if there is none.

        The reference needs both its halves where it has two.
        """
        entries = self.of(blade, stage, passed)
        if not self._in_halves(blade):
            return mean_of([e.angle for e in entries]) if entries else None
        first, second = (self.half_of(stage, passed, half) for half in (1, 2))
        if first is None or second is None:
            return None
        if self.setup.reference == "both-sides":
            return tilt_of(first, second)
        return turned_mean(first, second, self.setup.psi_u_deg, self.setup.wobble_deg)

    def half_of(self, stage: str, passed: int, half: int) -> BladeAngle | None:
        """Return the mean of one half of the reference in one pass, or None if there is none."""
        angles = [e.angle for e in self.of(REFERENCE, stage, passed) if e.half == half]
        return mean_of(angles) if angles else None

    def newest_angle(self, blade: BladeId) -> BladeAngle | None:
        """Return the mean over the newest pass in which this blade was read."""
        for entry in reversed(self.entries):
            if entry.blade == blade and not entry.withdrawn:
                if entry.stage == "set":
                    return entry.angle
                angle = self.angle_of(blade, entry.stage, entry.passed)
                if angle is not None:
                    return angle
        return self.state[blade].baseline
