"""The plan: which step comes next is a pure function of what has been done.

    stage          asked for while
    prepare        nobody has said that the aircraft is made safe
    slacken        a blade is to be set again and its bolts are tight
    look           somebody wants something read again, whatever the step was
    reference      the reference has fewer placements than the plan wants
    found          a blade was not read yet as it was found, and somebody wanted that
    set            a blade has no value in this attempt (out of order by name)
    baseline       a set blade has fewer fresh placements than the plan wants
    check off      the round has something to be checked off before it
    wrench         nobody has confirmed what the wrench is set to for this round
    tighten        the round tightens and nobody has said that it is done, pass by pass
    <round>        the reference or a blade lacks a placement of this pass
    answer         an alarm is open, or a member's placements go on disagreeing
    finished       nothing is left
    watch          the session only watches levels left on blades, until it is ended

Because nothing but the record decides, going back, withdrawing and re-assigning need no rules
of their own: the step whose reading no longer counts comes up again.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.hands import Hand
from daemon.workflow.members import Member, Members
from shared.events import REFERENCE, BladeId, Half
from shared.plan import Plan, Round

Over = Literal["", "finished", "ended early", "abandoned"]
HANDS_ONLY = frozenset(
    {"prepare", "check off", "wrench", "tighten", "slacken", "answer", "finished", "watch"}
)
"""Stages in which there is nothing to read."""
AT_BOLTS = frozenset({"tighten", "wrench", "check off", "slacken"})
"""Of these: stages in which somebody works on the bolts, or is about to."""
LOOK, FOUND = "look", "found"
"""Stages that are no round of the plan's: something is read again, or read as it was found."""
NO_ROUND = Round(name="none", read="nothing")
"""What stands after the last round."""


@dataclass(frozen=True, slots=True)
class Step:
    """What the plan proposes."""

    stage: str
    blade: BladeId | None = None
    placement: int = 1
    placements: int = 1
    round: str = ""
    half: Half = 0
    """Which half of a reference that is read in two."""

    @property
    def reads(self) -> bool:
        """A reading is wanted."""
        return self.stage not in HANDS_ONLY


@dataclass(frozen=True, slots=True)
class Aside:
    """Something is read again in the middle of the plan.

    wanted: which members. The rest is what the present round goes on with afterwards.
    """

    wanted: frozenset[BladeId]
    passed: int
    voided: int
    judged: bool
    set_again: frozenset[int]


