"""What a face shows right now, from the workflow's state. Changes nothing."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Protocol

from daemon.measure.angle import BladeAngle
from daemon.measure.geometry import side_in_words
from daemon.measure.verdict import settles
from daemon.workflow import words
from daemon.workflow.angles import SECOND
from daemon.workflow.commands import offered, press_means, settable
from daemon.workflow.ledger import OpenAlarm
from daemon.workflow.plan import Step, round_name
from daemon.workflow.taking import Taking
from daemon.workflow.workflow import Workflow
from shared.events import REFERENCE, BladeId
from shared.view import AlarmView, BladeView, BudgetLine, LevelView, Live, Question, View


class LevelState(Protocol):
    """What is asked of a level's pipe."""

    @property
    def streaming(self) -> bool:
        """Valid samples keep coming."""
        ...

    @property
    def live(self) -> Live | None:
        """Motion and progress of the stream; angles in the level's own terms."""
        ...

    def shown(self, now_ns: int) -> LevelView:
        """Return the level's health."""
        ...


def rows(workflow: Workflow) -> tuple[BladeView, ...]:
    """Return the table: the reference first. It changes with events only."""
    return tuple(blade_view(workflow, blade) for blade in workflow.ledger.members())


def view(
    workflow: Workflow,
    levels: Mapping[str, LevelState],
    rows: tuple[BladeView, ...],
    now_ns: int,
    seen: int,
) -> View:
    """Return the whole picture at `now_ns`."""
    job, ledger, step = workflow.job, workflow.ledger, workflow.step
    angles = [r.angle_deg for r in rows if r.blade != REFERENCE and r.angle_deg is not None]
    return View(
        t_ns=now_ns,
        seen=seen,
        job=job.name,
        tolerance_deg=job.target.tolerance_deg,
        spread_tolerance_deg=job.target.spread_deg,
        step=workflow.step_number,
        stage=step.stage,
        blade=step.blade,
        label=words.label(job, step),
        placement=step.placement,
        placements=step.placements,
        say=words.instruction(job, step),
        stand=side_in_words(
            job.propeller.layout, job.propeller.rotation, beyond=step.half == SECOND
        ),
        live=live(workflow, levels),
        blades=rows,
        spread_deg=max(angles) - min(angles) if len(angles) == ledger.blades else None,
        alarms=tuple(_alarm(workflow, alarm) for alarm in ledger.alarms.values()),
        levels=tuple(level.shown(now_ns) for level in levels.values()),
        rounds=("reference", "set", *job.plan.rounds),
        next_say=next_words(workflow, step),
        finished=step.stage == "finished",
        press=press_means(workflow),
        offers=offered(workflow),
        question=_question(workflow),
    )


def _alarm(workflow: Workflow, alarm: OpenAlarm) -> AlarmView:
    return AlarmView(
        alarm.id,
        alarm.blade,
        words.blade_name(workflow.job, alarm.blade),
        alarm.kind,
        alarm.say,
        alarm.last_good_deg,
        settable=settable(workflow, alarm),
    )


def _question(workflow: Workflow) -> Question | None:
    asked = next((t.asked for t in workflow.takings.values() if t.asked), None)
    return Question(asked.id, asked.blade, asked.say) if asked else None


def blade_view(workflow: Workflow, blade: BladeId) -> BladeView:
    """Return one row of the table."""
    ledger, job = workflow.ledger, workflow.job
    state, angle = ledger.state[blade], ledger.newest_angle(blade)
    target = job.target.angle_deg
    error = None if angle is None or blade == REFERENCE else angle.angle_deg - target
    verdict = state.verdict
    working = workflow.step.blade == blade
    setting = working and workflow.step.stage == "set"
    tolerance = "" if error is None or angle is None else workflow.case.tolerance(error, angle)
    return BladeView(
        blade=blade,
        label="reference" if blade == REFERENCE else job.propeller.label(int(blade)),
        state="setting" if setting else state.state,
        angle_deg=None if angle is None else angle.angle_deg,
        u95_deg=None if angle is None else angle.budget.u95_deg,
        error_deg=error,
        change_deg=verdict.change_deg if verdict else None,
        could_hide_deg=verdict.could_hide_deg if verdict else None,
        tolerance=tolerance,
        alarm=any(alarm.blade == blade for alarm in ledger.alarms.values()),
        working=working,
        budget=() if angle is None else budget_lines(angle),
        read_ns=ledger.read_ns(blade),
        settles="" if error is None or angle is None else _settles(workflow, error, angle),
    )


