"""The plan: which step comes next is a pure function of what has been done.

    stage          asked for while
    prepare        nobody has said that the aircraft is made safe
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

from dataclasses import dataclass

from daemon.workflow.ledger import Ledger
from shared.events import REFERENCE, BladeId, Half
from shared.job import Plan

TIGHTENING = frozenset({"snug", "nip", "torque"})
HANDS_ONLY = frozenset({"prepare", "tighten", "answer", "finished", "watch"})
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
    """Where the work stands, beyond what the ledger shows."""

    watch_only: bool = False
    prepared: bool = False
    round: int = 0
    """Index into the plan's rounds."""
    passed: int = 1
    """Pass of the present round; counts up whenever rounds start over."""
    voided: int = 0
    """Passes of the present round given up because their placements disagreed."""
    tightened: bool = False
    judged: bool = False
    """The present pass has been judged and asks for nothing more."""
    named: BladeId | None = None
    """A person or the hub witness said which blade is next."""
    finished: bool = False


def next_step(plan: Plan, ledger: Ledger, progress: Progress) -> Step | None:
    """Return the next step; None when the present round has all it wants: judge it."""
    if progress.watch_only:
        return Step("watch")
    if not progress.prepared:
        return Step("prepare")
    if _must_answer(plan, ledger, progress):
        return Step("answer")
    return (
        _reference_step(plan, ledger)
        or _setting_step(plan, ledger, progress)
        or _round_step(plan, ledger, progress)
    )


def round_name(plan: Plan, progress: Progress) -> str:
    """Name of the present round, or "" after the last."""
    return plan.rounds[progress.round] if progress.round < len(plan.rounds) else ""


def first_tight_round(plan: Plan, progress: Progress) -> int:
    """Where to go on after a blade was set again.

    Before anything is tight: in the present round. After that the bolts must be slackened,
    so the work goes back to the first round that tightens.
    """
    tight = [i for i, name in enumerate(plan.rounds) if name in TIGHTENING]
    if tight and tight[0] <= progress.round:
        return tight[0]
    return progress.round


def _must_answer(plan: Plan, ledger: Ledger, progress: Progress) -> bool:
    """An alarm holds the work up once its round is judged; some hold it up at once."""
    kinds = {alarm.kind for alarm in ledger.alarms.values()}
    last = progress.round >= len(plan.rounds)
    at_once = bool(kinds & {"out", "level"}) or _unsettled(plan, ledger)
    return bool(kinds) and (progress.judged or last or at_once)


def _unsettled(plan: Plan, ledger: Ledger) -> bool:
    """Whether more placements than the plan allows have not given a member its baseline."""
    for blade in {a.blade for a in ledger.alarms.values() if a.kind == "not known"}:
        state = ledger.state[blade]
        stage = "reference" if blade == REFERENCE else "baseline"
        have = ledger.placements(blade, stage, state.attempt)
        if state.baseline is None and have >= max(plan.max_placements, state.wanted):
            return True
    return False


def _reference_step(plan: Plan, ledger: Ledger) -> Step | None:
    state = ledger.state[REFERENCE]
    if state.baseline is not None:
        return None
    wanted = max(plan.reference_placements, state.wanted)
    placement, half = ledger.next_placement(REFERENCE, "reference", state.attempt, wanted)
    return Step("reference", REFERENCE, placement, wanted, half=half)


def _setting_step(plan: Plan, ledger: Ledger, progress: Progress) -> Step | None:
    open_blades = [b for b in ledger.numbers() if ledger.state[b].baseline is None]
    if not open_blades:
        return None
    begun = [b for b in open_blades if ledger.of(b, "set", ledger.state[b].attempt)]
    named = progress.named if progress.named in open_blades else None
    blade = named if isinstance(named, int) else (begun or open_blades)[0]
    attempt = ledger.state[blade].attempt
    if not ledger.of(blade, "set", attempt):
        return Step("set", blade)
    have = len(ledger.of(blade, "baseline", attempt))
    wanted = max(plan.baseline_placements, ledger.state[blade].wanted)
    return Step("baseline", blade, have + 1, wanted)


def _round_step(plan: Plan, ledger: Ledger, progress: Progress) -> Step | None:
    name = round_name(plan, progress)
    if not name:
        return Step("finished")
    if name in TIGHTENING and not progress.tightened:
        return Step("tighten", round=name)
    lacking = []
    for blade in ledger.members():
        wanted = max(1, ledger.state[blade].wanted)
        if ledger.placements(blade, name, progress.passed) < wanted:
            lacking.append((blade, wanted))
    if not lacking:
        return None
    blade, wanted = next((item for item in lacking if item[0] == progress.named), lacking[0])
    placement, half = ledger.next_placement(blade, name, progress.passed, wanted)
    return Step(name, blade, placement, wanted, round=name, half=half)