@dataclass(slots=True)
class Progress:
    """Where the work stands, beyond what the readings show. Changed by its own verbs only.

    Attributes:
        rounds: the plan's, in order.
        hands: what the hands do in each of them, before anything is read.
        blades: how many there are.
        watch_only: the session only watches levels left on blades.
        read_only: everything is read once as it was found, and nothing is set.
        find: everything is read as it was found before a blade is set.
        spares: the reference is read in a round only where it is asked for, and in the last one.
        prepared: somebody said that the aircraft is made safe.
        index: which of the rounds is the present one.
        passed: pass of the present round; counts up whenever a round starts over.
        voided: passes of the present round given up because their placements disagreed.
        handled: how much of what the hands do in this round is done.
        judged: the present pass has been judged and asks for nothing more.
        named: a person or the hub witness said which blade is next.
        set_again: blades whose setting was started over since the round began.
        slackened: blades whose bolts were slackened last: the others stay tight; empty: none were.
        gone_through: rounds that were done at least once.
        aside: something is read again in the middle of it.
        looks: passes of that so far.
        over: how the job ended, "" while it goes on.
    """

    rounds: Sequence[Round] = ()
    hands: Sequence[Sequence[Hand]] = ()
    blades: int = 0
    watch_only: bool = False
    read_only: bool = False
    find: bool = False
    spares: bool = False
    prepared: bool = False
    index: int = 0
    passed: int = 1
    voided: int = 0
    handled: int = 0
    judged: bool = False
    named: BladeId | None = None
    set_again: frozenset[int] = frozenset()
    slackened: frozenset[int] = frozenset()
    gone_through: frozenset[int] = frozenset()
    aside: Aside | None = None
    looks: int = 0
    over: Over = ""

    @property
    def round(self) -> str:
        """Name of what is read now: the present round, "look", or "" after the last."""
        if self.aside is not None:
            return LOOK
        return self.rounds[self.index].name if self.index < len(self.rounds) else ""

    @property
    def names(self) -> list[str]:
        """Names of the rounds, in order."""
        return [one.name for one in self.rounds]

    @property
    def now(self) -> Round:
        """The round that comes next or goes on, whatever is read aside."""
        return self.rounds[self.index] if self.index < len(self.rounds) else NO_ROUND

    @property
    def tightened(self) -> bool:
        """The bolts were tightened for this round."""
        return self.now.tighten and self.handled >= len(self.hands[self.index])

    @property
    def pulled(self) -> bool:
        """A wrench was at the bolts in this round, in one pass at least."""
        hands = self.hands[self.index] if self.index < len(self.hands) else ()
        return any(hand.stage == "tighten" for hand in hands[: self.handled])

    @property
    def hand(self) -> Hand | None:
        """What the hands do next in this round; None: nothing."""
        hands = self.hands[self.index] if self.index < len(self.hands) else ()
        return hands[self.handled] if self.handled < len(hands) else None

    @property
    def tight(self) -> frozenset[int]:
        """The blades whose bolts are tight: from an earlier round, or from this one."""
        here = {self.index} if self.pulled else set[int]()
        before = self._held_by({*range(self.index), *here})
        ever = self._held_by({*self.gone_through, *here})
        return before | (ever - self.slackened)

    def _held_by(self, done: Collection[int]) -> frozenset[int]:
        """Return the blades that the tightening rounds among these hold."""
        held = [
            one.turns(self.blades) for i, one in enumerate(self.rounds) if i in done and one.tighten
        ]
        return frozenset[int]().union(*held)

    @property
    def turned_by_bolts(self) -> frozenset[int]:
        """The blades that the tightening of this round may turn."""
        held = self.now.turns(self.blades)
        again = self.slackened and self.index in self.gone_through
        return held & self.slackened if again else held

    @property
    def to_set(self) -> frozenset[int]:
        """The blades that have to be set before this round; clamp by clamp: those of the clamp."""
        return self.now.turns(self.blades)

    def wants(self, member: Member) -> int:
        """Return how many placements of a member this pass wants."""
        if self.aside is not None:
            read = member.blade in self.aside.wanted
        elif member.blade == REFERENCE:
            read = self.now.read == "all" and not (
                self.spares and self.index < len(self.rounds) - 1
            )
        else:
            read = member.blade in self.now.reads(self.blades)
        wanted = member.wanted if member.baseline is not None else 0
        return max(1, wanted) if read else wanted

    def prepare(self, *, safe: bool = True) -> None:
        """The aircraft is made safe, or that was taken back."""
        self.prepared = safe

    def find_first(self) -> None:
        """Everything is read as it was found before a blade is set."""
        self.find = True

    def handle(self) -> None:
        """The next of what the hands do in this round is done."""
        self.handled += 1

    def unhandle(self) -> None:
        """The last of it was taken back."""
        self.handled -= 1

    def slacken(self, blades: frozenset[int]) -> None:
        """The bolts of these are slack: what tightens them comes again."""
        self.slackened = blades
        self.index = next(
            i
            for i, one in enumerate(self.rounds)
            if one.tighten and one.turns(self.blades) & blades
        )
        self.set_again = frozenset()
        self.passed += 1
        self.voided = self.handled = 0
        self.judged = False

    def name(self, blade: BladeId | None) -> None:
        """The next reading is of this blade; None: of whichever the plan proposes."""
        self.named = blade

    def judge(self) -> None:
        """The pass asks for nothing more."""
        self.judged = True

    def reopen(self) -> None:
        """Its readings changed, or more are wanted: it is judged anew."""
        self.judged = False

    def start_over(self, *, void: bool = False) -> None:
        """Everything of this round is read once more. void: its placements disagreed."""
        self.passed += 1
        self.voided += void

    def set_anew(self, blade: int) -> None:
        """A blade's setting starts over."""
        self.set_again |= {blade}

    def look(self, wanted: frozenset[BladeId]) -> None:
        """Read these again, and go on afterwards where the work stood: what is read aside already too."""
        if self.aside is not None:
            self.aside = replace(self.aside, wanted=self.aside.wanted | wanted)
            return
        self.aside = Aside(wanted, self.passed, self.voided, self.judged, self.set_again)
        self.passed, self.voided, self.judged = self.looks + 1, 0, False
        self.set_again = frozenset()

    def go_on(self, *, begun: bool) -> None:
        """Every alarm is answered: the next round, or back where a blade was set again.

        A blade was set again only while nothing was tight: then in the present round, once anything
        of it was read. begun: it was.
        """
        if self.aside is not None:
            self._return(self.aside, begun=begun)
            return
        if not self.set_again:
            self._next_round()
        self.set_again = frozenset()
        self.passed += 1
        self.voided = self.handled = 0
        self.judged = False

    def _next_round(self) -> None:
        """Go to the next round that has anything to do: other clamps stayed tight."""
        self.gone_through |= {self.index}
        self.index += 1
        while self.index in self.gone_through and self.slackened.isdisjoint(self.to_set):
            self.index += 1

    def _return(self, aside: Aside, *, begun: bool) -> None:
        """Nothing is read aside any more."""
        self.looks = self.passed
        again = self.set_again if begun else frozenset()
        self.passed, self.voided, self.judged = aside.passed, aside.voided, aside.judged
        self.set_again, self.aside = aside.set_again | again, None

    def return_to(self, name: str, passed: int) -> None:
        """A reading of a pass that was judged does not count: the pass is open again."""
        self.index, self.passed = self.names.index(name), passed
        self.gone_through -= {self.index}
        self.handled, self.judged = len(self.hands[self.index]), False

    def end(self, how: Over) -> None:
        """The job is over."""
        self.over = how