def budget_lines(angle: BladeAngle) -> tuple[BudgetLine, ...]:
    """Return what the uncertainty of an angle comes from, the largest first."""
    lines = (
        BudgetLine(line.name, line.u_deg, line.kind, common=line.common not in {"none", "blade"})
        for line in angle.budget.lines
    )
    return tuple(sorted(lines, key=lambda line: -line.u_deg))


def _settles(workflow: Workflow, error_deg: float, angle: BladeAngle) -> str:
    return settles(error_deg, angle.budget, workflow.job.target.tolerance_deg)


def live(workflow: Workflow, levels: Mapping[str, LevelState]) -> Live:
    """Return the number to follow: the streaming blade level's, as a blade angle."""
    step, target = workflow.step, workflow.job.target
    if step.stage == "watch":
        return _watched(workflow, levels)
    name = next((n for n in workflow.takings if levels[n].streaming), None)
    raw = levels[name].live if name else None
    if name is None or raw is None or raw.angle_deg is None:
        shown = target.angle_deg if step.stage == "set" else None
        return Live(None, None, shown, "no signal", "no signal", 0.0, None, False, False)
    sense = workflow.senses[name]
    if step.blade == REFERENCE:
        angle = workflow.angles.live_tilt(name, raw.angle_deg, sense, step.half)
    else:
        angle = workflow.angles.live(name, raw.angle_deg, raw.target_deg, sense)
    error = angle - target.angle_deg if step.stage == "set" else None
    taking = workflow.takings[name]
    taken = step.reads and taking.placement != 0 and not taking.free
    may_take = step.reads and not taken and raw.motion != "in hand"
    return Live(
        angle_deg=angle,
        error_deg=error,
        target_deg=target.angle_deg if step.stage == "set" else None,
        words=live_words(workflow, raw, taking, error),
        motion=raw.motion,
        progress=raw.progress,
        u_deg=raw.u_deg,
        may_take=may_take,
        taken=taken,
    )


def _watched(workflow: Workflow, levels: Mapping[str, LevelState]) -> Live:
    """While only watching: the level that has most to say, in its own angle."""
    states = workflow.watching.states
    names = [entry.name for entry in workflow.job.level if entry.role == "watch"]
    names.sort(key=lambda n: n not in states or states[n].state == "quiet")
    name = next((n for n in names if levels[n].streaming), None)
    raw = levels[name].live if name else None
    if name is None or raw is None:
        return Live(None, None, None, "no signal", "no signal", 0.0, None, False, False)
    said = states[name].state if name in states else "learning"
    words_now = f"{name}: {said}"
    return replace(raw, target_deg=None, words=words_now)


def live_words(workflow: Workflow, raw: Live, taking: Taking, error_deg: float | None) -> str:
    """Return what the person most needs to hear about the number."""
    if taking.asked:
        return "look: is this right? confirm, or lift the level"
    if not workflow.step.reads:
        return ""
    if taking.placement != 0 and not taking.free:
        return "taken: lift the level"
    if raw.motion == "in hand":
        return "in hand"
    if error_deg is not None and taking.armed is None:
        return words.error_words(error_deg, workflow.job.target.tolerance_deg)
    if taking.armed:
        return "hold still"
    return {
        "moving": "moving",
        "creeping": "creeping: hold still",
        "settling": "settling",
        "still": "still: press",
        "ready": "ready: press",
    }[raw.motion]


def next_words(workflow: Workflow, step: Step) -> str:
    """Return what comes after this step."""
    job, ledger = workflow.job, workflow.ledger
    if step.stage == "set":
        count = job.plan.baseline_placements
        return f"hands off, lift, put back, press: {count} fresh placements"
    if step.stage == "baseline":
        left = [b for b in ledger.numbers() if ledger.state[b].baseline is None]
        after = [b for b in left if b != step.blade]
        if step.placement < step.placements:
            return "once more"
        if after:
            return f"{words.blade_name(job, after[0])}"
    name = round_name(job.plan, workflow.progress)
    if step.stage == name:
        return "the next one; when all are read, the verdict"
    return f"everything is read {words.AFTER[name]}" if name in words.AFTER else ""
