"""Rounds: everything is read again; what that means, and what follows from the answers."""

from daemon.measure.between import Finding
from daemon.workflow.baselines import Baselines
from daemon.workflow.case import Case
from daemon.workflow.judging import alarm_kind, called, judge
from daemon.workflow.ledger import OpenAlarm
from daemon.workflow.plan import first_tight_round, round_name
from shared.angles import stated
from shared.events import REFERENCE, Verdict


class Rounds:
    """Judges the present round and moves on to the next."""

    def __init__(self, case: Case, baselines: Baselines) -> None:
        self.case = case
        self.baselines = baselines

    def judge(self) -> None:
        """Say what became of every member; ask for more placements, or raise the alarms."""
        if self._disagrees():
            return
        case = self.case
        diagnosis = judge(case.job, case.ledger, case.progress)
        for finding in diagnosis.findings:
            self._say(finding, again=finding.blade in diagnosis.again)
        if not diagnosis.again:
            case.progress.judged = True
            for number in called(diagnosis):
                case.ledger.state[number].called_moved = True
            self._alarm_what_needs_an_answer()

    def _say(self, finding: Finding, *, again: bool) -> None:
        case, state = self.case, self.case.ledger.state[finding.blade]
        stage = round_name(case.job.plan, case.progress)
        placements = len(case.ledger.of(finding.blade, stage, case.progress.passed))
        hide = finding.could_hide_deg
        state.verdict = Verdict(
            finding.blade,
            finding.state,
            stated(finding.change_deg),
            stated(finding.u95_deg),
            stated(finding.probability),
            stage,
            placements,
            finding.say,
            None if hide is None else stated(hide),
        )
        state.state = "place again" if again else finding.state
        state.wanted = placements + again
        case.say(state.verdict)

    def _disagrees(self) -> bool:
        stage, passed = (
            round_name(self.case.job.plan, self.case.progress),
            self.case.progress.passed,
        )
        found = False
        for blade in self.case.ledger.members():
            entries = self.case.ledger.of(blade, stage, passed)
            if self.baselines.disagree(blade, entries):
                found = True
                more = len(entries) < self.case.job.plan.max_placements
                self.case.ledger.state[blade].wanted = len(entries) + more
                self.case.ledger.state[blade].state = "place again"
                self.case.progress.judged = self.case.progress.judged or not more
        return found

    def _alarm_what_needs_an_answer(self) -> None:
        for blade in self.case.ledger.members():
            verdict = self.case.ledger.state[blade].verdict
            kind = alarm_kind(verdict)
            old = self.case.alarms_of(blade)
            if verdict is None or kind is None:
                for alarm in old:
                    self.case.clear(alarm.id, "re-reading", "")
                continue
            if not any(alarm.kind == kind for alarm in old):
                baseline = self.case.ledger.state[blade].baseline
                good = baseline.angle_deg if baseline else None
                self.case.raise_alarm(blade, kind, verdict.say, good)

    def accept(self, alarm: OpenAlarm) -> None:
        """What was found is taken as it is: it becomes the baseline."""
        stage, passed = (
            round_name(self.case.job.plan, self.case.progress),
            self.case.progress.passed,
        )
        state = self.case.ledger.state[alarm.blade]
        state.state = "accepted"
        mean = self.case.ledger.angle_of(alarm.blade, stage, passed)
        if alarm.kind not in {"moved", "turned", "not known", "exchanged", "shifted"}:
            return
        if mean is not None:
            state.baseline, state.rebased = mean, True
        if alarm.kind == "shifted":
            self.case.angles.adopt(self.case.ledger.of(REFERENCE, stage, passed))
            self._refer_anew(stage, passed)

    def _refer_anew(self, stage: str, passed: int) -> None:
        """The reference shifted: the round's readings, with the new reference, are the baselines.

        Entries of the pass are re-referred; the levels' own readings stay as they were.
        """
        for blade in self.case.ledger.numbers():
            entries = self.case.ledger.of(blade, stage, passed)
            for entry in entries:
                entry.angle = self.case.angles.of_blade(entry.level, entry.reading, entry.sense)
            mean = self.case.ledger.angle_of(blade, stage, passed)
            state = self.case.ledger.state[blade]
            if mean is not None and state.baseline is not None and not self.case.alarms_of(blade):
                state.baseline, state.rebased = mean, True
                self.baselines.hold(blade, entries)

    def go_on(self) -> None:
        """All alarms are answered: go on, or start over where a blade was set again."""
        progress = self.case.progress
        if self.case.set_again:
            progress.round = first_tight_round(self.case.job.plan, progress)
            self.case.set_again.clear()
        else:
            progress.round += 1
        progress.passed += 1
        progress.tightened = progress.judged = False
        for blade in self.case.ledger.members():
            self.case.ledger.state[blade].wanted = 0
