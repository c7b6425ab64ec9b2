"""Baselines: when a member counts as set, and from then on is held."""

from collections.abc import Sequence

from daemon.measure.angle.reference import two_positions
from daemon.workflow import words
from daemon.workflow.agreement import disagreement_deg, stands_elsewhere
from daemon.workflow.case import FEWER_SINCE, Case
from daemon.workflow.ledger import Entry
from daemon.workflow.members import Accepted, Member
from daemon.workflow.plan import AT_BOLTS, planned
from shared.angles import stated
from shared.events import REFERENCE, BladeId, Held, Noted, Withdrawn

MISTAKEN_SINCE = 8
"""Rules since which blades are worked out anew when a reading behind the shaft's tilt was false."""


def settle(case: Case, blade: BladeId | None) -> None:
    """A member's readings changed: work out anew whether it is held, and say so."""
    if blade is None:
        return
    member = case.members[blade]
    fallen = member.recount()
    if member.basis is None:
        _place(case, member)
    elif member.news:
        hold(case, member)
    for basis in fallen:
        if blade == REFERENCE and isinstance(basis, Accepted):
            _unshift(case, basis)


def _place(case: Case, member: Member) -> None:
    """Nothing holds it: its placements do, once there are enough and they agree."""
    plan = case.job.plan
    stage, wanted = planned(plan, member.blade)
    have = case.ledger.of(member.blade, stage, member.attempt)
    count = case.ledger.placements(member.blade, stage, member.attempt)
    if count >= wanted and disagree(case, member.blade, have, count):
        if count < plan.max_placements:
            member.ask_for(count + 1)
    elif count >= max(wanted, member.wanted) and not _stands_elsewhere(case, member, have):
        agrees = case.header.rules >= FEWER_SINCE and wanted == count == 1
        member.place(stage, wanted, from_setting=agrees and member.blade != REFERENCE)
        hold(case, member)
    else:
        member.begin()


def _stands_elsewhere(case: Case, member: Member, fresh: Sequence[Entry]) -> bool:
    """Ask for one more where the only fresh placement is not where the blade was set, and say so."""
    was = case.ledger.of(member.blade, "set", member.attempt)
    few = case.header.rules < FEWER_SINCE or case.job.plan.max_placements < 2
    if few or len(fresh) != 1 or not was:
        return False
    now, then = fresh[0].angle, was[-1].angle
    if not stands_elsewhere(then, now, case.job.setup.lift_u_deg):
        return False
    member.ask_for(2)
    off = now.angle_deg - then.angle_deg
    case.say(Noted("caution", words.not_where_set(case.job, member.blade, off)))
    return True


def withdraw(case: Case, entry: Entry, reason: str) -> None:
    """A reading does not count any more: baselines and the round's judgement follow."""
    reference = case.members.reference
    behind = {one.id for one in reference.entries(reference.basis)}
    if entry.id in behind and case.header.rules >= MISTAKEN_SINCE:
        reference.mistake()
    case.ledger.withdraw(entry)
    if entry.blade is not None:
        case.members[entry.blade].ask_for(0)
    if entry.blade == REFERENCE and REFERENCE not in case.ledger.last_read_ns():
        case.referred.forget_nose()
    case.say(Withdrawn(entry.id, reason))
    count_anew(case, entry, entry.blade)


def count_anew(case: Case, entry: Entry, blade: BladeId | None) -> None:
    """A reading of this member changed: its baseline and the round's judgement follow."""
    settle(case, blade)
    if (entry.stage, entry.passed) == (case.progress.round, case.progress.passed):
        case.progress.reopen()


def turned(case: Case, entry: Entry, by_deg: float) -> None:
    """What a level lies on was turned after its reading, and nobody had lifted the level.

    While a blade is set that is nothing new: its fresh placements are still to come. Of any
    other reading nobody knows what it is worth: it is void, and the step comes up again, in a
    round that was judged with it too. At the bolts it is they that turn a blade under a level that
    was left on it: its reading was of before, and everything is read again when they are done.
    """
    if at_bolts(case):
        _turned_at_bolts(case, entry, by_deg)
        return
    setting = entry.stage == "set"
    case.say(Noted("caution", words.turned_after(case.job, entry, by_deg, void=not setting)))
    if setting:
        return
    newest, in_round = case.ledger.last() == entry, entry.stage in case.progress.names
    if newest and in_round and entry.stage != case.progress.round:
        case.progress.return_to(entry.stage, entry.passed)
        if case.progress.tightened:
            for blade in case.progress.turned_by_bolts:
                case.members[blade].tell(turned=True)
    withdraw(case, entry, words.TURNED_AFTER)
    if entry.blade is not None and in_round:
        case.members[entry.blade].read_again()


def at_bolts(case: Case) -> bool:
    """Whether it is bolts that turn a blade under a level left on it."""
    return case.step.stage in AT_BOLTS and case.header.rules >= BOLTS_TURN_SINCE


def _turned_at_bolts(case: Case, entry: Entry, by_deg: float) -> None:
    """The reading stands. A reference that tilts is read in the round to come, which may spare it."""
    case.say(Noted("caution", words.turned_at_bolts(case.job, entry, by_deg)))
    if entry.blade == REFERENCE:
        case.members.reference.read_again(1)


BOLTS_TURN_SINCE = 9
"""Rules since which a blade that bolts turn under a level voids no reading."""


def disagree(case: Case, blade: BladeId, entries: Sequence[Entry], count: int) -> bool:
    """Say so when the placements of one pass cannot all be of this member.

    One more is asked for; when the plan's most are there, a person has to look.
    count: how many placements they make.
    """
    apart = disagreement_deg(entries)
    if apart is None:
        return False
    case.ledger.doubt((blade, entries[0].stage, entries[0].passed))
    say = words.disagreement(case.job, blade, apart, entries)
    setting = case.members[blade].baseline is None
    if setting and count < case.job.plan.max_placements:
        case.say(Noted("caution", f"{say}, or place it once more"))
    elif not case.alarms.of(blade):
        case.alarms.call(blade, "not known", say)
    return True


