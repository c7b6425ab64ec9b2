"""The view: what every face shows right now, and which keys do what. Changes nothing."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Protocol

from daemon.measure.angle.geometry import side_in_words
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.verdict import judge, settles
from daemon.measure.stream.motion import Motion
from daemon.workflow import hands_free, landing, words
from daemon.workflow.alarms import OpenAlarm
from daemon.workflow.case import Case
from daemon.workflow.commands import closed, offered, press_means, settable
from daemon.workflow.hands import dial_of, torque_of
from daemon.workflow.members import Member
from daemon.workflow.referred import SECOND
from daemon.workflow.result import judge_set, result
from daemon.workflow.takings import Taking
from daemon.workflow.watching import Watching
from shared.events import REFERENCE
from shared.view import (
    Aiming,
    AlarmView,
    BladeView,
    BoltCircle,
    BudgetLine,
    LevelView,
    Live,
    Question,
    View,
)

LYING = frozenset({"settling", "still", "ready", "creeping"})
SILENT = Live(None, None, None, "no signal", "no signal", 0.0, None, False, False)


class LevelState(Protocol):
    """What is asked of a level's pipe."""

    @property
    def motion(self) -> Motion | None:
        """What it is doing, in its own terms; None while no valid samples come."""
        ...

    def shown(self, now_ns: int) -> LevelView:
        """Return the level's health."""
        ...


Levels = Mapping[str, LevelState]


def standing(case: Case, seen: int) -> View:
    """Return the part of the view that changes with events only; seen: number of the last one."""
    job, step, propeller = case.job, case.step, case.job.propeller
    verdict = judge_set(case)
    return View(
        t_ns=0,
        seen=seen,
        job=job.name,
        tolerance_deg=job.target.tolerance_deg,
        spread_tolerance_deg=job.target.spread_deg,
        step=case.step_number,
        stage=step.stage,
        blade=step.blade,
        label=words.label(job, step),
        placement=step.placement,
        placements=step.placements,
        say=case.instruction(step),
        stand=side_in_words(propeller.layout, propeller.rotation, beyond=step.half == SECOND),
        live=SILENT,
        blades=_rows(case),
        spread_deg=verdict.spread_deg,
        alarms=tuple(_alarm(case, alarm) for alarm in case.alarms),
        levels=(),
        rounds=("reference", "found" if case.progress.read_only else "set", *case.progress.names),
        next_say=_next_words(case),
        finished=step.stage == "finished",
        press=press_means(case),
        spread=verdict.spread,
        result=result(case, verdict) if step.stage == "finished" else None,
        people=tuple(person.name for person in job.people),
        aims=_aims(case),
        bolts=_bolts(case),
        step_ns=case.step_ns,
    )


def view(standing: View, case: Case, watching: Watching, levels: Levels, now_ns: int) -> View:
    """Return the whole picture at `now_ns`: what stands, and what changes with every sample."""
    asked = case.takings.question()
    in_turn = (*case.takings.for_a_press(), *case.takings)
    return replace(
        standing,
        t_ns=now_ns,
        live=_watched(case, watching, levels)
        if standing.stage == "watch"
        else _live(case, levels, in_turn, now_ns),
        levels=tuple(level.shown(now_ns) for level in levels.values()),
        offers=offered(case),
        question=Question(asked.id, asked.blade, asked.say, asked.wants) if asked else None,
        turnover=hands_free.means(case, in_turn[0], now_ns) if in_turn else "",
    )


def _aims(case: Case) -> tuple[Aiming, ...]:
    """Return what else blades may be set to, where somebody may say so now."""
    if closed(case, "aim"):
        return ()
    return tuple(Aiming(at, deg) for at, deg in case.aims().items())


def _bolts(case: Case) -> BoltCircle | None:
    """Return the bolts that are tightened now; None: they are not given, or it is another step."""
    hand = case.progress.hand
    if case.step.stage not in {"tighten", "wrench"} or hand is None or hand.group is None:
        return None
    order, bolt = hand.group.in_order, hand.bolt
    return BoltCircle(
        group=hand.group.name,
        order=tuple(order),
        next=bolt or order[0],
        done=tuple(order[: order.index(bolt)]) if bolt else (),
        torque=torque_of(hand),
        each=bool(bolt),
        dial=dial_of(case.job.plan, hand),
    )


def _alarm(case: Case, alarm: OpenAlarm) -> AlarmView:
    return AlarmView(
        alarm.id,
        alarm.blade,
        case.name(alarm.blade),
        alarm.kind,
        alarm.say,
        alarm.last_good_deg,
        settable=settable(case, alarm),
        partner=alarm.partner,
        blades=alarm.blades,
    )


# --- the table ------------------------------------------------------------------------------