def next_step(
    plan: Plan, members: Members, progress: Progress, alarms: Sequence[OpenAlarm]
) -> Step | None:
    """Return the next step; None when the present round has all it wants: judge it."""
    if progress.watch_only:
        return Step("watch")
    if not progress.prepared:
        return Step("prepare")
    if _must_answer(plan, members, progress, alarms):
        return Step("answer")
    if progress.aside is not None and members.reference.baseline is not None:
        return _reading_step(members, progress)
    return (
        _slackening_step(members, progress)
        or _reference_step(plan, members)
        or _finding_step(members, progress)
        or _setting_step(plan, members, progress)
        or _round_step(members, progress)
    )


def clamped_with(plan: Plan, blades: Iterable[int], numbers: Iterable[int]) -> frozenset[int]:
    """Return the blades that are slack when the bolts of these are; numbers: all there are."""
    wanted = frozenset(blades)
    if not plan.clamps:
        return frozenset(numbers)
    held = [clamp for clamp in plan.clamps if wanted & set(clamp)]
    return wanted.union(*held) & frozenset(numbers)


def planned(plan: Plan, blade: BladeId) -> tuple[str, int]:
    """Return the stage whose placements give a member its baseline, and how many it wants."""
    if blade == REFERENCE:
        return "reference", plan.reference_placements
    return "baseline", plan.baseline_placements


def _must_answer(
    plan: Plan, members: Members, progress: Progress, alarms: Sequence[OpenAlarm]
) -> bool:
    """An alarm holds the work up once its round is judged; some hold it up at once."""
    kinds = {alarm.kind for alarm in alarms}
    at_once = bool(kinds & {"out", "level"}) or _unsettled(plan, members, alarms)
    return bool(kinds) and (progress.judged or not progress.round or at_once)


def _unsettled(plan: Plan, members: Members, alarms: Sequence[OpenAlarm]) -> bool:
    """Whether more placements than the plan allows have not given a member its baseline."""
    for blade in {a.blade for a in alarms if a.kind == "not known"}:
        member = members[blade]
        stage, _ = planned(plan, blade)
        have = members.ledger.placements(blade, stage, member.attempt)
        if member.baseline is None and have >= max(plan.max_placements, member.wanted):
            return True
    return False


def _slackening_step(members: Members, progress: Progress) -> Step | None:
    loose = [blade for blade in members.loose() if blade in progress.tight]
    return Step("slacken", loose[0]) if loose else None


def _reference_step(plan: Plan, members: Members) -> Step | None:
    member = members.reference
    if member.baseline is not None:
        return None
    stage, wanted = planned(plan, REFERENCE)
    wanted = max(wanted, member.wanted)
    placement, half = members.ledger.next_placement(REFERENCE, stage, member.attempt, wanted)
    return Step(stage, REFERENCE, placement, wanted, half=half)


def _finding_step(members: Members, progress: Progress) -> Step | None:
    """Every blade is read once as it was found; where nothing is set, that is all."""
    if not (progress.find or progress.read_only) or members.ledger.has("set"):
        return None
    unread = [b for b in members.numbers() if not members.ledger.of(b, FOUND, 1)]
    if not unread:
        return Step("finished") if progress.read_only else None
    blade = progress.named if progress.named in unread else unread[0]
    return Step(FOUND, blade)


def _setting_step(plan: Plan, members: Members, progress: Progress) -> Step | None:
    loose = [blade for blade in members.loose() if blade in progress.to_set]
    if not loose:
        return None
    ledger = members.ledger
    begun = [b for b in loose if ledger.of(b, "set", members[b].attempt)]
    named = progress.named if progress.named in loose else None
    blade = named if isinstance(named, int) else (begun or loose)[0]
    member = members[blade]
    if not ledger.of(blade, "set", member.attempt):
        return Step("set", blade)
    stage, wanted = planned(plan, blade)
    have = len(ledger.of(blade, stage, member.attempt))
    return Step(stage, blade, have + 1, max(wanted, member.wanted))


def _round_step(members: Members, progress: Progress) -> Step | None:
    if not progress.round:
        return Step("finished")
    hands = progress.hands[progress.index]
    if progress.handled < len(hands):
        return _hands_step(hands, progress)
    return _reading_step(members, progress)


def _hands_step(hands: Sequence[Hand], progress: Progress) -> Step:
    """The next of what the hands do in a round, counted among those of its kind."""
    stage = hands[progress.handled].stage
    alike = [number for number, hand in enumerate(hands) if hand.stage == stage]
    return Step(
        stage,
        placement=alike.index(progress.handled) + 1,
        placements=len(alike),
        round=progress.round,
    )


def _reading_step(members: Members, progress: Progress) -> Step | None:
    """The next reading of this pass; None: it has all it wants."""
    name = progress.round
    placed = members.ledger.placed(name, progress.passed)
    wants = [(member.blade, progress.wants(member)) for member in members]
    lacking = [(blade, wanted) for blade, wanted in wants if placed.get(blade, 0) < wanted]
    if not lacking:
        return None
    blade, wanted = next((item for item in lacking if item[0] == progress.named), lacking[0])
    placement, half = members.ledger.next_placement(blade, name, progress.passed, wanted)
    return Step(name, blade, placement, wanted, round=name, half=half)
