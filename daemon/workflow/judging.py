"""Judge a round: what became of every held blade since its baseline."""

import math
from collections.abc import Collection
from dataclasses import replace

from daemon.measure.angle.means import BladeAngle
from daemon.measure.moved.diagnose import diagnose
from daemon.measure.moved.model import ASKEW_PRIOR, Change, Diagnosis, Finding
from daemon.measure.quantiles import Z95
from daemon.workflow import words
from daemon.workflow.agreement import disagreement_deg, sure_u
from daemon.workflow.case import FEWER_SINCE, Case
from daemon.workflow.members import Accepted, Left, Member, Members
from daemon.workflow.result import judge_set
from shared.angles import stated
from shared.events import REFERENCE, AlarmKind, BladeId, Verdict
from shared.job import Thresholds

RARER = 10.0
"""A call by a level whose seating is only assumed may be wrong so many times more rarely."""
LEAST_GAIN = 0.1
"""A placement is asked for that lessens what could hide by a tenth of it, and none that does not."""
LOOSER = 2.0
"""A level that seats much worse than was believed: so many times."""
WORSE = 5.0
"""A careless azimuth is so many times worse than the uncertainty that was stated."""
ALARMING: dict[str, AlarmKind] = {
    "moved": "moved",
    "not known": "not known",
    "exchanged": "exchanged",
    "shifted": "shifted",
}
"""Verdicts that need an answer, and the kind of alarm they raise.

"Turned" by tightening needs none by itself: tolerance and spread decide (`rounds`).
"""


def alarm_kind(verdict: Verdict | None) -> AlarmKind | None:
    """Return the kind of alarm a verdict raises; None where no answer is needed.

    "Not known" only because the uncertainty could hide more than the tolerance is said by the
    verdict itself: no answer of a person would change it.
    """
    if verdict is None or (verdict.state == "not known" and verdict.could_hide_deg is not None):
        return None
    return ALARMING.get(verdict.state)


def judge(case: Case, apart: Collection[BladeId] = ()) -> Diagnosis:
    """Compare every member's newest pass with its baseline.

    apart: members whose placements of this pass disagree. What became of those nobody can say;
    the reference among them is still looked at, as wide as it is, for what it says of the others.
    """
    job, members = case.job, case.members
    tightened = frozenset(b for b in members.numbers() if members[b].loosened)
    order = since(members)
    held = [m for m in members if m.baseline is not None]
    looked_at = [m for m in held if m.blade == REFERENCE or m.blade not in apart]
    found = [(m.blade, change(case, m)) for m in looked_at]
    changes = [replace(one, since=order[blade]) for blade, one in found if one is not None]
    # what the reference is read again to confirm a call gives no blade another chance
    blades = [one.placements for one in changes if one.blade != REFERENCE]
    most = max([job.plan.max_placements, *blades])
    diagnosis = diagnose(
        changes,
        thresholds=_thresholds(case),
        tolerance_deg=job.target.tolerance_deg,
        find_deg=job.plan.find_deg,
        least_gain=LEAST_GAIN if case.header.rules >= FEWER_SINCE else 0.0,
        tightened=tightened,
        settled=settled(case),
        stage=_since_in_words(case) if tightened else case.progress.round,
        max_placements=most,
        play_deg=0.0 if tightened else job.setup.play_deg,
        prior_askew=max(ASKEW_PRIOR, case.referred.careless),
        labels={b: job.propeller.label(b) for b in members.numbers() if job.propeller.labels},
        than=_since_when(case),
    )
    return _doubting(case, diagnosis, apart) if apart else diagnosis


def _thresholds(case: Case) -> Thresholds:
    """Return the limits; nobody is called on an assumption of how well a level seats.

    Where one that read this pass was not measured, the error of a call has to be so much rarer.
    """
    limits = case.job.thresholds
    levels = {entry.level for member in case.members for entry in case.read_now(member.blade)}
    if not case.ledger.assumes(levels):
        return limits
    rarer = 1.0 - (1.0 - limits.moved_probability) / RARER
    return limits.model_copy(update={"moved_probability": rarer})


