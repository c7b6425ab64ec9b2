"""Anybody does anything: what must hold of the record and the members, whatever is done.

A state machine lays the level down, carries it, presses, and sends every command with arguments
that make sense and that do not. The tilt of the shaft stays as it is.
"""

import dataclasses
import math
from itertools import pairwise
from typing import Any, get_args

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from daemon.core.engine import Engine
from daemon.workflow.ledger import Entry
from daemon.workflow.members import Accepted
from shared.angles import stated
from shared.events import Alarm, Captured, Held, StepChanged, Summary, Withdrawn
from shared.inputs import NS, CommandKind
from shared.view import View
from tests.daemon.bench import Person, header

ROUNDS = ("check", "snug", "final")
PLAN = {"rounds": list(ROUNDS), "reference_placements": 1, "baseline_placements": 2}
ANGLES = st.sampled_from([-3.0, 17.0, 17.05, 17.9, -17.0, 16.0])
BLADES = st.sampled_from([0, 1, 2, 3, "reference", "left", -1])
NUMBERS = st.one_of(st.integers(-1, 25), st.just("seven"))
NAMES = st.sampled_from(["", " ", "Ada"])
ARGS: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "name": st.fixed_dictionaries({"blade": BLADES}),
    "again": st.fixed_dictionaries({}, optional={"blade": BLADES, "set": st.just(1)}),
    "set": st.fixed_dictionaries({}, optional={"blade": BLADES}),
    "withdraw": st.fixed_dictionaries({"id": NUMBERS}),
    "assign": st.fixed_dictionaries({"id": NUMBERS, "blade": BLADES}),
    "acknowledge": st.fixed_dictionaries(
        {
            "id": st.one_of(st.integers(1, 3), NUMBERS),
            "then": st.sampled_from(["accept", "set-again", "later"]),
            "by": NAMES,
            "reason": NAMES,
        }
    ),
    "aim": st.fixed_dictionaries({"at": st.sampled_from(["target", "off", "held", ""])}),
    "look": st.fixed_dictionaries({}, optional={"blade": BLADES}),
    "confirm": st.fixed_dictionaries({}, optional={"id": NUMBERS}),
    "note": st.fixed_dictionaries({"text": NAMES}),
}
KINDS = [kind for kind in get_args(CommandKind) if kind not in {"end", "abandon"}]