def _rows(case: Case) -> tuple[BladeView, ...]:
    """Return the table: the reference first."""
    read_ns, alarmed = case.ledger.last_read_ns(), {alarm.blade for alarm in case.alarms}
    by_the_wall = {blade: case.breaks.by_the_wall(at_ns) for blade, at_ns in read_ns.items()}
    aim_deg = case.aim_deg
    return tuple(
        _row(case, one, aim_deg, one.blade in alarmed, by_the_wall.get(one.blade))
        for one in case.members
    )


def _row(case: Case, member: Member, aim_deg: float, alarm: bool, read_ns: int | None) -> BladeView:
    """Return one row of the table; aim_deg: what blades are judged by; read_ns: when it was read last."""
    blade, verdict = member.blade, member.verdict
    row = BladeView(
        blade=blade,
        label="reference" if blade == REFERENCE else case.job.propeller.label(int(blade)),
        state=member.state,
        angle_deg=None,
        u95_deg=None,
        error_deg=None,
        change_deg=verdict.change_deg if verdict else None,
        could_hide_deg=verdict.could_hide_deg if verdict else None,
        tolerance="",
        alarm=alarm,
        read_ns=read_ns,
        working=case.step.blade == blade,
    )
    angle = case.members.newest_angle(blade)
    if angle is not None:
        row = _with_angle(row, angle, aim_deg, case.job.target.tolerance_deg)
    return replace(row, state=_state(case, member, row))


def _with_angle(
    row: BladeView, angle: BladeAngle, aim_deg: float, tolerance_deg: float
) -> BladeView:
    """Return a row with its angle, and of a blade how far that is off."""
    u95 = angle.budget.u95_deg
    row = replace(row, angle_deg=angle.angle_deg, u95_deg=u95, budget=_budget(angle))
    if row.blade == REFERENCE:
        return row
    error = angle.angle_deg - aim_deg
    tolerance = judge(error, u95, tolerance_deg)
    doubtful = tolerance == "too close to say"
    return replace(
        row,
        error_deg=error,
        tolerance=tolerance,
        settles=settles(error, angle.budget, tolerance_deg) if doubtful else "",
    )


def _state(case: Case, member: Member, row: BladeView) -> str:
    """Return what a row says; "held" of nobody who was just read elsewhere, judged or not."""
    if row.working and case.step.stage == "set":
        return "setting"
    held = member.baseline
    if row.state not in STANDS or held is None or row.angle_deg is None or row.u95_deg is None:
        return row.state
    far = max(case.job.target.tolerance_deg, 2.0 * row.u95_deg)
    elsewhere = abs(row.angle_deg - held.angle_deg) > far
    return ELSEWHERE if elsewhere and case.read_now(row.blade) else row.state


STANDS = frozenset({"held", "steady", "accepted", "may have turned"})
ELSEWHERE = "read elsewhere"


def _budget(angle: BladeAngle) -> tuple[BudgetLine, ...]:
    """Return what the uncertainty of an angle comes from, the largest first."""
    lines = (
        BudgetLine(line.name, line.u_deg, line.kind, common=line.common not in {"none", "blade"})
        for line in angle.budget.lines
    )
    return tuple(sorted(lines, key=lambda line: -line.u_deg))


# --- the number to follow ---------------------------------------------------------------------


def _live(case: Case, levels: Levels, in_turn: Sequence[Taking], now_ns: int) -> Live:
    """Return the number to follow: of the level a press is for, as a blade angle.

    in_turn: the levels for blades, the one that a press is for first.
    """
    aim = case.aim_deg if case.step.stage == "set" else None
    streaming = ((t, m) for t in in_turn if (m := levels[t.level].motion) is not None)
    followed = next(streaming, None)
    if followed is None:
        return replace(SILENT, target_deg=aim)
    taking, motion = followed
    angle, reads = _followed(case, taking, motion), case.step.reads
    taken = reads and taking.placement != 0 and not taking.free
    live = Live(
        angle_deg=angle,
        error_deg=None if aim is None else angle - aim,
        target_deg=aim,
        words="",
        motion=motion.doing,
        progress=motion.progress,
        u_deg=motion.u_deg,
        may_take=reads and motion.doing != "in hand" and not (taken or taking.asked),
        taken=taken,
        laid=taking.placement != 0
        and motion.doing in LYING
        and taking.landing.rested_ns > case.step_ns,
        near_deg=landing.near_deg(case),
    )
    if not reads:
        return live
    still = motion.doing in {"still", "ready"}
    lacking = landing.lacks(case, taking, case.step, angle) if still else "a press"
    said = (_live_words(case, live, taking, lacking), _tip(case, live, taking, motion.psi_deg))
    return replace(
        live,
        words="; ".join(part for part in said if part),
        by_itself=lacking is None and not taking.armed and taking.free,
        lacks=_lacks(case, live, taking, lacking, now_ns) or "",
    )


