"""The workflow: folds what the levels tell and what people ask into readings and verdicts.

It is told facts and commands and says events; it holds no clock and reads no bytes. Which
step comes next is `plan.next_step`; what a round means is `judging.judge`.
"""

from collections.abc import Callable, Sequence

from daemon.facts import (
    Fact,
    InHand,
    LearnedFact,
    LinkFact,
    Pressed,
    Ready,
    RefusedFact,
    Rested,
)
from daemon.measure.blade import BladeAngle
from daemon.measure.reading import Reading
from daemon.measure.verdict import judge as judge_tolerance
from daemon.workflow import words
from daemon.workflow.agreement import disagreement_deg
from daemon.workflow.angles import Angles
from daemon.workflow.judging import alarm_kind, called, judge
from daemon.workflow.ledger import Entry, Ledger, OpenAlarm
from daemon.workflow.plan import (
    Progress,
    Step,
    first_tight_round,
    next_step,
    round_name,
)
from daemon.workflow.taking import By, Taking
from shared.angles import stated
from shared.events import (
    REFERENCE,
    Alarm,
    AlarmKind,
    Asked,
    BladeId,
    Body,
    Captured,
    Cleared,
    Held,
    Learned,
    Linked,
    Noted,
    Refused,
    Sense,
    StepChanged,
    Tolerance,
    Verdict,
)
from shared.job import Header

Say = Callable[[Body], int]
"""Says an event; returns its number."""


