"""Rounds: everything is read again; what that means, and what follows from the answers."""

from daemon.measure.moved.model import Diagnosis, Finding
from daemon.workflow import words
from daemon.workflow.agreement import disagreement_deg
from daemon.workflow.aircraft import LEAST_DEG
from daemon.workflow.baselines import Baselines
from daemon.workflow.case import Case
from daemon.workflow.judging import alarm_kind, all_alike, called, judge
from daemon.workflow.ledger import Entry, OpenAlarm
from daemon.workflow.plan import first_tight_round, round_name
from shared.angles import stated
from shared.events import REFERENCE, BladeId, Noted, Verdict

VOIDS = 2
"""So often one round is read anew because its placements disagree."""
CALLS = frozenset({"moved", "turned", "exchanged"})


class Rounds:
    """Judges the present round and moves on to the next."""

    def __init__(self, case: Case, baselines: Baselines) -> None:
        self.case = case
        self.baselines = baselines

    def judge(self) -> None:
        """Say what became of every member; ask for more placements, or raise the alarms."""
        case = self.case
        if self._void():
            return
        diagnosis = judge(case.job, case.ledger, case.progress)
        if not diagnosis.again and self._unconfirmed(diagnosis):
            return
        for finding in diagnosis.findings:
            self._say(finding, diagnosis)
        if not diagnosis.again:
            case.progress.judged = True
            self._remember_what_held()
            for number in called(diagnosis):
                case.ledger.state[number].called_moved = True
            if case.job.setup.reference == "both-sides" and all_alike(diagnosis):
                case.say(Noted("caution", words.ALL_ALIKE))
            self._alarm_what_needs_an_answer()

    def _remember_what_held(self) -> None:
        """A reference found steady says that nothing shifted before its last reading."""
        state = self.case.ledger.state[REFERENCE]
        if state.verdict is not None and state.verdict.state == "steady":
            state.confirmed_by = len(self.case.ledger.entries)

    def _entries(self, blade: BladeId) -> list[Entry]:
        """Return a member's readings in the present pass."""
        case = self.case
        stage = round_name(case.job.plan, case.progress)
        return case.ledger.of(blade, stage, case.progress.passed)

    def _placements(self, blade: BladeId) -> int:
        case = self.case
        stage = round_name(case.job.plan, case.progress)
        return case.ledger.placements(blade, stage, case.progress.passed)

    def _unconfirmed(self, diagnosis: Diagnosis) -> bool:
        """Ask once more before a blade is called: the blade itself, then the reference.

        A call needs two placements of the blade (someone may have been aboard during one) and
        a reading of the reference after them (aircraft or level may have shifted in between).
        """
        suspects = [f.blade for f in diagnosis.findings if f.state in CALLS]
        if not suspects:
            return False
        state, twice = self.case.ledger.state, min(2, self.case.job.plan.max_placements)
        lacking = [b for b in suspects if self._placements(b) < twice]
        if not lacking:
            reference = self._entries(REFERENCE)
            newest = max(self._entries(b)[-1].id for b in suspects)
            lacking = [] if reference and reference[-1].id > newest else [REFERENCE]
        for blade in lacking:
            state[blade].wanted = self._placements(blade) + 1
            state[blade].state = "place again"
        return bool(lacking)

    def _void(self) -> bool:
        """Give a pass up whose own placements disagree: something shifted, or was misplaced.

        Everything is read once more; after the second time a person has to look.
        """
        apart = [b for b in self.case.ledger.members() if disagreement_deg(self._entries(b))]
        if not apart:
            return False
        case, progress = self.case, self.case.progress
        if progress.voided >= VOIDS:
            progress.judged = True
            for blade in apart:
                self.baselines.disagree(blade, self._entries(blade), self._placements(blade))
            return True
        names = " and ".join(words.blade_name(case.job, blade) for blade in apart)
        listed = ", ".join(words.placements(self._entries(blade)) for blade in apart)
        case.say(
            Noted(
                "caution",
                f"the placements of {names} disagree ({listed}): aircraft, level or blade moved "
                "during the round, or the level was misplaced. Everything is read once more.",
            )
        )
        progress.voided += 1
        self._start_over()
        return True

    def _start_over(self) -> None:
        """Read everything of this round once more."""
        self.case.progress.passed += 1
        for blade in self.case.ledger.members():
            self.case.ledger.state[blade].wanted = 0
            self.case.ledger.state[blade].state = "place again"

    def tilted(self, by_deg: float, stage: str) -> None:
        """The hub witness saw the aircraft tilt.

        While setting, the reference is read again first. In a round, readings before and after
        it do not go together: everything is read once more, the reference first.
        """
        self.case.witness_saw_deg += by_deg
        setting = stage in {"set", "baseline"}
        reading = stage == round_name(self.case.job.plan, self.case.progress)
        self.case.say(Noted("caution", words.tilted(by_deg, setting=setting, reading=reading)))
        if setting:
            self.baselines.refer_again()
        elif reading and not self.case.progress.judged:
            self._start_over()

    def _say(self, finding: Finding, diagnosis: Diagnosis) -> None:
        """Say one verdict; nothing is called as long as anyone is to be placed again."""
        open_call = bool(diagnosis.again) and finding.state in CALLS
        again = open_call or finding.blade in diagnosis.again
        case, state = self.case, self.case.ledger.state[finding.blade]
        stage = round_name(case.job.plan, case.progress)
        placements = case.ledger.placements(finding.blade, stage, case.progress.passed)
        hide = finding.could_hide_deg
        state.verdict = Verdict(
            finding.blade,
            "place again" if open_call else finding.state,
            stated(finding.change_deg),
            stated(finding.u95_deg),
            stated(finding.probability),
            stage,
            placements,
            f"{finding.say}; it is looked at again first" if open_call else finding.say,
            None if hide is None else stated(hide),
        )
        state.state = "place again" if again else finding.state
        state.wanted = placements + again
        case.say(state.verdict)

    def _alarm_what_needs_an_answer(self) -> None:
        followed = self._borne_out()
        for blade in self.case.ledger.members():
            verdict = self.case.ledger.state[blade].verdict
            kind = None if followed and blade == REFERENCE else alarm_kind(verdict)
            old = self.case.alarms_of(blade)
            if verdict is None or kind is None:
                for alarm in old:
                    self.case.clear(alarm.id, "re-reading", "")
                continue
            if not any(alarm.kind == kind for alarm in old):
                baseline = self.case.ledger.state[blade].baseline
                good = baseline.angle_deg if baseline else None
                self.case.raise_alarm(blade, kind, verdict.say, good)
        if followed:
            self.case.say(Noted("note", words.BORNE_OUT))
            self._follow_the_reference()

    def _borne_out(self) -> bool:
        """Whether the reference shifted just as far as the hub witness saw the aircraft tilt."""
        verdict, saw = self.case.ledger.state[REFERENCE].verdict, self.case.witness_saw_deg
        if verdict is None or verdict.state != "shifted" or not saw:
            return False
        return abs(verdict.change_deg + saw) <= verdict.u95_deg + LEAST_DEG

    def _follow_the_reference(self) -> None:
        """The reference of this pass is the reference from now on, for baselines too."""
        stage, passed = (
            round_name(self.case.job.plan, self.case.progress),
            self.case.progress.passed,
        )
        state = self.case.ledger.state[REFERENCE]
        mean = self.case.ledger.angle_of(REFERENCE, stage, passed)
        if mean is not None:
            state.baseline, state.rebased, state.state = mean, True, "accepted"
            state.based_on = len(self.case.ledger.entries)
        self.case.witness_saw_deg = 0.0
        self.case.angles.adopt(self.case.ledger.of(REFERENCE, stage, passed))
        self._refer_anew(stage, passed)

    def accept(self, alarm: OpenAlarm) -> None:
        """What was found is taken as it is: it becomes the baseline."""
        stage, passed = (
            round_name(self.case.job.plan, self.case.progress),
            self.case.progress.passed,
        )
        state = self.case.ledger.state[alarm.blade]
        if state.baseline is None:
            self.baselines.accept(alarm.blade)
            return
        if alarm.kind == "shifted":
            self._follow_the_reference()
            return
        state.state = "accepted"
        mean = self.case.ledger.angle_of(alarm.blade, stage, passed)
        if alarm.kind in {"moved", "turned", "not known", "exchanged"} and mean is not None:
            state.baseline, state.rebased = mean, True
            state.based_on = len(self.case.ledger.entries)

    def _refer_anew(self, stage: str, passed: int) -> None:
        """The reference shifted: the round's readings, with the new reference, are the baselines.

        Entries of the pass are re-referred; the levels' own readings stay as they were.
        """
        for blade in self.case.ledger.numbers():
            entries = self.case.ledger.of(blade, stage, passed)
            for entry in entries:
                entry.angle = self.case.angles.of_blade(
                    entry.level, entry.reading, entry.sense, entry.azimuth
                )
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
        progress.voided = 0
        progress.tightened = progress.judged = False
        for blade in self.case.ledger.members():
            self.case.ledger.state[blade].wanted = 0