def settled(case: Case) -> frozenset[int]:
    """Return the blades that bolts may have turned, and of which it decides nothing whether they did.

    They stand in tolerance, and the set in its spread, each with its guard band: turned by the
    bolts or not, nothing follows from it.
    """
    if case.header.rules < SETTLED_SINCE:
        return frozenset()
    verdict = judge_set(case)
    if verdict.spread not in {"in", None}:
        return frozenset()
    judged = zip(case.members.numbers(), verdict.blades, strict=True)
    return frozenset(b for b, one in judged if one == "in" and case.members[b].loosened)


SETTLED_SINCE = 6
"""Rules since which nobody is sent to a blade for what decides nothing."""


def _since_in_words(case: Case) -> str:
    """Return what turned the blades: the last tightening, and a hand where no round excludes it.

    A round whose reading fell after the wrench was at the bolts comes again before the one they
    were tightened for: that one is meant.
    """
    progress = case.progress
    rounds = progress.rounds[: progress.index + 1]
    touched = not any(
        progress.now.turns(progress.blades) <= one.reads(progress.blades) for one in rounds[:-1]
    )
    last = next(one for one in (*reversed(rounds), *progress.rounds) if one.tighten)
    return words.tightened(last.name, touched=touched)


def _since_when(case: Case) -> dict[int, str]:
    """Return since when a blade has changed, in words, where that is not since it was set."""
    if case.header.rules < LEFT_SINCE:
        return {}
    bases = {blade: case.members[blade].basis for blade in case.members.numbers()}
    return {
        blade: words.after(case.job, basis.stage)
        for blade, basis in bases.items()
        if isinstance(basis, Accepted | Left)
    }


def where_left(case: Case, member: Member) -> Left | Accepted | None:
    """Return what a blade beyond noise of its baseline is held to, since its bolts may have turned it.

    How little that was could hide in the round after them; a round that follows no tightening would
    lay it to a hand. None: it stands by its baseline, or nearer to that than to where they left it.
    """
    if case.header.rules < LEFT_SINCE or member.loosened:
        return None
    ways = member.ways_left()
    off = {way: _noises(case, member, member.mean(way), touched=False) for way in ways}
    touched = not member.rebased
    so_far = _noises(case, member, member.baseline, touched=touched) if ways else 0.0
    if so_far <= Z95:
        return None
    within = [way for way in ways if off[way] <= Z95]
    nearest = min(ways, key=lambda way: off[way])
    return next(iter(within), nearest if off[nearest] < so_far else None)


def _noises(case: Case, member: Member, old: BladeAngle | None, *, touched: bool) -> float:
    """Return how many standard uncertainties a member changed since an angle; infinite: nobody knows."""
    change = None if old is None else _change(case, member, old, touched=touched)
    if change is None:
        return math.inf
    return abs(change.change_deg) / math.hypot(change.u_old_deg, change.u_new_deg)


LEFT_SINCE = 9
"""Rules since which a blade may be held to where a tightening left it without a turn."""


def _doubting(case: Case, diagnosis: Diagnosis, apart: Collection[BladeId]) -> Diagnosis:
    """Return a diagnosis in which nothing is known of those whose placements disagree."""
    doubts = [_doubt(case, case.members[blade]) for blade in apart]
    findings = [one for one in diagnosis.findings if one.blade not in apart]
    again = tuple(blade for blade in diagnosis.again if blade not in apart)
    return replace(diagnosis, findings=(*findings, *doubts), again=again)


def _doubt(case: Case, member: Member) -> Finding:
    """Return what is told of a member whose placements disagree."""
    one, entries = change(case, member), case.read_now(member.blade)
    moved = 0.0 if one is None else one.change_deg
    u95 = 0.0 if one is None else Z95 * math.hypot(one.u_old_deg, one.u_new_deg)
    say = words.disagreement(case.job, member.blade, disagreement_deg(entries) or 0.0, entries)
    return Finding(member.blade, "not known", stated(moved), stated(u95), 0.5, None, say)


