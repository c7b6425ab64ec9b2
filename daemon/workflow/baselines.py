"""Baselines: when a blade counts as set, and from then on is held."""

import math
from collections.abc import Sequence

from daemon.measure.angle import BladeAngle
from daemon.measure.budget import Budget, Line
from daemon.measure.reference import Reference
from daemon.measure.zero import two_positions
from daemon.workflow import words
from daemon.workflow.agreement import disagreement_deg
from daemon.workflow.case import Case
from daemon.workflow.ledger import Entry
from shared.angles import stated
from shared.events import REFERENCE, BladeId, Held, Noted


class Baselines:
    """Works out baselines from the readings that count."""

    def __init__(self, case: Case) -> None:
        self.case = case

    def settle(self, blade: BladeId | None) -> None:
        """Work out anew whether a blade has its baseline, from the readings that count."""
        if blade is None:
            return
        state, plan = self.case.ledger.state[blade], self.case.job.plan
        if blade == REFERENCE:
            stage, wanted = "reference", plan.reference_placements
        else:
            stage, wanted = "baseline", plan.baseline_placements
        if state.rebased:
            return
        have = self.case.ledger.of(blade, stage, state.attempt)
        count = self.case.ledger.placements(blade, stage, state.attempt)
        before = state.baseline
        if before is None and count >= wanted and self.disagree(blade, have, count):
            if count < plan.max_placements:
                state.wanted = count + 1
            return
        if count >= max(wanted, state.wanted if before is None else 0):
            state.baseline = self.case.ledger.angle_of(blade, stage, state.attempt)
            if state.baseline != before:
                self.hold(blade, have)
        else:
            state.baseline = None
            began = self.case.ledger.of(blade, "set", state.attempt)
            state.state = "provisional" if began else "not set"

    def disagree(self, blade: BladeId, entries: Sequence[Entry], count: int) -> bool:
        """Say so when the placements of one pass cannot all be of this blade.

        One more is asked for; when the plan's most are there, a person has to look.
        count: how many placements they make.
        """
        apart = disagreement_deg(entries)
        if apart is None:
            return False
        name, listed = words.blade_name(self.case.job, blade), words.placements(entries)
        say = f"the placements of {name} disagree by {apart:.2f} ({listed}): withdraw the wrong one"
        setting = self.case.ledger.state[blade].baseline is None
        if setting and count < self.case.job.plan.max_placements:
            self.case.say(Noted("caution", f"{say}, or place it once more"))
        elif not self.case.alarms_of(blade):
            self.case.raise_alarm(blade, "not known", say, None)
        return True

    def accept(self, blade: BladeId) -> None:
        """A person looked: these placements are all of this member, far apart as they are.

        It may lie anywhere between the farthest of them, and its uncertainty says so.
        """
        state = self.case.ledger.state[blade]
        stage = "reference" if blade == REFERENCE else "baseline"
        entries = self.case.ledger.of(blade, stage, state.attempt)
        mean = self.case.ledger.angle_of(blade, stage, state.attempt)
        apart = disagreement_deg(entries)
        if mean is None or apart is None:
            return
        u = apart / math.sqrt(12.0)
        lines = (*mean.budget.lines, Line("disagreement", "B", u, shape="rectangular"))
        state.baseline, state.rebased = BladeAngle(mean.angle_deg, Budget(lines)), True
        self.hold(blade, entries, u)

    def hold(self, blade: BladeId, entries: Sequence[Entry], apart_u: float = 0.0) -> None:
        """A blade has its baseline: from here on nobody may touch it.

        apart_u: what accepted placements that disagree leave open.
        """
        state = self.case.ledger.state[blade]
        state.state, state.wanted = "held", 0
        state.based_on = entries[-1].id if entries else state.based_on
        assert state.baseline is not None
        for alarm in self.case.alarms_of(blade):
            if alarm.kind == "not known":
                self.case.clear(alarm.id, "re-reading", "")
        if blade == REFERENCE:
            before = self.case.angles.reference
            self.case.angles.adopt(entries, apart_u)
            self._wobble(entries[0].stage, entries[0].passed)
            self._whether_it_tilted(before)
            return
        angle = state.baseline
        error = angle.angle_deg - self.case.job.target.angle_deg
        first = self.case.ledger.of(blade, "set", state.attempt)
        lift = angle.angle_deg - first[-1].angle.angle_deg if first else 0.0
        tolerance = self.case.tolerance(error, angle)
        u95 = angle.budget.u95_deg
        self.case.say(
            Held(int(blade), stated(angle.angle_deg), stated(u95), stated(lift), tolerance)
        )
        if tolerance == "out":
            name = words.blade_name(self.case.job, blade)
            say = f"{name} is out of tolerance: {words.off(error)} with ±{u95:.2f}"
            self.case.raise_alarm(blade, "out", say, angle.angle_deg)

    def refer_again(self) -> None:
        """The reference is to be read anew, before anything else."""
        state = self.case.ledger.state[REFERENCE]
        state.attempt += 1
        state.baseline, state.rebased = None, False
        state.state, state.wanted = "place again", 0

    def _whether_it_tilted(self, before: Reference | None) -> None:
        """Hold what the witness saw against the reference that was read because of it."""
        saw, self.case.witness_saw_deg = self.case.witness_saw_deg, 0.0
        now = self.case.angles.reference
        if saw and before is not None and now is not None:
            change = now.theta_deg - before.theta_deg
            if abs(change) < abs(saw) / 2.0:
                self.case.say(Noted("caution", words.not_tilted(saw, change)))

    def _wobble(self, stage: str, passed: int) -> None:
        """Say how far the surface leans, where two positions of the hub show it."""
        if self.case.job.setup.reference != "half-turn":
            return
        first, second = (self.case.ledger.half_of(stage, passed, half) for half in (1, 2))
        if first is not None and second is not None:
            _, lean = two_positions(first.angle_deg, second.angle_deg)
            self.case.say(Noted("note", words.wobble(lean)))

    def start_setting(self, blade: int) -> None:
        """A blade is to be set again: earlier readings stay and do not count."""
        state = self.case.ledger.state[blade]
        state.attempt += 1
        state.baseline, state.verdict, state.rebased = None, None, False
        state.state, state.wanted = "not set", 0
        self.case.set_again.add(blade)
