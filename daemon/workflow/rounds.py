"""Rounds: everything is read again; what that means, and what follows from the answers."""

import math
from collections.abc import Sequence

from daemon.measure.angle.correction import Limits, correction
from daemon.measure.moved.model import Diagnosis, Finding
from daemon.measure.quantiles import Z95
from daemon.workflow import baselines, words
from daemon.workflow.agreement import disagreement_deg, sure_u
from daemon.workflow.aim import Turned
from daemon.workflow.aircraft import LEAST_DEG
from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.case import FEWER_SINCE, Case
from daemon.workflow.judging import (
    SETTLED_SINCE,
    WORSE,
    alarm_kind,
    all_alike,
    judge,
    where_left,
)
from daemon.workflow.plan import AT_BOLTS
from daemon.workflow.result import judge_set, say_round
from shared.angles import stated
from shared.events import REFERENCE, Assigned, BladeId, Noted, Verdict

VOIDS = 2
"""So often one round is read anew because its placements disagree."""
CALLS = frozenset({"moved", "turned", "exchanged"})
GROSS = 10.0
"""Standard uncertainties of a change that no shift explains while others stay as they were."""
CARELESS = 0.5
"""Probability from which on the azimuth is held for worse than stated."""
ANSWERED_BY_ACCEPTING = frozenset({"moved", "not known", "exchanged", "shifted"})
"""Alarms whose acceptance makes what the round found the baseline."""


def judge_round(case: Case) -> None:
    """Say what became of every member; ask for more placements, or raise the alarms."""
    if not case.read_in_pass:
        case.progress.judge()  # nothing is read in this round
        return
    apart = tuple(m.blade for m in case.members if disagreement_deg(case.read_now(m.blade)))
    for blade in apart:
        case.ledger.doubt((blade, case.progress.round, case.progress.passed))
    if apart and case.progress.voided < VOIDS:
        _void(case, apart)
        return
    _follow_what_bolts_left(case)
    diagnosis = judge(case, apart)
    if not diagnosis.again and _unconfirmed(case, diagnosis):
        return
    for finding in diagnosis.findings:
        _say(case, finding, diagnosis)
    if diagnosis.again:
        _ask_for_the_unread(case, diagnosis)
        return
    case.progress.judge()
    _distrust_azimuth(case, diagnosis)
    decides_nothing = _hold_what_is_settled(case, diagnosis, apart)
    _remember_what_held(case)
    if case.job.setup.reference == "both-sides" and all_alike(diagnosis):
        case.say(Noted("caution", words.ALL_ALIKE))
    _alarm_what_needs_an_answer(case, diagnosis, decides_nothing)
    _follow_the_bolts(case)
    if case.progress.aside is None:
        say_round(case, case.progress.round)
    _alarm_the_set(case)


def _void(case: Case, apart: Sequence[BladeId]) -> None:
    """Give a pass up whose own placements disagree: something shifted, or was misplaced.

    Everything is read once more; after the second time a person has to look at those that
    go on disagreeing, and the others are judged.
    """
    names = " and ".join(case.name(blade) for blade in apart)
    listed = ", ".join(words.placements(case.read_now(blade)) for blade in apart)
    case.say(
        Noted(
            "caution",
            f"the placements of {names} disagree ({listed}): aircraft, level or blade moved "
            "during the round, or the level was misplaced. Everything is read once more.",
        )
    )
    _start_over(case, void=True)


def _start_over(case: Case, *, void: bool = False) -> None:
    """Read everything of this round once more."""
    members = [member for member in case.members if case.progress.wants(member)]
    case.progress.start_over(void=void)
    for member in members:
        member.read_again()
        if not case.progress.wants(member):
            member.stay()  # it was read beside the plan, for those that disagree


