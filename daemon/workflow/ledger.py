"""The ledger: every reading of the job.

Readings are never deleted, only withdrawn, given to another blade, or referred to another tilt of
the shaft; the level's own reading stays as it was. What holds of a blade because of them is in
`members`.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from daemon.measure.angle.both_sides import tilt_of
from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle, mean_of
from daemon.measure.angle.reference import turned_mean
from daemon.measure.stream.reading import Reading
from daemon.workflow.agreement import WIDENS, disagreement_deg, widened_mean
from daemon.workflow.scatter import MOST_KNOWN, Taken, in_force, reseated
from shared.events import REFERENCE, BladeId, Half, Sense
from shared.job import Setup
from shared.profile import Seating

Pass = tuple[BladeId | None, str, int]
"""A member, a stage, and which pass over it."""
ON_ONE_SEAT = frozenset({"reference", "baseline"})
"""Stages whose placements follow each other with nothing turned between."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One captured reading.

    passed: which pass over its stage it belongs to: the attempt of a blade's setting, or the
    pass of a round (both count up when the work starts over).
    t_ns: session time of the capture.
    angle: with the reference and the seating in force.
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
class Ledger:
    """All readings so far, in the order they were taken.

    seatings: what the profiles say of each level's seating.
    setting_tells: what a blade read last while it was set shows, beside its fresh placements, how well
        the level seats.
    mishaps_tell: what all blades of one sweep over them are off alike, or one alone by much, is not
        held for seating.
    entries: their angles carry the seating that all placements so far show.
    version: counts up with every change, so that what is worked out from it can be kept.
    scattered: placements of one pass over a blade were further apart than chance puts them.
    """

    setup: Setup = field(default_factory=Setup)
    seatings: Mapping[str, Seating] = field(default_factory=dict)
    setting_tells: bool = True
    mishaps_tell: bool = True
    entries: list[Entry] = field(default_factory=list)
    version: int = 0
    scattered: bool = False
    _taken: list[Entry] = field(default_factory=list)
    """The same with the seating of the profiles."""
    _same: dict[Pass, Pass] = field(default_factory=dict)
    """Passes over a blade that a round found where an earlier pass had it."""
    _doubted: set[Pass] = field(default_factory=set)
    """Passes of which it was said that their placements disagree."""
    _means: dict[Pass, BladeAngle | None] = field(default_factory=dict)
    """What `angle_of` worked out since the last change."""

    # --- what may become of a reading -----------------------------------------------------

    def book(self, entry: Entry) -> None:
        """Take the next reading."""
        self._taken.append(entry)
        self._reseat()

    def withdraw(self, entry: Entry) -> None:
        """It does not count any more; it stays in the record."""
        self._put(replace(self._taken[entry.id - 1], withdrawn=True))

    def assign(self, entry: Entry, blade: BladeId, passed: int) -> None:
        """It is of another blade."""
        self._put(replace(self._taken[entry.id - 1], blade=blade, passed=passed))

    def refer(self, entry: Entry, angle: BladeAngle) -> None:
        """Its angle hangs on another tilt of the shaft than when it was taken."""
        self._put(replace(self._taken[entry.id - 1], angle=angle))

    def widen(self, found: Mapping[int, BladeAngle]) -> None:
        """More is in doubt of these readings, by their numbers, than when they were taken."""
        for number, angle in found.items():
            self._taken[number - 1] = replace(self._taken[number - 1], angle=angle)
        self._reseat()

    def sway(self, found: Mapping[int, BladeAngle], u_deg: float) -> None:
        """The aircraft swayed when these were read, and nobody knew: their angles stay, in doubt.

        found: by number of the reading; u_deg: what the sway leaves in what the level shows.
        """
        for number, angle in found.items():
            taken = self._taken[number - 1]
            reading = replace(taken.reading, u_sway_deg=u_deg)
            self._taken[number - 1] = replace(taken, reading=reading, angle=angle)
        self._reseat()

    def steady(self, now: Pass, before: Pass) -> None:
        """A round found the member where an earlier pass had it: both are of one seat."""
        self._same[now] = self._same.get(before, before)
        self._reseat()

    def doubt(self, one: Pass) -> None:
        """It is said that the placements of a pass disagree.

        Then their mean is wide by what they are apart, and they say nothing of the level's seating.
        """
        if one not in self._doubted:
            self._doubted.add(one)
            self._reseat()

    def _put(self, entry: Entry) -> None:
        self._taken[entry.id - 1] = entry
        self._reseat()

    # --- how well the levels seat ------------------------------------------------------------

    def _reseat(self) -> None:
        """Work out anew how well each level seats, and put it into every angle."""
        self.version += 1
        seats = in_force(
            self._on_one_seat(),
            self.seatings,
            self.setup.lift_u_deg,
            mishaps=self.mishaps_tell,
        )
        taken = {e.id: (e.level, e.angle) for e in self._taken}
        angles = reseated(taken, self.seatings, seats)
        self.entries = [replace(e, angle=angles[e.id]) for e in self._taken]
        if scatter_deg := self._scatter_deg():
            self.entries = [_scattered(e, scatter_deg) for e in self.entries]
        self._means.clear()

    def _on_one_seat(self) -> list[list[Taken]]:
        """Return the placements in groups: of one level, one way round, on one seat."""
        groups: dict[tuple[object, ...], list[Taken]] = {}
        placed: Counter[Pass] = Counter()
        counts = [e for e in self._taken if not e.withdrawn]
        was_set = {(e.blade, e.passed): e.id for e in counts if e.stage == "set"}
        for e in counts:
            last = self.setting_tells and was_set.get((e.blade, e.passed)) == e.id
            stage = "baseline" if e.stage == "set" and last else e.stage
            one: Pass = (e.blade, stage, e.passed)
            if stage == "set" or one in self._doubted:
                continue
            key = (e.level, e.sense, e.half, self._same.get(one, one))
            placed[one] += 1
            loose, apart = stage == "baseline", stage not in ON_ONE_SEAT
            with_others = self.mishaps_tell and apart and isinstance(e.blade, int)
            sweep = (stage, e.passed, placed[one]) if with_others else None
            taken = Taken(e.level, e.blade, e.angle, apart, loose, sweep)
            groups.setdefault(key, []).append(taken)
        return list(groups.values())

    def assumes(self, levels: Iterable[str]) -> bool:
        """Whether the seating of one of these was not measured as often as can count."""
        return any(self.seatings[level].n - 1.0 < MOST_KNOWN for level in levels)

    @property
    def taken(self) -> Sequence[Entry]:
        """The readings, with the seating of the profiles."""
        return self._taken

    def swayed(self, u_deg: float) -> list[Entry]:
        """Return the readings, as they were taken, in which so much of a sway does not count yet.

        Where the sway was known it is in the average, with nothing left beside it.
        """
        known = [(e, e.reading.u_sway_deg) for e in self._taken]
        return [e for e, u_sway in known if u_sway is None or 0.0 < u_sway < u_deg]

    def _scatter_deg(self) -> float:
        """Return what placements of blades are apart that nothing in their budgets explains.

        0 while that can be one mishap: of one blade, or in one pass of a round. Where blades
        disagree with themselves each at its own time, it is how they are read (a hand that rests
        on them, an azimuth worse than was stated), and it is in the readings that agree too. The
        second blade counts, so that one that was knocked says nothing of the others.
        """
        passes: dict[Pass, list[Entry]] = {}
        for now, taken in zip(self.entries, self._taken, strict=True):
            # a seating that was measured explains no more than it was measured to
            e = taken if self.seatings[now.level].n > 1 else now
            if isinstance(e.blade, int) and e.stage != "set" and not e.withdrawn:
                passes.setdefault((e.blade, e.stage, e.passed), []).append(e)
        several = {one: entries for one, entries in passes.items() if len(entries) > 1}
        found = {one: disagreement_deg(entries, WIDENS) for one, entries in several.items()}
        apart = {one: deg for one, deg in found.items() if deg is not None}
        self.scattered = bool(apart)
        times = {(b if stage in ON_ONE_SEAT else None, stage, n) for b, stage, n in apart}
        of_blades: dict[BladeId | None, float] = {}
        for (blade, _, _), deg in apart.items():
            of_blades[blade] = max(deg, of_blades.get(blade, 0.0))
        return 0.0 if min(len(of_blades), len(times)) < 2 else sorted(of_blades.values())[-2]

    # --- what was read ----------------------------------------------------------------------

    def entry(self, reading_id: int) -> Entry | None:
        """Return a reading by its id."""
        if 1 <= reading_id <= len(self.entries):
            return self.entries[reading_id - 1]
        return None

    def last_read_ns(self) -> dict[BladeId | None, int]:
        """Return when each member was last read, of those that were in this session."""
        return {entry.blade: entry.t_ns for entry in self.entries if not entry.withdrawn}

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

    def has(self, stage: str) -> bool:
        """Whether anything of a stage was read, whatever became of it."""
        return any(e.stage == stage for e in self.entries)

    def placed(self, stage: str, passed: int) -> dict[BladeId, int]:
        """Return how many placements each member has in one pass of a stage, where it has any."""
        here = {
            e.blade
            for e in self.entries
            if e.stage == stage and e.passed == passed and e.blade is not None
        }
        return {blade: self.placements(blade, stage, passed) for blade in here}

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
        one: Pass = (blade, stage, passed)
        if one not in self._means:
            self._means[one] = self._mean(blade, stage, passed)
        return self._means[one]

    def _mean(self, blade: BladeId, stage: str, passed: int) -> BladeAngle | None:
        entries = self.of(blade, stage, passed)
        if blade != REFERENCE:
            doubted = (blade, stage, passed) in self._doubted
            return widened_mean([e.angle for e in entries], doubted=doubted) if entries else None
        if not self._in_halves(blade):
            return self._over_senses(entries) if entries else None
        first, second = (self.half_of(stage, passed, half) for half in (1, 2))
        if first is None or second is None:
            return None
        if self.setup.reference == "both-sides":
            return tilt_of(first, second)
        return turned_mean(first, second, self.setup.psi_u_deg, self.setup.wobble_deg)

    def half_of(self, stage: str, passed: int, half: int) -> BladeAngle | None:
        """Return the mean of one half of the reference in one pass, or None if there is none."""
        entries = [e for e in self.of(REFERENCE, stage, passed) if e.half == half]
        return self._over_senses(entries) if entries else None

    def _over_senses(self, entries: Sequence[Entry]) -> BladeAngle:
        first = entries[0]
        doubted = (first.blade, first.stage, first.passed) in self._doubted
        return mean_over_senses(entries, doubted=doubted)

    def newest_pass(self, blade: BladeId) -> BladeAngle | None:
        """Return the mean over the newest pass in which this blade was read, None if never."""
        for entry in reversed(self.entries):
            if entry.blade == blade and not entry.withdrawn:
                if entry.stage == "set":
                    return entry.angle
                angle = self.angle_of(blade, entry.stage, entry.passed)
                if angle is not None:
                    return angle
        return None


def _scattered(entry: Entry, apart_deg: float) -> Entry:
    """Return a blade's reading, that may be at either end of what readings are apart."""
    if not isinstance(entry.blade, int):
        return entry
    lines = (*entry.angle.budget.lines, Line("scatter", "B", apart_deg / 2.0))
    return replace(entry, angle=BladeAngle(entry.angle.angle_deg, Budget(lines)))


def by_sense(entries: Iterable[Entry]) -> list[list[Entry]]:
    """Return the placements in groups of one sense, in the order the senses came."""
    groups: dict[Sense, list[Entry]] = {}
    for entry in entries:
        groups.setdefault(entry.sense, []).append(entry)
    return list(groups.values())


def mean_over_senses(entries: Iterable[Entry], *, doubted: bool = False) -> BladeAngle:
    """Return the tilt from placements of the reference: both senses count alike.

    However many there are in each, the level's zero drops out of the mean of the two
    (reversal, as a level is checked by turning it end for end).
    """
    means = [widened_mean([e.angle for e in group], doubted=doubted) for group in by_sense(entries)]
    return means[0] if len(means) == 1 else mean_of(means)