def change(case: Case, member: Member) -> Change | None:
    """Return one member's change; the reference's sign is that of a common shift.

    A nose-up change of the shaft makes every blade, computed with the old reference, appear
    finer by the same amount; so does a level's zero. The reference's change is therefore
    minus the change of the tilt.

    Taking the level off after the baseline's placements may have turned a blade a little: the
    last lift wholly, the one before by half (it is in one of two placements).
    """
    by_hand = member.blade != REFERENCE and not member.rebased
    old = member.baseline
    return None if old is None else _change(case, member, old, touched=by_hand)


def _change(case: Case, member: Member, old: BladeAngle, *, touched: bool) -> Change | None:
    """Return a member's change since an angle; touched: the level was lifted off a loose blade since."""
    blade = member.blade
    new = case.ledger.angle_of(blade, case.progress.round, case.progress.passed)
    if new is None:
        return None
    lift = case.job.setup.lift_u_deg * math.sqrt(1.25) if touched else 0.0
    difference = new.angle_deg - old.angle_deg
    return Change(
        blade=blade,
        change_deg=-difference if blade == REFERENCE else difference,
        u_old_deg=math.hypot(sure_u(old.budget), lift),
        u_new_deg=sure_u(new.budget),
        placements=case.placed_now(blade),
        baseline_deg=None if blade == REFERENCE else old.angle_deg,
        u_askew_deg=0.0 if blade == REFERENCE else _askew_deg(case, member, old, new),
        u_unseated_deg=_unseated_deg(case, member, old, new),
    )


def _unseated_deg(case: Case, member: Member, old: BladeAngle, new: BladeAngle) -> float:
    """Return what a seating much worse than was believed would add to a change.

    Those that were measured are known; of the others this session's placements may be too alike
    by chance, and those that were not are the ones that look like a blade that moved.
    """
    if not case.ledger.assumes(entry.level for entry in case.read_now(member.blade)):
        return 0.0
    return math.sqrt(LOOSER**2 - 1.0) * _of("seating", old, new)


def _of(name: str, *angles: BladeAngle) -> float:
    """Return the standard uncertainty that one cause puts into a difference of angles."""
    lines = [line for angle in angles for line in angle.budget.lines if line.name == name]
    return math.hypot(*(line.u_deg for line in lines))


def _askew_deg(case: Case, member: Member, old: BladeAngle, new: BladeAngle) -> float:
    """Return what an azimuth worse than was stated would put into a blade's change.

    Where it was measured, by a witness or the level itself, it is not what was stated.
    """
    if case.referred.careless >= 1.0:
        return 0.0  # it is in the uncertainties already
    for entry in case.read_now(member.blade):
        if entry.azimuth is not None or entry.reading.psi_deg is not None:
            return 0.0
    return WORSE * _of("psi", old, new)


def since(members: Members) -> dict[BladeId, int]:
    """Return the order of the baselines made since the reference was last known to be right.

    0: as old as that, the reference itself among them. A shift may lie before any of the others.
    """
    reference = members.reference
    known = max(reference.based_on, reference.confirmed_by)
    after = sorted({m.based_on for m in members if m.based_on > known})
    return {m.blade: after.index(m.based_on) + 1 if m.based_on > known else 0 for m in members}


def called(diagnosis: Diagnosis) -> list[int]:
    """Return the blades called moved or turned."""
    return [
        int(f.blade)
        for f in diagnosis.findings
        if f.state in {"moved", "turned"} and f.blade != REFERENCE
    ]


def all_alike(diagnosis: Diagnosis) -> bool:
    """Whether every blade is called, and by the same change within what is known of each."""
    blades = [f for f in diagnosis.findings if f.blade != REFERENCE]
    changes = [f.change_deg for f in blades]
    if not blades or len(called(diagnosis)) < len(blades):
        return False
    return max(changes) - min(changes) <= max(f.u95_deg for f in blades) * math.sqrt(2.0)
