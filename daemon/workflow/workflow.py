"""The workflow: folds what the levels tell and what people ask into readings and verdicts.

It is told facts and commands and says events; it holds no clock and reads no bytes. Which
step comes next is `plan.next_step`; what a round means is `judging.judge`.
"""

from collections.abc import Callable

from daemon.measure.angle import BladeAngle
from daemon.measure.stream.facts import (
    Crept,
    Fact,
    InHand,
    LearnedFact,
    LinkFact,
    Pressed,
    Ready,
    RefusedFact,
    Rested,
    Sampled,
)
from daemon.measure.stream.reading import Reading
from daemon.workflow import words
from daemon.workflow.agreement import own_u
from daemon.workflow.angles import SECOND
from daemon.workflow.baselines import Baselines
from daemon.workflow.case import Case, Say
from daemon.workflow.hub import Hub
from daemon.workflow.ledger import Entry
from daemon.workflow.plan import (
    Step,
    next_step,
)
from daemon.workflow.rounds import Rounds
from daemon.workflow.taking import By, Taking
from daemon.workflow.watching import Watching
from shared.angles import difference_deg, stated
from shared.events import (
    REFERENCE,
    Asked,
    BladeId,
    Captured,
    Half,
    Learned,
    Linked,
    Noted,
    Refused,
    Sense,
    StepChanged,
)
from shared.job import Header