def accept_apart(case: Case, blade: BladeId) -> None:
    """A person looked: these placements are all of this member, far apart as they are."""
    member = case.members[blade]
    stage, _ = planned(case.job.plan, blade)
    apart = disagreement_deg(case.ledger.of(blade, stage, member.attempt))
    if apart is not None and case.ledger.angle_of(blade, stage, member.attempt) is not None:
        member.accept_apart(stage)
        hold(case, member)


def sways(case: Case, u_deg: float) -> bool:
    """The aircraft was found to sway: what was read before may be off by as much.

    Those angles stay, as unsure as that. When nobody knew of a sway before, the reference is read
    again, because everything hangs on it, and before the first round the blades are placed so
    often again as the plan wants.

    u_deg: standard deviation of what it sways by.

    Returns:
        Whether the reference is to be read again.
    """
    ledger, reference = case.ledger, case.members.reference
    known = any(entry.reading.u_sway_deg is not None for entry in ledger.entries)
    stage, _ = planned(case.job.plan, REFERENCE)
    begun = ledger.of(REFERENCE, stage, reference.attempt)
    found = {one.id: case.referred.swaying(one, u_deg) for one in ledger.swayed(u_deg)}
    ledger.sway(found, u_deg)
    if known or not (begun or reference.entries(reference.basis)):
        return False
    reference.refer_anew(mistaken=True)
    if case.step.stage in {"reference", "set", "baseline"}:
        for blade in case.members.numbers():
            _place_again(case, case.members[blade])
    return True


def _place_again(case: Case, member: Member) -> None:
    """Ask for as many placements as the plan wants, beside those there are of its setting."""
    stage, wanted = planned(case.job.plan, member.blade)
    have = case.ledger.placements(member.blade, stage, member.attempt)
    if have and not member.rebased:
        member.place_again(have + wanted)


def hold(case: Case, member: Member) -> None:
    """A member has its baseline: from here on nobody may touch it."""
    mistaken = member.mistaken
    member.hold()
    for alarm in case.alarms.of(member.blade):
        if alarm.kind == "not known":
            case.alarms.clear(alarm, "re-reading")
    if isinstance(member.blade, int):
        _held(case, member, member.blade)
    else:
        _wobble(case, member)
        if cannot := case.referred.cannot_hold(taking.level for taking in case.takings):
            case.say(Noted("caution", cannot))
        _whether_it_tilted(case)
        if mistaken:
            _refer_all(case)


def _held(case: Case, member: Member, blade: int) -> None:
    """Say what a blade is held to, and call it when that is out of tolerance."""
    angle = member.baseline
    if angle is None:
        return
    error, u95 = angle.angle_deg - case.aim_deg, angle.budget.u95_deg
    first = case.ledger.of(blade, "set", member.attempt)
    fresh = case.ledger.angle_of(blade, "baseline", member.attempt) or angle
    lift = fresh.angle_deg - first[-1].angle.angle_deg if first else 0.0
    tolerance = case.tolerance(error, u95)
    case.say(Held(blade, stated(angle.angle_deg), stated(u95), stated(lift), tolerance))
    if tolerance == "out":
        say = f"{case.name(blade)} is out of tolerance: {words.off(error)} with ±{u95:.2f}"
        case.alarms.call(blade, "out", say, angle.angle_deg)


def _wobble(case: Case, member: Member) -> None:
    """Say how far the surface leans, where two positions of the hub show it."""
    entries = member.entries(member.basis)
    if case.job.setup.reference != "half-turn" or not entries:
        return
    stage, passed = entries[0].stage, entries[0].passed
    first, second = (case.ledger.half_of(stage, passed, half) for half in (1, 2))
    if first is not None and second is not None:
        _, lean = two_positions(first.angle_deg, second.angle_deg)
        case.say(Noted("note", words.wobble(lean)))


def _whether_it_tilted(case: Case) -> None:
    """Hold what the witness saw against the reference that was read because of it."""
    saw, now = case.hub.answered(), case.referred.reference
    if saw is None or now is None:
        return
    change = now.theta_deg - saw.before_deg
    if abs(change) < abs(saw.by_deg) / 2.0:
        case.say(Noted("caution", words.not_tilted(saw.by_deg, change)))


def _unshift(case: Case, basis: Accepted) -> None:
    """The tilt that was accepted in a pass counts no more: nor does what hung on it."""
    for blade in case.members.numbers():
        refer_anew(case, blade, basis.stage, basis.passed)
        if case.members[blade].unshift(basis.stage, basis.passed):
            settle(case, blade)


def _refer_all(case: Case) -> None:
    """The tilt in force until now was wrong: all that hangs on it is worked out with the new one."""
    now = (case.progress.round, case.progress.passed)
    for blade in case.members.numbers():
        member = case.members[blade]
        rests_on = {(e.stage, e.passed) for e in member.entries(member.basis)}
        setting = {(stage, member.attempt) for stage in ("set", "baseline")}
        for stage, passed in sorted({now} | rests_on | setting):
            refer_anew(case, blade, stage, passed)
        settle(case, blade)


def refer_anew(case: Case, blade: BladeId, stage: str, passed: int) -> None:
    """Work a blade's angles of one pass out anew, with the tilt in force now."""
    for entry in case.ledger.of(blade, stage, passed):
        angle = case.referred.of_blade(entry.level, entry.reading, entry.sense, entry.azimuth)
        case.ledger.refer(entry, angle)