def _unconfirmed(case: Case, diagnosis: Diagnosis) -> bool:
    """Ask once more before a blade is called: the blade itself, then the reference.

    A call needs two placements of the blade (someone may have been aboard during one) and
    a reading of the reference after them (aircraft or level may have shifted in between). Where
    placements of this session scattered more than they should, two that agree may do so by chance
    (a hand may have rested on the blade in both): then it needs as many as the plan allows.
    A gross change of some, with others as they were, is none of aircraft or level.
    """
    suspects = [f.blade for f in diagnosis.findings if f.state in CALLS]
    if not suspects:
        return False
    most = case.job.plan.max_placements
    looks = most if case.ledger.scattered else min(2, most)
    lacking: list[BladeId] = [b for b in suspects if case.placed_now(b) < looks]
    if not lacking and not _gross(case, diagnosis):
        reference = case.read_now(REFERENCE)
        newest = max(case.read_now(b)[-1].id for b in suspects)
        lacking = [] if reference and reference[-1].id > newest else [REFERENCE]
    for blade in lacking:
        case.members[blade].read_again(case.placed_now(blade) + 1)
    return bool(lacking)


def _gross(case: Case, diagnosis: Diagnosis) -> bool:
    """Whether what is called is far beyond noise, and others read since are as they were.

    Read before, they would say nothing: aircraft or level may have shifted in between.
    """
    if case.header.rules < FEWER_SINCE:
        return False
    called = [f for f in diagnosis.findings if f.state in CALLS]
    since = max(case.read_now(f.blade)[0].id for f in called)
    steady = [f.blade for f in diagnosis.findings if f.state == "steady"]
    as_they_were = any(case.read_now(blade)[-1].id > since for blade in steady)
    return as_they_were and all(abs(f.change_deg) > GROSS * f.u95_deg / Z95 for f in called)


def _ask_for_the_unread(case: Case, diagnosis: Diagnosis) -> None:
    """Where a part was read, the reference may be wanted beside it, all of its halves."""
    for blade in diagnosis.again:
        if not case.placed_now(blade):
            case.members[blade].read_again(1)


def _say(case: Case, finding: Finding, diagnosis: Diagnosis) -> None:
    """Say one verdict; nothing is called as long as anyone is to be placed again."""
    placements, hide = case.placed_now(finding.blade), finding.could_hide_deg
    open_call = bool(diagnosis.again) and finding.state in CALLS
    looked_at = open_call and placements < case.job.plan.max_placements
    again = looked_at or finding.blade in diagnosis.again
    verdict = Verdict(
        finding.blade,
        "place again" if open_call else finding.state,
        stated(finding.change_deg),
        stated(finding.u95_deg),
        stated(finding.probability),
        case.progress.round,
        placements,
        f"{finding.say}; it is looked at again first" if open_call else finding.say,
        None if hide is None else stated(hide),
    )
    state = "place again" if again or open_call else finding.state
    case.members[finding.blade].judge(verdict, state, placements + again)
    case.say(verdict)


def _hold_what_is_settled(
    case: Case, diagnosis: Diagnosis, apart: Sequence[BladeId]
) -> frozenset[BladeId]:
    """Return the blades of which only their bolts are in doubt; they are held where they stand now.

    Turned by them or steady: tolerance and spread say what follows, and call the set where it is out.
    """
    shifted = diagnosis.probability_shifted >= case.job.thresholds.steady_probability
    if shifted or case.header.rules < SETTLED_SINCE:
        return frozenset()
    doubtful = [f.blade for f in diagnosis.findings if f.state == "not known"]
    found = frozenset(b for b in doubtful if case.members[b].loosened and b not in apart)
    for blade in found:
        case.members[blade].follow(case.progress.round, case.progress.passed)
        case.members[blade].stay()
    return found


def _distrust_azimuth(case: Case, diagnosis: Diagnosis) -> None:
    """Blades changed each by its own amount: that is how they are brought to horizontal.

    From then on every blade's angle is as unsure as that, what was read before too.
    """
    if case.referred.careless >= 1.0:
        return
    case.referred.suspect_azimuth(diagnosis.probability_askew)
    if diagnosis.probability_askew <= CARELESS:
        return
    case.referred.distrust_azimuth(WORSE)
    blades = [entry for entry in case.ledger.taken if isinstance(entry.blade, int)]
    case.ledger.widen({entry.id: case.referred.askew(entry) for entry in blades})
    case.say(Noted("caution", words.careless_azimuth(case.job, WORSE)))