class Workflow:
    """The job's state. `say` announces; `current` gives a level's running average, if still."""

    def __init__(self, header: Header, say: Say, current: Callable[[str], Reading | None]) -> None:
        self.job = header.job
        self.say = say
        self.current = current
        self.ledger = Ledger(self.job.propeller.blades)
        self.progress = Progress()
        self.angles = Angles(header)
        self.senses: dict[str, Sense] = {e.name: "normal" for e in self.job.level}
        self.takings = {e.name: Taking(e.name) for e in self.job.level if e.role == "blade"}
        self.step = Step("")
        self.step_number = 0
        self.step_event = 0
        """Number of the event that announced the step: what a command must have seen."""
        self.set_again: set[int] = set()
        self.questions = 0
        self.abandoned = False
        self.now_ns = 0

    # --- facts --------------------------------------------------------------------------

    def fold(self, fact: Fact, now_ns: int) -> None:
        """Take one fact of a level."""
        self.now_ns = now_ns
        match fact:
            case LinkFact():
                self._link(fact)
            case RefusedFact(level, reason, count):
                self.say(Refused(level, reason, count))
            case LearnedFact(level, what, value, lag1, n):
                self.say(Learned(level, what, stated(value), stated(lag1), n))
            case InHand(level) | Rested(level) | Ready(level) | Pressed(level):
                if level in self.takings:
                    self._placed(self.takings[level], fact)

    def _link(self, fact: LinkFact) -> None:
        self.say(Linked(fact.level, fact.state, fact.reason, stated(fact.gap_s)))
        if fact.state in {"swapped", "stuck"}:
            say = f"level {fact.level} is {fact.state}: {fact.reason}"
            self.raise_alarm(REFERENCE, "level", say, None)
            self.refresh()

    def _placed(self, taking: Taking, fact: Fact) -> None:
        match fact:
            case InHand():
                taking.lift()
            case Rested(_, placement):
                taking.rest(placement, self.now_ns)
            case Ready(_, placement, turned):
                taking.placement = placement
                taking.ready, taking.turned = True, turned
                self.consider(taking)
            case Pressed():
                taking.press("button", self.now_ns)
                self.consider(taking)
            case _:
                return

    # --- taking a reading ---------------------------------------------------------------

    def consider(self, taking: Taking) -> None:
        """Take the level's average if everything a reading wants is there."""
        step = self.step
        if not (step.reads and taking.free and taking.ready):
            return
        by = taking.armed or ("turn" if self._turned_to_target(taking, step) else None)
        reading = self.current(taking.level) if by else None
        if by is None or reading is None:
            return
        angle = self.angle(taking.level, reading, step.blade)
        if not taking.confirmed and (asked := self._question(taking.level, step, reading, angle)):
            self._ask(taking, step, reading, asked)
            return
        self._capture(taking, step, reading, angle, by)

    def angle(self, level: str, reading: Reading, blade: BladeId | None) -> BladeAngle:
        """Turn a level's average into the angle of a blade, or into the shaft's tilt."""
        sense = self.senses[level]
        if blade == REFERENCE:
            return self.angles.of_reference(level, reading, sense)
        return self.angles.of_blade(level, reading, sense)

    def _turned_to_target(self, taking: Taking, step: Step) -> bool:
        """While setting: the blade turned under the level and lies within the tolerance.

        A still moment out of tolerance is shown and not taken; nor is anything taken by
        itself for a blade with an open alarm.
        """
        reading = self.current(taking.level)
        if step.stage != "set" or not taking.turned or reading is None:
            return False
        if any(alarm.blade == step.blade for alarm in self.ledger.alarms.values()):
            return False
        angle = self.angles.live(
            taking.level, reading.mean_deg, reading.psi_deg, self.senses[taking.level], blade=True
        )
        return abs(angle - self.job.target.angle_deg) <= self.job.target.tolerance_deg

    def _question(self, level: str, step: Step, reading: Reading, angle: BladeAngle) -> str | None:
        if step.blade == REFERENCE:
            return self.angles.reference_question(angle)
        return self.angles.blade_question(level, reading, self.senses[level], angle)

    def _ask(self, taking: Taking, step: Step, reading: Reading, asked: str) -> None:
        if taking.asked:
            return
        self.questions += 1
        taking.asked = self.questions
        self.say(Asked(self.questions, step.blade, stated(reading.mean_deg), asked))

    def turn_level(self, level: str) -> None:
        """A person said that the level points the other way: readings change sign from here."""
        self.senses[level] = "reversed" if self.senses[level] == "normal" else "normal"

    def _capture(
        self, taking: Taking, step: Step, reading: Reading, angle: BladeAngle, by: By
    ) -> None:
        ledger, sense = self.ledger, self.senses[taking.level]
        number = len(ledger.entries) + 1
        passed = self._passed(step)
        entry = Entry(number, step.blade, step.stage, passed, taking.level, reading, sense, angle)
        ledger.entries.append(entry)
        taking.take()
        error = None if step.blade == REFERENCE else angle.angle_deg - self.job.target.angle_deg
        self.say(
            Captured(
                id=number,
                blade=step.blade,
                stage=step.stage,
                angle_deg=stated(angle.angle_deg),
                u95_deg=stated(angle.budget.u95_deg),
                samples=reading.n,
                level=taking.level,
                reading_deg=stated(reading.mean_deg),
                error_deg=None if error is None else stated(error),
                tolerance=None if error is None else self.tolerance(error, angle),
                sense=sense,
                placement=step.placement,
                by=by,
                reached=reading.reached,
            )
        )
        self.settle(step.blade)
        self.progress.named = None
        self.refresh()

    def _passed(self, step: Step) -> int:
        if step.stage in {"reference", "set", "baseline"}:
            assert step.blade is not None
            return self.ledger.state[step.blade].attempt
        return self.progress.passed

    def tolerance(self, error_deg: float, angle: BladeAngle) -> Tolerance:
        """Judge an error against the job's tolerance, with the angle's own guard band."""
        return judge_tolerance(error_deg, angle.budget.u95_deg, self.job.target.tolerance_deg)

    # --- what follows from the readings -------------------------------------------------

    def settle(self, blade: BladeId | None) -> None:
        """Work out anew whether a blade has its baseline, from the readings that count."""
        if blade is None:
            return
        state, plan = self.ledger.state[blade], self.job.plan
        if blade == REFERENCE:
            stage, wanted = "reference", plan.reference_placements
        else:
            stage, wanted = "baseline", plan.baseline_placements
        if state.rebased:
            return
        have = self.ledger.of(blade, stage, state.attempt)
        before = state.baseline
        if before is None and len(have) >= wanted and self._disagree(blade, have):
            state.wanted = len(have) + 1
        if len(have) >= max(wanted, state.wanted if before is None else 0):
            state.baseline = self.ledger.angle_of(blade, stage, state.attempt)
            if state.baseline != before:
                self._hold(blade, have)
        else:
            state.baseline = None
            began = self.ledger.of(blade, "set", state.attempt)
            state.state = "provisional" if began else "not set"

    def _disagree(self, blade: BladeId, entries: Sequence[Entry]) -> bool:
        """Say so when the placements of one pass cannot all be of this blade.

        One more is asked for; when the plan's most are there, a person has to look.
        """
        apart = disagreement_deg(entries)
        if apart is None:
            return False
        name, listed = words.blade_name(self.job, blade), words.placements(entries)
        say = f"the placements of {name} disagree by {apart:.2f} ({listed}): withdraw the wrong one"
        if len(entries) < self.job.plan.max_placements:
            self.say(Noted("caution", f"{say}, or place it once more"))
        elif not any(a.blade == blade for a in self.ledger.alarms.values()):
            self.raise_alarm(blade, "not known", say, None)
        return True

    def _hold(self, blade: BladeId, entries: Sequence[Entry]) -> None:
        """A blade has its baseline: from here on nobody may touch it."""
        state = self.ledger.state[blade]
        state.state, state.wanted = "held", 0
        assert state.baseline is not None
        for alarm in [a for a in self.ledger.alarms.values() if a.blade == blade]:
            if alarm.kind == "not known":
                self.clear(alarm.id, "re-reading", "")
        if blade == REFERENCE:
            self.angles.adopt(entries)
            return
        angle = state.baseline
        error = angle.angle_deg - self.job.target.angle_deg
        first = self.ledger.of(blade, "set", state.attempt)
        lift = angle.angle_deg - first[-1].angle.angle_deg if first else 0.0
        tolerance = self.tolerance(error, angle)
        u95 = angle.budget.u95_deg
        self.say(Held(int(blade), stated(angle.angle_deg), stated(u95), stated(lift), tolerance))
        if tolerance == "out":
            name = words.blade_name(self.job, blade)
            say = f"{name} is out of tolerance: {words.off(error)} with ±{u95:.2f}"
            self.raise_alarm(blade, "out", say, angle.angle_deg)

    def refresh(self) -> None:
        """Announce the next step if it is another one; judge the round when it is complete."""
        step = next_step(self.job.plan, self.ledger, self.progress)
        while step is None:
            if self.progress.judged:
                self._next_round()
            else:
                self._judge()
            step = next_step(self.job.plan, self.ledger, self.progress)
        if step != self.step:
            self._announce(step)

    def _announce(self, step: Step) -> None:
        self.step = step
        self.step_number += 1
        for taking in self.takings.values():
            taking.armed, taking.asked, taking.confirmed = None, 0, False
        self.step_event = self.say(
            StepChanged(
                step=self.step_number,
                stage=step.stage,
                blade=step.blade,
                label=words.label(self.job, step),
                placement=step.placement,
                placements=step.placements,
                say=words.instruction(self.job, step),
            )
        )

    # --- rounds -------------------------------------------------------------------------

    def _judge(self) -> None:
        if self._round_disagrees():
            return
        diagnosis = judge(self.job, self.ledger, self.progress)
        stage = round_name(self.job.plan, self.progress)
        for finding in diagnosis.findings:
            state = self.ledger.state[finding.blade]
            placements = len(self.ledger.of(finding.blade, stage, self.progress.passed))
            verdict = Verdict(
                finding.blade,
                finding.state,
                stated(finding.change_deg),
                stated(finding.u95_deg),
                stated(finding.probability),
                stage,
                placements,
                finding.say,
                None if finding.could_hide_deg is None else stated(finding.could_hide_deg),
            )
            state.verdict, state.state = verdict, finding.state
            state.wanted = placements + (finding.blade in diagnosis.again)
            self.say(verdict)
        for blade in diagnosis.again:
            self.ledger.state[blade].state = "place again"
        if not diagnosis.again:
            self.progress.judged = True
            for number in called(diagnosis):
                self.ledger.state[number].called_moved = True
            self._alarm_what_needs_an_answer()

    def _round_disagrees(self) -> bool:
        stage, passed = round_name(self.job.plan, self.progress), self.progress.passed
        found = False
        for blade in self.ledger.members():
            entries = self.ledger.of(blade, stage, passed)
            if self._disagree(blade, entries):
                found = True
                more = len(entries) < self.job.plan.max_placements
                self.ledger.state[blade].wanted = len(entries) + more
                self.ledger.state[blade].state = "place again"
                self.progress.judged = self.progress.judged or not more
        return found

    def _alarm_what_needs_an_answer(self) -> None:
        for blade in self.ledger.members():
            verdict = self.ledger.state[blade].verdict
            kind = alarm_kind(verdict)
            old = [a for a in self.ledger.alarms.values() if a.blade == blade]
            if verdict is None or kind is None:
                for alarm in old:
                    self.clear(alarm.id, "re-reading", "")
                continue
            if not any(alarm.kind == kind for alarm in old):
                baseline = self.ledger.state[blade].baseline
                good = baseline.angle_deg if baseline else None
                self.raise_alarm(blade, kind, verdict.say, good)

    def raise_alarm(
        self, blade: BladeId, kind: AlarmKind, say: str, last_good_deg: float | None
    ) -> None:
        """Say that something needs an answer; it stays until it has one."""
        alarm_id = self.ledger.next_alarm
        self.ledger.next_alarm += 1
        good = None if last_good_deg is None else stated(last_good_deg)
        self.ledger.alarms[alarm_id] = OpenAlarm(alarm_id, blade, kind, good, say)
        self.say(Alarm(alarm_id, blade, kind, good, say))

    def clear(self, alarm_id: int, how: str, by: str, reason: str = "") -> None:
        """An alarm was answered."""
        del self.ledger.alarms[alarm_id]
        self.say(Cleared(alarm_id, how, by, reason))  # type: ignore[arg-type]

    def accept(self, alarm: OpenAlarm) -> None:
        """What was found is taken as it is: it becomes the baseline."""
        stage, passed = round_name(self.job.plan, self.progress), self.progress.passed
        state = self.ledger.state[alarm.blade]
        state.state = "accepted"
        mean = self.ledger.angle_of(alarm.blade, stage, passed)
        if alarm.kind not in {"moved", "turned", "not known", "exchanged", "shifted"}:
            return
        if mean is not None:
            state.baseline, state.rebased = mean, True
        if alarm.kind == "shifted":
            self.angles.adopt(self.ledger.of(REFERENCE, stage, passed))
            self._refer_anew(stage, passed)

    def _refer_anew(self, stage: str, passed: int) -> None:
        """The reference shifted: the round's readings, with the new reference, are the baselines.

        Entries of the pass are re-referred; the levels' own readings stay as they were.
        """
        for blade in self.ledger.numbers():
            entries = self.ledger.of(blade, stage, passed)
            for entry in entries:
                entry.angle = self.angles.of_blade(entry.level, entry.reading, entry.sense)
            mean = self.ledger.angle_of(blade, stage, passed)
            state = self.ledger.state[blade]
            alarmed = any(a.blade == blade for a in self.ledger.alarms.values())
            if mean is not None and state.baseline is not None and not alarmed:
                state.baseline, state.rebased = mean, True
                self._hold(blade, entries)

    def start_setting(self, blade: int) -> None:
        """A blade is to be set again: earlier readings stay and do not count."""
        state = self.ledger.state[blade]
        state.attempt += 1
        state.baseline, state.verdict, state.rebased = None, None, False
        state.state, state.wanted = "not set", 0
        self.set_again.add(blade)

    def _next_round(self) -> None:
        """All alarms are answered: go on, or start over where a blade was set again."""
        progress = self.progress
        if self.set_again:
            progress.round = first_tight_round(self.job.plan, progress)
            self.set_again.clear()
        else:
            progress.round += 1
        progress.passed += 1
        progress.tightened = progress.judged = False
        for blade in self.ledger.members():
            self.ledger.state[blade].wanted = 0

    def done(self) -> None:
        """The step that needs hands is done."""
        if self.step.stage == "prepare":
            self.progress.prepared = True
        elif self.step.stage == "tighten":
            self.progress.tightened = True
            for blade in self.ledger.numbers():
                self.ledger.state[blade].state = "may have turned"
        elif self.step.stage == "finished":
            self.progress.finished = True
        self.refresh()