class AnyJob(RuleBasedStateMachine):
    """One job to which anything happens."""

    def __init__(self) -> None:
        super().__init__()
        self.person = Person(header(plan=PLAN))
        self.lifts = 0
        self.taken_at: list[int] = []
        """How often the level had been lifted at each reading."""
        self.looked = 0
        self.lies_at = math.inf

    @property
    def view(self) -> View:
        return self.person.engine.view()

    @initialize(far=st.integers(0, 3))
    def begin(self, far: int) -> None:
        """Start anywhere: made safe, or with everything set and read."""
        if far:
            self.person.press("done")
        if far > 1:
            self.place(-3.0)
            for angle in (17.0, 17.05):
                for _ in range(3):
                    self.place(angle)
        if far > 2:
            self.work(17.9)

    # --- what is done ---------------------------------------------------------------------

    @rule(samples=st.integers(1, 14))
    def carry(self, samples: int) -> None:
        self.person.carry(samples)
        self.lifts += samples >= 4

    @rule(angle=ANGLES, samples=st.integers(1, 30))
    def lay(self, angle: float, samples: int) -> None:
        """Lie still; from one place to another in no time is a swing, and that is a lift."""
        self.lifts += abs(angle - self.lies_at) >= self.person.header.job.thresholds.lift_deg
        self.lies_at = angle
        self.person.lay(angle, samples)

    @precondition(lambda self: not self.person.engine.finished)
    @rule(angle=ANGLES)
    def place(self, angle: float) -> None:
        self.lifts += 1
        self.lies_at = angle
        self.person.read(angle)

    @rule(one=st.sampled_from([17.0, 17.9]))
    def work(self, one: float) -> None:
        """Read what is asked for, a few times over."""
        angles = {"reference": -3.0, 1: one, 2: 17.05}
        for _ in range(4):
            stage, blade = self.person.step()
            if stage == "finished":
                return
            if blade is None:
                self.person.press("done")
            else:
                self.place(angles[blade])

    @precondition(lambda self: not self.person.engine.finished)
    @rule(data=st.data(), kind=st.sampled_from(KINDS))
    def command(self, data: st.DataObject, kind: CommandKind) -> None:
        args = data.draw(ARGS.get(kind, st.just({})))
        self.person.events += self.person.engine.advance(self.person.t_ns)  # what silence made due
        before, entries, said = self.view, self.entries(), len(self.person.events)
        answer = self.person.press(kind, **args)
        assert answer.result in {"done", "refused"}
        if answer.result == "refused":
            assert self.entries() == entries
            assert len(self.person.events) == said + 1
            assert _still(self.view) == _still(before)
            assert answer.say
        else:
            assert ("set" if args.get("set") else kind) in before.offers

    @rule()
    def silence(self) -> None:
        self.person.t_ns += 3 * NS
        self.lifts += 1

    # --- what holds -------------------------------------------------------------------------

    def entries(self) -> list[Entry]:
        return list(self.person.engine._case.ledger.entries)

    @invariant()
    def readings_are_numbered_and_stay(self) -> None:
        taken = self.person.said(Captured)
        assert [one.id for one in taken] == list(range(1, len(taken) + 1))
        entries = self.entries()
        assert [one.id for one in entries] == [one.id for one in taken]
        gone = {one.id for one in self.person.said(Withdrawn)}
        assert {one.id for one in entries if one.withdrawn} == gone
        for one, entry in zip(taken, entries, strict=True):
            assert one.reading_deg == stated(entry.reading.mean_deg)

    @invariant()
    def nothing_is_taken_twice_without_a_lift(self) -> None:
        count = len(self.person.said(Captured))
        placements = [one.placement for one in self.person.engine._case.takings]
        assert all(count <= placement + self.lifts for placement in placements)
        assert count <= self.lifts + 1

    @invariant()
    def no_step_is_announced_twice(self) -> None:
        steps = self.person.said(StepChanged)
        assert [one.step for one in steps] == list(range(1, len(steps) + 1))
        for one, then in pairwise(steps):
            assert dataclasses.replace(then, step=one.step) != one

    @invariant()
    def what_holds_a_blade_is_what_its_readings_give(self) -> None:
        """The newest of: placements of its setting, and passes that were accepted."""
        members = self.person.engine._case.members
        counting = [one for one in self.entries() if not one.withdrawn]
        for blade in members.numbers():
            member, row = members[blade], self.view.blades[blade]
            mine = [e for e in counting if e.blade == blade]
            placed = [e for e in mine if (e.stage, e.passed) == ("baseline", member.attempt)]
            in_rounds = {(e.stage, e.passed) for e in mine if e.stage in (*ROUNDS, "look")}
            passes = [[e for e in mine if (e.stage, e.passed) == one] for one in in_rounds]
            could = [_mean(one) for one in (placed, *passes) if one]
            if member.baseline is not None:
                angle = member.baseline.angle_deg
                assert any(math.isclose(angle, one, abs_tol=1e-9) for one in could)
                assert row.state != "not set"
                followed = isinstance(member.basis, Accepted)
                if member.state == "held" and len(placed) >= 2 and not followed:
                    assert math.isclose(angle, _mean(placed), abs_tol=1e-9)
                    held = [one for one in self.person.said(Held) if one.blade == blade]
                    assert held[-1].angle_deg == stated(angle)
            elif not self.view.alarms:
                assert len(placed) < max(2, member.wanted)

    @invariant()
    def the_view_names_the_alarms(self) -> None:
        called = {one.id for one in self.person.said(Alarm)}
        assert {alarm.id for alarm in self.view.alarms} <= called
        assert {row.blade for row in self.view.blades if row.alarm} == {
            alarm.blade for alarm in self.view.alarms
        }

    def teardown(self) -> None:
        """The record gives the same again, and the summary says what was last seen."""
        if not self.person.engine.finished:
            self.person.end()
        events = [
            e
            for engine in [Engine(self.person.header)]
            for i in self.person.inputs
            for e in engine.feed(i)
        ]
        assert events == self.person.events
        summary, view = self.person.events[-1].body, self.view
        assert isinstance(summary, Summary)
        assert summary.readings == len(self.entries())
        assert summary.open_alarms == [alarm.id for alarm in view.alarms]
        for row, said in zip(view.blades[1:], summary.blades, strict=True):
            angle = None if row.angle_deg is None else stated(row.angle_deg)
            assert (said["angle_deg"], said["label"]) == (angle, row.label)


def _mean(entries: list[Entry]) -> float:
    return math.fsum(one.angle.angle_deg for one in entries) / len(entries)


def _still(view: View) -> View:
    """A view but for what time alone changes."""
    levels = tuple(dataclasses.replace(one, age_s=None) for one in view.levels)
    return dataclasses.replace(view, t_ns=0, seen=0, levels=levels)


ANY = settings(deadline=None, suppress_health_check=list(HealthCheck))
TestAnyJob = AnyJob.TestCase
TestAnyJob.settings = settings(ANY, max_examples=8, stateful_step_count=12)


class AnyLongJob(AnyJob):
    """The same, for long."""


TestAnyLongJob = pytest.mark.long(AnyLongJob.TestCase)
TestAnyLongJob.settings = settings(ANY, max_examples=300, stateful_step_count=40)
