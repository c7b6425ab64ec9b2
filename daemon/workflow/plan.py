"""The plan: which step comes next is a pure function of what has been done.

    stage          asked for while
    prepare        nobody has said that the aircraft is made safe
    slacken        a blade is to be set again and its bolts are tight
    reference      the reference has fewer placements than the plan wants
    set            a blade has no value in this attempt (out of order by name)
    baseline       a set blade has fewer fresh placements than the plan wants
    tighten        the round tightens and nobody has said that it is done
    <round>        the reference or a blade lacks a placement of this pass
    answer         an alarm is open, or a member's placements go on disagreeing
    finished       nothing is left
    watch          the session only watches levels left on blades, until it is ended

Because nothing but the record decides, going back, withdrawing and re-assigning need no rules
of their own: the step whose reading no longer counts comes up again.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.members import Members
from shared.events import REFERENCE, BladeId, Half
from shared.job import Plan

Over = Literal["", "finished", "abandoned"]
TIGHTENING = frozenset({"snug", "nip", "torque"})
HANDS_ONLY = frozenset({"prepare", "tighten", "slacken", "answer", "finished", "watch"})
"""Stages in which there is nothing to read."""


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


@dataclass(slots=True)
class Progress:
    """Where the work stands, beyond what the readings show. Changed by its own verbs only.

    Attributes:
        rounds: the plan's, in order.
        watch_only: the session only watches levels left on blades.
        prepared: somebody said that the aircraft is made safe.
        index: which of the rounds is the present one.
        passed: pass of the present round; counts up whenever a round starts over.
        voided: passes of the present round given up because their placements disagreed.
        tightened: the bolts were tightened for this round.
        judged: the present pass has been judged and asks for nothing more.
        named: a person or the hub witness said which blade is next.
        set_again: blades whose setting was started over since the round began.
        slackened: blades whose bolts were slackened last: the others stay tight; empty: none were.
        over: how the job ended, "" while it goes on.
    """

    rounds: Sequence[str] = ()
    watch_only: bool = False
    prepared: bool = False
    index: int = 0
    passed: int = 1
    voided: int = 0
    tightened: bool = False
    judged: bool = False
    named: BladeId | None = None
    set_again: frozenset[int] = frozenset()
    slackened: frozenset[int] = frozenset()
    over: Over = ""

    @property
    def round(self) -> str:
        """Name of the present round, or "" after the last."""
        return self.rounds[self.index] if self.index < len(self.rounds) else ""

    @property
    def tight(self) -> bool:
        """Bolts are tight: those of an earlier round, or of this one."""
        return self.tightened or not TIGHTENING.isdisjoint(self.rounds[: self.index])

    def prepare(self, *, safe: bool = True) -> None:
        """The aircraft is made safe, or that was taken back."""
        self.prepared = safe

    def tighten(self, *, done: bool = True) -> None:
        """The bolts are tightened for this round, or that was taken back."""
        self.tightened = done

    def slacken(self, blades: frozenset[int]) -> None:
        """The bolts of these are slack: everything from the first tightening on comes again."""
        self.slackened = blades
        self.index = next(i for i, name in enumerate(self.rounds) if name in TIGHTENING)
        self.set_again = frozenset()
        self.passed += 1
        self.voided = 0
        self.tightened = self.judged = False

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

    def go_on(self) -> None:
        """Every alarm is answered: the next round, or back where a blade was set again.

        A blade was set again only while nothing was tight: then in the present round.
        """
        if not self.set_again:
            self.index += 1
        self.set_again = frozenset()
        self.passed += 1
        self.voided = 0
        self.tightened = self.judged = False

    def return_to(self, name: str, passed: int) -> None:
        """A reading of a pass that was judged does not count: the pass is open again."""
        self.index, self.passed = list(self.rounds).index(name), passed
        self.tightened, self.judged = name in TIGHTENING, False

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
    return (
        _slackening_step(members, progress)
        or _reference_step(plan, members)
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
    loose = members.loose()
    return Step("slacken", loose[0]) if loose and progress.tight else None


def _reference_step(plan: Plan, members: Members) -> Step | None:
    member = members.reference
    if member.baseline is not None:
        return None
    stage, wanted = planned(plan, REFERENCE)
    wanted = max(wanted, member.wanted)
    placement, half = members.ledger.next_placement(REFERENCE, stage, member.attempt, wanted)
    return Step(stage, REFERENCE, placement, wanted, half=half)


def _setting_step(plan: Plan, members: Members, progress: Progress) -> Step | None:
    loose = members.loose()
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
    name = progress.round
    if not name:
        return Step("finished")
    if name in TIGHTENING and not progress.tightened:
        return Step("tighten", round=name)
    placed = members.ledger.placed(name, progress.passed)
    wants = [(member.blade, max(1, member.wanted)) for member in members]
    lacking = [(blade, wanted) for blade, wanted in wants if placed.get(blade, 0) < wanted]
    if not lacking:
        return None
    blade, wanted = next((item for item in lacking if item[0] == progress.named), lacking[0])
    placement, half = members.ledger.next_placement(blade, name, progress.passed, wanted)
    return Step(name, blade, placement, wanted, round=name, half=half)