def _remember_what_held(case: Case) -> None:
    """A reference found steady says that nothing shifted before its last reading.

    Whatever is found steady was laid on one seat twice: that shows how well the level seats.
    """
    for member in case.read_in_pass:
        verdict = member.verdict
        if verdict is None or verdict.state != "steady":
            continue
        if member.blade == REFERENCE:
            case.members.reference.confirm()
        if before := member.entries(member.basis):
            now = (member.blade, case.progress.round, case.progress.passed)
            case.ledger.steady(now, (member.blade, before[-1].stage, before[-1].passed))


def _alarm_what_needs_an_answer(
    case: Case, diagnosis: Diagnosis, decides_nothing: frozenset[BladeId]
) -> None:
    followed = _borne_out(case)
    partners = {one.blade: one.partner for one in diagnosis.findings}
    for member in case.read_in_pass:
        kind = None if followed and member.blade == REFERENCE else alarm_kind(member.verdict)
        kind = None if member.blade in decides_nothing else kind
        old = case.alarms.of(member.blade)
        if member.verdict is None or kind is None:
            for alarm in old:
                case.alarms.clear(alarm, "re-reading")
        elif not any(alarm.kind == kind for alarm in old):
            good = member.baseline.angle_deg if member.baseline else None
            partner = partners.get(member.blade)
            case.alarms.call(member.blade, kind, member.verdict.say, good, partner)
    if followed:
        case.say(Noted("note", words.BORNE_OUT))
        _follow_the_reference(case)


def _follow_the_bolts(case: Case) -> None:
    """What tightening turned is held to where it stands now: by that it is judged."""
    for blade in case.members.numbers():
        member, now = case.members[blade], (case.progress.round, case.progress.passed)
        if member.verdict is None or not case.read_now(blade):
            continue
        if member.verdict.state == "turned":
            member.follow(*now)
        elif member.verdict.state == "steady" and member.loosened:
            member.leave_where(*now)
    if case.progress.tightened:
        case.aim.learn(_turned_since_set(case))


def _follow_what_bolts_left(case: Case) -> None:
    """What earlier bolts turned a blade by unseen is no change of this round."""
    for member in case.read_in_pass:
        if (basis := where_left(case, member)) is not None:
            member.follow_left(basis)


def _turned_since_set(case: Case) -> dict[int, Turned]:
    """Return how far every blade stands from where it was set; nothing where one was not read."""
    found: dict[int, Turned] = {}
    for blade in case.members.numbers():
        now, then = case.members.newest_angle(blade), case.members[blade].as_set
        if now is None or then is None:
            return {}
        u95 = math.hypot(sure_u(now.budget), sure_u(then.budget)) * Z95
        found[blade] = Turned(now.angle_deg - then.angle_deg, u95)
    return found


def _alarm_the_set(case: Case) -> None:
    """Blades out of tolerance, or out of spread: one alarm for the whole set, with what to set.

    What has an alarm of its own, or was accepted as it is, is not called again. While a shift of the
    reference is not answered, nobody knows where the blades stand.
    """
    if case.alarms.of(REFERENCE):
        return
    verdict, target = judge_set(case), case.job.target
    read = case.members.newest_angles()
    known = {blade: angle.angle_deg for blade, angle in read.items() if angle is not None}
    out = [b for b, one in zip(read, verdict.blades, strict=True) if one == "out"]
    all_there = len(known) == len(read) or case.progress.now.read == "these"
    if not (all_there and (out or verdict.spread == "out")):
        return
    limits = Limits(case.aim_deg, target.tolerance_deg, target.spread_deg)
    found = correction(known, limits)
    dealt_with = {alarm.blade for alarm in case.alarms}
    dealt_with |= {one.blade for one in case.accepted if one.kind == "out"}
    if set(found.blades) <= dealt_with:
        return
    say = words.set_is_out(case.job, verdict, known, case.aim_deg, out, found)
    worst = max(found.blades, key=lambda blade: abs(known[blade] - found.aim_deg))
    case.alarms.call(worst, "out", say, blades=found.blades)


def _borne_out(case: Case) -> bool:
    """Whether the reference shifted just as far as the hub witness saw the aircraft tilt."""
    verdict, saw = case.members.reference.verdict, case.hub.tilted
    unread = not case.read_now(REFERENCE)
    if unread or verdict is None or verdict.state != "shifted" or saw is None:
        return False
    return abs(verdict.change_deg + saw.by_deg) <= verdict.u95_deg + LEAST_DEG


