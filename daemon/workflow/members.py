"""Members: the reference and the blades, and what holds of each. Only their own verbs change them.

What a member is compared with, its baseline, is never stored: it follows from the newest basis
whose readings still count.

    basis      the baseline is                                        made by
    Placed     the mean of the placements the plan wants              `hold`
    Apart      the same, of placements that disagree                  `accept_apart`
    Accepted   the mean of one pass of a round                        `accept`
    Left       midway between what it was held to and what was read
               after its bolts                                        `follow_left`
    Carried    what the session before held                           `carry`

Withdraw what a basis rests on, and the one before it is in force again. Start over (`set_again`,
`refer_anew`), and none is.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

from daemon.measure.angle.means import BladeAngle
from daemon.workflow.agreement import widened_mean
from daemon.workflow.ledger import Entry, Ledger
from shared.events import REFERENCE, BladeId, Verdict


@dataclass(frozen=True, slots=True)
class Placed:
    """The placements of one attempt at setting (or at the reference), as many as planned.

    from_setting: the last reading while it was set is one of them.
    """

    stage: str
    passed: int
    planned: int
    from_setting: bool = False


@dataclass(frozen=True, slots=True)
class Apart:
    """Placements that disagree, all of them taken as they are: either may be the true one."""

    stage: str
    passed: int
    count: int


@dataclass(frozen=True, slots=True)
class Accepted:
    """One pass of a round. shifted: a new tilt of the shaft was accepted with it."""

    stage: str
    passed: int
    shifted: bool = False


@dataclass(frozen=True, slots=True)
class Left:
    """Midway between what it was held to and one pass after its bolts that found no turn.

    The one is surer, the other of after whatever small turn they gave it.
    """

    stage: str
    passed: int
    before: "Basis"


@dataclass(frozen=True, slots=True)
class Carried:
    """What the session before held; it rests on no reading of this one."""

    angle: BladeAngle


Basis = Placed | Apart | Accepted | Left | Carried


@dataclass(slots=True)
class Member:
    """One blade, or the reference.

    Attributes:
        blade: which.
        ledger: the readings.
        attempt: setting starts over: the readings of earlier attempts stay and do not count.
        state: one word for the table, see `shared.view.BladeView`.
        verdict: of the newest round that judged it.
        wanted: placements wanted in the stage being read where that is more than planned.
        called_moved: a round found that it moved or was turned.
        based_on: number of the last reading when the basis was made.
        confirmed_by: the reference only: number of the last reading when a round found it steady.
        announced: the baseline as it was last said to be held.
        mistaken: the reference only: it is read again because it never was right.
        loosened: bolts that hold it were worked on since a round judged it last.
        left: where its bolts left it, where the round after them found no turn, and how many
            readings there were then.
    """

    blade: BladeId
    ledger: Ledger
    attempt: int = 1
    state: str = "not set"
    verdict: Verdict | None = None
    wanted: int = 0
    called_moved: bool = False
    based_on: int = 0
    confirmed_by: int = 0
    announced: BladeAngle | None = None
    mistaken: bool = False
    loosened: bool = False
    left: tuple[Accepted, int] | None = None
    _bases: list[Basis] = field(default_factory=list)
    _ever: list[Basis] = field(default_factory=list)
    _version: int | None = None
    _force: tuple[Basis | None, BladeAngle | None] = (None, None)

    # --- what it is compared with -------------------------------------------------------

    @property
    def baseline(self) -> BladeAngle | None:
        """The angle this member is held to; None: none, it may be turned."""
        return self._in_force()[1]

    @property
    def basis(self) -> Basis | None:
        """The newest basis whose readings still count."""
        return self._in_force()[0]

    def _in_force(self) -> tuple[Basis | None, BladeAngle | None]:
        """Return basis and baseline, worked out anew whenever a reading changed."""
        if self._version != self.ledger.version:
            self._version = self.ledger.version
            angles = ((basis, self._angle(basis)) for basis in reversed(self._bases))
            self._force = next((one for one in angles if one[1] is not None), (None, None))
        return self._force

    @property
    def as_set(self) -> BladeAngle | None:
        """What its own placements gave when it was set last; None: it was not set in this session."""
        placed = (one for one in reversed(self._ever) if isinstance(one, Placed | Apart))
        return next((mean for one in placed if (mean := self.mean(one)) is not None), None)

    @property
    def standing(self) -> Basis | None:
        """The newest basis, of earlier attempts too, with a reading left that counts.

        While a reference is read again, the tilt of the shaft still hangs on the one before.
        """
        return next((b for b in reversed(self._ever) if self.mean(b) is not None), None)

    def mean(self, basis: Basis) -> BladeAngle | None:
        """Return the mean of all readings left of a basis; None: none are."""
        if isinstance(basis, Carried):
            return basis.angle
        if isinstance(basis, Left):
            then = self.mean(basis.before)
            now = self.ledger.angle_of(self.blade, basis.stage, basis.passed)
            return None if then is None or now is None else widened_mean([then, now])
        if isinstance(basis, Placed) and basis.from_setting:
            entries = self.entries(basis)
            return widened_mean([entry.angle for entry in entries]) if entries else None
        return self.ledger.angle_of(self.blade, basis.stage, basis.passed)

    @property
    def news(self) -> bool:
        """Whether it is held to another angle than was said; its uncertainty changes all the time."""
        now, said = self.baseline, self.announced
        if now is None or said is None:
            return now is not said
        return now.angle_deg != said.angle_deg

    @property
    def rebased(self) -> bool:
        """Whether it is held to anything but what the plan's placements gave."""
        return not isinstance(self.basis, Placed | None)

    def entries(self, basis: Basis | None) -> list[Entry]:
        """Return the readings that a basis rests on."""
        if basis is None or isinstance(basis, Carried):
            return []
        fresh = self.ledger.of(self.blade, basis.stage, basis.passed)
        if isinstance(basis, Left):
            return [*self.entries(basis.before), *fresh]
        if isinstance(basis, Placed) and basis.from_setting:
            return [*self.ledger.of(self.blade, "set", basis.passed)[-1:], *fresh]
        return fresh

    def _angle(self, basis: Basis) -> BladeAngle | None:
        """Return what a basis holds it to; None: too few of its readings are left."""
        match basis:
            case Placed(stage, passed, wanted) | Apart(stage, passed, wanted):
                if self.ledger.placements(self.blade, stage, passed) < wanted:
                    return None
        return self.mean(basis)

    # --- its verbs ------------------------------------------------------------------------

    def ask_for(self, placements: int) -> None:
        """So many placements are wanted in the stage being read; 0: as many as planned."""
        self.wanted = placements

    def begin(self) -> None:
        """Nothing holds it: it has its value from setting, or not even that."""
        begun = self.ledger.of(self.blade, "set", self.attempt)
        self.state = "provisional" if begun else "not set"

    def recount(self) -> list[Basis]:
        """Its readings changed: return what rests on too few of them and is no basis any more."""
        fallen = [basis for basis in self._bases if self._angle(basis) is None]
        self._bases = [basis for basis in self._bases if basis not in fallen]
        return fallen

    def place(self, stage: str, planned: int, *, from_setting: bool = False) -> None:
        """Its placements are there and agree: they are its basis."""
        self._rest_on(Placed(stage, self.attempt, planned, from_setting))

    def place_again(self, placements: int) -> None:
        """It is laid on again, so many times in all, before it is held; nobody turns it."""
        self._bases.clear()
        self._version = None
        self.state, self.wanted = "place again", placements

    def hold(self) -> None:
        """From here on nobody may touch it."""
        entries = self.entries(self.basis)
        self.state, self.wanted, self.mistaken = "held", 0, False
        self.based_on = entries[-1].id if entries else self.based_on
        self.announced = self.baseline

    def accept(self, stage: str, passed: int, *, shifted: bool = False) -> None:
        """What a round found is taken as it is."""
        self._rest_on(Accepted(stage, passed, shifted))
        self.state, self.announced = "accepted", self.baseline
        self.based_on = len(self.ledger.entries)

    def follow(self, stage: str, passed: int) -> None:
        """Bolts turned it, which nobody has to answer for: it is held to what was read after."""
        self._rest_on(Accepted(stage, passed))
        self.announced = self.baseline
        self.based_on = len(self.ledger.entries)

    def leave_where(self, stage: str, passed: int) -> None:
        """Its bolts were tightened and no turn was found: it goes on to be held as it was."""
        self.left = (Accepted(stage, passed), len(self.ledger.entries))

    def ways_left(self) -> list[Left | Accepted]:
        """Return what else it may be held to, since bolts may have turned it unseen, the surest first."""
        if self.left is None or self.basis is None:
            return []
        after, _ = self.left
        midway = Left(after.stage, after.passed, self.basis)
        return [after] if isinstance(self.basis, Left) else [midway, after]

    def follow_left(self, basis: Left | Accepted) -> None:
        """It is held to where its bolts left it, or midway to that."""
        left = self.left
        assert left is not None
        self._rest_on(basis)
        self.announced, self.based_on = self.baseline, left[1]
        self.left = left if isinstance(basis, Left) else None

    def stay(self) -> None:
        """It is held where it stands: whether bolts turned it decides nothing, or no round reads it."""
        self.state = "held"

    def leave(self) -> None:
        """A person accepts it as it is; what it is held to stays."""
        self.state = "accepted"

    def accept_apart(self, stage: str) -> None:
        """A person looked: these placements are all of this member, far apart as they are."""
        count = self.ledger.placements(self.blade, stage, self.attempt)
        self._rest_on(Apart(stage, self.attempt, count))

    def carry(self, angle: BladeAngle) -> None:
        """Take over what the session before held."""
        self._rest_on(Carried(angle))
        self.state, self.announced = "held", angle

    def set_again(self) -> None:
        """Its setting starts over."""
        self._start_over("not set")
        self.verdict = None

    def refer_anew(self, *, mistaken: bool = False) -> None:
        """The reference is to be read again, before anything else.

        mistaken: what hangs on its tilt was wrong from the start.
        """
        self.mistaken = mistaken
        self._start_over("place again")

    def mistake(self) -> None:
        """The reference only: a reading behind its tilt was false, and so is all that hangs on it."""
        self.mistaken = True

    def read_again(self, placements: int = 0) -> None:
        """It is to be placed again in this round, so many times in all; 0: as planned."""
        self.state, self.wanted = "place again", placements

    def judge(self, verdict: Verdict, state: str, placements: int) -> None:
        """A round says what became of it. placements: how many are wanted now."""
        self.verdict, self.state, self.wanted = verdict, state, placements
        self.called_moved = self.called_moved or state in {"moved", "turned"}

    def confirm(self) -> None:
        """The reference was found steady: nothing shifted before its last reading."""
        self.confirmed_by = len(self.ledger.entries)

    def loosen(self) -> None:
        """Bolts were worked on: it may have turned."""
        self.state, self.loosened = "may have turned", True

    def tell(self, *, turned: bool = False) -> None:
        """A round told whether its bolts turned it; turned: that does not count any more."""
        self.loosened = turned

    def unshift(self, stage: str, passed: int) -> bool:
        """Drop what was accepted with a shift in one pass; return whether there was any."""
        kept = [b for b in self._bases if b != Accepted(stage, passed, shifted=True)]
        dropped, self._bases = len(kept) < len(self._bases), kept
        self._version = None
        return dropped

    def _start_over(self, state: str) -> None:
        self.attempt += 1
        self._bases.clear()
        self._version = self.announced = self.left = None
        self.state, self.wanted, self.loosened = state, 0, False

    def _rest_on(self, basis: Basis) -> None:
        self._bases.append(basis)
        self._ever.append(basis)
        self._version = self.left = None