class Workflow:
    """The job's state.

    Args:
        header: the session's.
        say: announces an event.
        current: a level's running average, if it is still.
        streaming: whether a level's samples keep coming.
    """

    def __init__(
        self,
        header: Header,
        say: Say,
        current: Callable[[str], Reading | None],
        streaming: Callable[[str], bool],
    ) -> None:
        self.streaming = streaming
        self.case = Case(header, say)
        self.baselines = Baselines(self.case)
        self.rounds = Rounds(self.case, self.baselines)
        self.job, self.say = self.case.job, say
        self.ledger, self.progress = self.case.ledger, self.case.progress
        self.angles = self.case.angles
        self.current = current
        self.hub = Hub(header)
        self.watching = Watching(header, self.case, always=header.procedure == "watch")
        self.senses: dict[str, Sense] = {e.name: "normal" for e in self.job.level}
        self.takings = {e.name: Taking(e.name) for e in self.job.level if e.role == "blade"}
        self.step = Step("")
        self.step_number = 0
        self.step_event = 0
        """Number of the event that announced the step: what a command must have seen."""
        self.questions = 0
        self._cautioned: set[str] = set()
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
            case Sampled():
                self._sampled(fact)
            case InHand(level) | Rested(level) | Ready(level) | Crept(level) | Pressed(level):
                if level in self.takings:
                    self._placed(self.takings[level], fact)

    def _link(self, fact: LinkFact) -> None:
        self.say(Linked(fact.level, fact.state, fact.reason, stated(fact.gap_s)))
        self.watching.linked(fact)
        if fact.level == self.hub.level and fact.state in {"silent", "down"}:
            self.hub.lost()
        if fact.state in {"swapped", "stuck", "mode"}:
            words_of = {"swapped": "is another instrument", "stuck": "is stuck", "mode": "changed"}
            say = f"level {fact.level} {words_of[fact.state]}: {fact.reason}"
            self.case.raise_alarm(REFERENCE, "level", say, None)
            self.refresh()

    def _sampled(self, fact: Sampled) -> None:
        if fact.level == self.hub.level:
            by = self.hub.push(fact.tilt, self.now_ns)
            if by is not None and self.ledger.state[REFERENCE].baseline is not None:
                self.rounds.tilted(by, self.step.stage)
                for taking in self.takings.values():
                    taking.take()  # what lies there now lies on a blade, not on the reference
                self.refresh()
        else:
            before = set(self.ledger.alarms)
            self.watching.sampled(fact)
            if set(self.ledger.alarms) != before:
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
            case Crept():
                self._crept(taking, fact)
            case Pressed():
                taking.press("button", self.now_ns)
                self.consider(taking)
            case _:
                return

    def _crept(self, taking: Taking, fact: Crept) -> None:
        """What was just read from this placement may have crept while it was read: say so."""
        last = self.ledger.last()
        lying = taking.placement == taking.taken == fact.placement
        if last is None or last.level != taking.level or not lying:
            return
        off = difference_deg(fact.angle_deg, last.reading.mean_deg)
        if taking.crept == fact.placement or abs(off) < 2.0 * own_u(last.angle.budget):
            return
        taking.crept = fact.placement
        self.say(Noted("caution", words.crept(self.job, last)))

    # --- taking a reading ---------------------------------------------------------------

    def consider(self, taking: Taking) -> None:
        """Take the level's average if everything a reading wants is there."""
        step = self.step
        if not (step.reads and taking.free and taking.ready):
            return
        if self._witness_disagrees(taking):
            return
        step = self.step
        by = taking.armed or ("turn" if self._turned_to_target(taking, step) else None)
        reading = self.current(taking.level) if by else None
        if by is None or reading is None:
            return
        angle = self.angle(taking.level, reading, step.blade, step.half)
        if not taking.confirmed and (asked := self._question(taking.level, step, reading, angle)):
            self._ask(taking, step, reading, asked)
            return
        self._capture(taking, step, reading, angle, by)

    def _witness_disagrees(self, taking: Taking) -> bool:
        """Follow the hub witness: the blade that stands horizontal is the one being read.

        Where that blade wants no reading now, nothing is taken, and it is asked about.
        """
        stands, blade = self.hub.horizontal(), self.step.blade
        if stands is None or not isinstance(blade, int) or stands == blade or taking.confirmed:
            return False
        if self._wants(stands):
            armed, until = taking.armed, taking.armed_until_ns
            self.progress.named = stands
            self.refresh()
            taking.armed, taking.armed_until_ns = armed, until
            return self.step.blade != stands
        if taking.armed and not taking.asked:
            self._ask(taking, self.step, None, words.witness_asks(self.job, stands, blade))
        return True

    def _wants(self, blade: int) -> bool:
        """Whether the present stage lacks a reading of this blade."""
        if self.step.stage in {"set", "baseline"}:
            return self.ledger.state[blade].baseline is None and self.step.stage == "set"
        have = self.ledger.of(blade, self.step.stage, self.progress.passed)
        return len(have) < max(1, self.ledger.state[blade].wanted)

    def angle(
        self, level: str, reading: Reading, blade: BladeId | None, half: Half = 0
    ) -> BladeAngle:
        """Turn a level's average into the angle of a blade, or into the shaft's tilt."""
        sense = self.senses[level]
        if blade == REFERENCE:
            return self.angles.of_reference(level, reading, sense, half)
        self.angles.azimuth = self.hub.azimuth(blade) if isinstance(blade, int) else None
        return self.angles.of_blade(level, reading, sense, self.angles.azimuth)

    def _turned_to_target(self, taking: Taking, step: Step) -> bool:
        """While setting: the blade turned under the level and lies within the tolerance.

        A still moment out of tolerance is shown and not taken; nor is anything taken by
        itself for a blade with an open alarm.
        """
        reading = self.current(taking.level)
        if step.stage != "set" or not taking.turned or reading is None:
            return False
        if self.case.alarms_of(step.blade):
            return False
        angle = self.angles.live(
            taking.level, reading.mean_deg, reading.psi_deg, self.senses[taking.level]
        )
        return abs(angle - self.job.target.angle_deg) <= self.job.target.tolerance_deg

    def _question(self, level: str, step: Step, reading: Reading, angle: BladeAngle) -> str | None:
        if step.blade == REFERENCE and self.job.setup.reference == "both-sides":
            first = self.ledger.half_of(step.stage, self._passed(step), 1)
            return self.angles.side_question(angle, first if step.half == SECOND else None)
        if step.blade == REFERENCE:
            return self.angles.reference_question(angle)
        return self.angles.blade_question(level, reading, self.senses[level], angle)

    def _ask(self, taking: Taking, step: Step, reading: Reading | None, asked: str) -> None:
        if taking.asked:
            return
        self.questions += 1
        taking.asked = self.questions
        shown = stated(reading.mean_deg) if reading else 0.0
        self.say(Asked(self.questions, step.blade, shown, asked))

    def turn_level(self, level: str) -> None:
        """A person said that the level points the other way: readings change sign from here."""
        self.senses[level] = "reversed" if self.senses[level] == "normal" else "normal"

    def _capture(
        self, taking: Taking, step: Step, reading: Reading, angle: BladeAngle, by: By
    ) -> None:
        ledger, sense = self.ledger, self.senses[taking.level]
        number = len(ledger.entries) + 1
        entry = Entry(
            id=number,
            blade=step.blade,
            stage=step.stage,
            passed=self._passed(step),
            level=taking.level,
            reading=reading,
            sense=sense,
            angle=angle,
            t_ns=self.now_ns,
            half=step.half,
            azimuth=self.angles.azimuth if step.blade != REFERENCE else None,
        )
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
                tolerance=None if error is None else self.case.tolerance(error, angle),
                sense=sense,
                placement=step.placement,
                by=by,
                reached=reading.reached,
                half=step.half,
            )
        )
        if isinstance(step.blade, int):
            self.hub.tie(step.blade)
        else:
            self.hub.aircraft.forget()
        self.baselines.settle(step.blade)
        self.progress.named = None
        self.refresh()

    def _passed(self, step: Step) -> int:
        if step.stage in {"reference", "set", "baseline"}:
            assert step.blade is not None
            return self.ledger.state[step.blade].attempt
        return self.progress.passed

    # --- steps ---------------------------------------------------------------------------

    def refresh(self) -> None:
        """Announce the next step if it is another one; judge the round when it is complete."""
        step = next_step(self.job.plan, self.ledger, self.progress)
        while step is None:
            if self.progress.judged:
                self.rounds.go_on()
            else:
                self.rounds.judge()
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
                half=step.half,
            )
        )
        self._caution(step)

    def _caution(self, step: Step) -> None:
        tightened = step.stage == step.round
        about = step.round if step.stage == "tighten" else step.stage
        caution = words.caution(self.job, about)
        if caution and about not in self._cautioned and not tightened:
            self._cautioned.add(about)
            self.say(Noted("caution", caution))

    def done(self) -> None:
        """The step that needs hands is done."""
        if self.step.stage == "prepare":
            self.progress.prepared = True
        elif self.step.stage == "tighten":
            self.progress.tightened = True
            for blade in self.ledger.numbers():
                self.ledger.state[blade].state = "may have turned"
        elif self.step.stage in {"finished", "watch"}:
            self.progress.finished = True
        self.refresh()