def _followed(case: Case, taking: Taking, motion: Motion) -> float:
    """Return a level's angle as what the step reads: the shaft's tilt, or a blade's angle.

    Where a hub witness knows which blade stands horizontal, the level lies on that one.
    """
    step, level, sense = case.step, taking.level, taking.sense
    if step.blade == REFERENCE:
        return case.referred.live_tilt(level, motion.angle_deg, sense, step.half)
    stands = case.hub.horizontal()
    azimuth = None if stands is None else case.hub.azimuth(stands)
    return case.referred.live(level, motion.angle_deg, motion.psi_deg, sense, azimuth)


def _watched(case: Case, watching: Watching, levels: Levels) -> Live:
    """While only watching: the level that has most to say, in its own angle."""
    states = watching.states
    names = [entry.name for entry in case.job.level if entry.role == "watch"]
    names.sort(key=lambda n: n not in states or states[n].state == "quiet")
    for name in names:
        if (motion := levels[name].motion) is not None:
            said = states[name].state if name in states else "learning"
            return replace(
                SILENT,
                angle_deg=motion.angle_deg,
                words=f"{name}: {said}",
                motion=motion.doing,
                progress=motion.progress,
                u_deg=motion.u_deg,
            )
    return SILENT


LANDED: dict[landing.Lacking | None, str] = {
    None: "hold still: taken by itself",
    "a press": "ready: press",
    "a landing": "ready: press",
    "a turn": "the same blade again? turn it over, or press",
    "agreement": "not as expected: lay it again, or press",
}
"""What is said of a level that lies still where nobody has to press, by what lacks."""
FIRST = "lay it once more: two must agree, or press"
"""What is said of the first landing of all, of which nothing is known."""


def _lacks(
    case: Case, live: Live, taking: Taking, lacking: landing.Lacking | None, now_ns: int
) -> landing.Lacking | None:
    """Return what a level lacks that has lain long enough; None: nothing, or it is not offered."""
    step = case.step
    if live.motion != "ready" or not taking.free or taking.asked or taking.armed:
        return None
    if not case.proofs.given(taking.level):
        return None
    if taking.landing.held_back == taking.placement:
        return "a turn"
    if case.takes_itself(taking.level, step) and not landing.waited(case, taking, step, now_ns):
        return None
    return None if step.stage == "set" and lacking == "agreement" else lacking  # a tone leads there


def _tip(case: Case, live: Live, taking: Taking, psi_deg: float | None) -> str:
    """Return how far a blade's tip stands from horizontal, where level or witness knows it and it matters."""
    blade = case.step.blade
    if not isinstance(blade, int) or live.motion == "in hand" or live.taken:
        return ""
    azimuth = case.hub.azimuth(blade)
    psi = psi_deg if azimuth is None else azimuth[0]
    if psi is None or not TIP_DEG < abs(psi) < ANOTHER_DEG:
        return ""
    up = (psi > 0.0) == (azimuth is not None or taking.sense == "normal")
    return f"tip {abs(psi):.1f} {'high' if up else 'low'}"


TIP_DEG = 1.0
"""A blade whose tip is no further from horizontal is left alone."""
ANOTHER_DEG = 30.0
"""Further off, another blade stands there, or none: that is asked about."""


def _live_words(case: Case, live: Live, taking: Taking, lacking: landing.Lacking | None) -> str:
    """Return what the person most needs to hear about the number."""
    if taking.asked:
        return "look: is this right? confirm, or lift the level"
    if live.taken:
        return "taken: lift the level"
    if live.motion == "in hand":
        return "in hand"
    if taking.armed:
        return "hold still"
    if live.error_deg is not None:
        return words.error_words(live.error_deg, live.near_deg)
    if live.motion in {"still", "ready"} and case.proofs.given(taking.level):
        return _landed_words(case, live, taking, lacking)
    return MOVES[live.motion]


def _landed_words(case: Case, live: Live, taking: Taking, lacking: landing.Lacking | None) -> str:
    """Return the same of a level that lies still, where nobody may have to press."""
    if case.takes_itself(taking.level, case.step):
        first = case.step.blade == REFERENCE and case.referred.reference is None
        return FIRST if first and lacking == "agreement" else LANDED[lacking]
    if live.motion == "ready" and case.proofs.wanted:
        return "ready: press, or lift it and turn it over"
    return MOVES[live.motion]


MOVES = {
    "moving": "moving",
    "creeping": "creeping: hold still",
    "settling": "settling",
    "still": "still: press",
    "ready": "ready: press",
}
"""What is said of a level by what it does."""


def _next_words(case: Case) -> str:
    """Return what comes after this step."""
    step, members = case.step, case.members
    if step.stage == "set":
        count = case.job.plan.baseline_placements
        return f"hands off, lift, put back, press: {count} fresh placements"
    if step.stage == "baseline":
        if step.placement < step.placements:
            return "once more"
        loose = [blade for blade in members.loose() if blade != step.blade]
        if loose:
            return case.name(loose[0])
    name, reads = case.progress.round, case.progress.now.read
    if step.stage == name:
        return "the next one; when all are read, the verdict"
    return f"everything is read {words.after(case.job, name)}" if name and reads == "all" else ""