class Members:
    """All members of one job: `members[REFERENCE]`, `members[1]` ..."""

    def __init__(self, ledger: Ledger, blades: int) -> None:
        self.ledger = ledger
        self.blades = blades
        self._all: dict[BladeId, Member] = {
            blade: Member(blade, ledger) for blade in (REFERENCE, *range(1, blades + 1))
        }

    def __getitem__(self, blade: BladeId) -> Member:
        """Return a member."""
        return self._all[blade]

    def __iter__(self) -> Iterator[Member]:
        """The reference first, then blade 1 to n."""
        return iter(self._all.values())

    @property
    def reference(self) -> Member:
        """The plane of rotation."""
        return self._all[REFERENCE]

    def numbers(self) -> range:
        """The blades without the reference."""
        return range(1, self.blades + 1)

    def loose(self) -> list[int]:
        """Return the blades that nothing holds: they may be turned."""
        return [b for b in self.numbers() if self._all[b].baseline is None]

    def newest_angle(self, blade: BladeId) -> BladeAngle | None:
        """Return the mean over the newest pass in which it was read, else what it is held to."""
        return self.ledger.newest_pass(blade) or self._all[blade].baseline

    def newest_angles(self) -> dict[int, BladeAngle | None]:
        """Return the newest angle of every blade, in order."""
        return {blade: self.newest_angle(blade) for blade in self.numbers()}