def _follow_the_reference(case: Case) -> None:
    """The reference of this pass is the reference from now on, for baselines too.

    The pass is worked out anew with it, and is what the blades are held to; the levels' own
    readings stay as they were.
    """
    stage, passed = case.progress.round, case.progress.passed
    if case.ledger.angle_of(REFERENCE, stage, passed) is not None:
        case.members.reference.accept(stage, passed, shifted=True)
    case.hub.answered()
    for blade in case.members.numbers():
        member, held = case.members[blade], case.members[blade].baseline is not None
        baselines.refer_anew(case, blade, stage, passed)
        read = case.ledger.angle_of(blade, stage, passed) is not None
        if read and held and not case.alarms.of(blade):
            member.accept(stage, passed, shifted=True)
            baselines.hold(case, member)


def tilted(case: Case, by_deg: float) -> None:
    """The hub witness saw the aircraft tilt.

    While setting, the reference is read again first. In a round, readings before and after
    it do not go together: everything is read once more, the reference first. At the bolts,
    the round that follows reads it.
    """
    reference = case.referred.reference
    case.hub.see_tilt(by_deg, reference.theta_deg if reference else 0.0)
    setting = case.step.stage in {"set", "baseline"}
    reading = case.step.stage == case.progress.round
    case.say(Noted("caution", words.tilted(by_deg, setting=setting, reading=reading)))
    if setting:
        case.members.reference.refer_anew()
        return
    if reading and not case.progress.judged:
        _start_over(case)
    if case.header.rules >= TILTED_SINCE and case.step.stage in {case.progress.round, *AT_BOLTS}:
        case.members.reference.read_again(1)


TILTED_SINCE = 8
"""Of these rules on the reference is read where the witness saw a tilt, in rounds that spare it too."""


def read_first(case: Case, why: str) -> bool:
    """What is held is read before anything else, and a round that had begun starts over.

    why: in words: the work stood still, or somebody else works from here.

    Returns:
        Whether there is anything to be read.
    """
    held = [member.blade for member in case.members if member.baseline is not None]
    reading = case.step.reads and case.step.stage == case.progress.round
    if not held or case.step.stage in UNTOUCHED or (reading and not case.read_in_pass):
        return False
    case.say(Noted("caution", words.read_first(why, again=reading)))
    if reading:
        _start_over(case)
    else:
        case.look(held)
    return True


UNTOUCHED = frozenset({"prepare", "watch", "answer", "found"})
"""Stages in which that changes nothing: nothing is held, or a person has to look anyway."""


def accept(case: Case, alarm: OpenAlarm) -> None:
    """What was found is taken as it is: it becomes the baseline."""
    if alarm.blades:
        for blade in alarm.blades:
            case.members[blade].leave()
        return
    member = case.members[alarm.blade]
    if member.baseline is None:
        baselines.accept_apart(case, alarm.blade)
    elif alarm.kind not in ANSWERED_BY_ACCEPTING or not case.read_now(alarm.blade):
        member.leave()
    elif alarm.blade == REFERENCE:
        _follow_the_reference(case)
    else:
        member.accept(case.progress.round, case.progress.passed)


def exchange(case: Case, one: BladeId, other: BladeId, by: str, reason: str) -> None:
    """Two blades were taken for each other in this pass: each reading goes to its own.

    That answers the alarms of both; the round is judged anew.
    """
    passed = case.progress.passed
    for entry in [*case.read_now(one), *case.read_now(other)]:
        truly = other if entry.blade == one else one
        case.ledger.assign(entry, truly, passed)
        case.say(Assigned(entry.id, truly, entry.blade))
    for blade in (one, other):
        for alarm in case.alarms.of(blade):
            if alarm.kind == "exchanged":
                case.alarms.clear(alarm, "exchange", by, reason)
    case.progress.reopen()


def go_on(case: Case) -> None:
    """All alarms are answered: go on, or start over where a blade was set again."""
    for member in case.read_in_pass:
        member.tell()
    aside = case.progress.aside
    begun = aside is not None and bool(case.ledger.placed(case.progress.now.name, aside.passed))
    case.progress.go_on(begun=begun)
    for member in case.members:
        member.ask_for(0)
