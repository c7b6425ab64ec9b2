"""Which verdicts need an answer of a person."""

import math
from typing import Any

import pytest

from daemon.measure.moved.model import Change
from daemon.workflow.judging import _change, alarm_kind
from shared.events import Verdict, VerdictState
from tests.daemon.bench import LEVEL, Person, header
from tests.workflow.jobs import ONE_EACH


def verdict(state: VerdictState, could_hide_deg: float | None = None) -> Verdict:
    return Verdict(1, state, 0.1, 0.2, 0.5, "check", 2, "looked at", could_hide_deg)


@pytest.mark.parametrize("state", ["moved", "exchanged", "shifted", "not known"])
def test_what_moved_was_exchanged_or_shifted_needs_an_answer_of_its_kind(
    state: VerdictState,
) -> None:
    assert alarm_kind(verdict(state)) == state


@pytest.mark.parametrize("state", ["turned", "steady", "place again", "within play"])
def test_what_the_bolts_turned_and_what_is_looked_at_again_needs_none(state: VerdictState) -> None:
    assert alarm_kind(verdict(state)) is None
    assert alarm_kind(None) is None


def test_what_is_not_known_only_because_too_much_could_hide_no_answer_would_change() -> None:
    assert alarm_kind(verdict("not known", 0.4)) is None
    assert alarm_kind(verdict("moved", 0.4)) == "moved", "what moved is called, whatever could hide"


def change_of_blade_1(**settings: Any) -> tuple[Change, float, float]:
    """A blade read once in a round: its change, and what seating and azimuth put into it as they are stated."""
    level = {**LEVEL, "settings": {**LEVEL["settings"], **settings}}
    person = Person(header(level=[level], plan=ONE_EACH))
    person.up_to_round()
    person.read(-3.0)
    person.read(17.0)
    case = person.engine._way.case
    member = case.members[1]
    old, new = member.baseline, case.ledger.angle_of(1, "check", 1)
    assert old is not None
    assert new is not None
    change = _change(case, member, old, touched=False)
    assert change is not None

    def of(name: str) -> float:
        lines = [line for angle in (old, new) for line in angle.budget.lines if line.name == name]
        return math.hypot(*(line.u_deg for line in lines))

    return change, of("seating"), of("psi")


def test_a_seating_that_is_only_assumed_may_be_twice_as_bad() -> None:
    """What that would add makes two of it; of a seating that was measured nothing is doubted."""
    change, seating, _ = change_of_blade_1(seating={"u_deg": 0.05, "n": 0})
    assert seating > 0.05
    assert math.hypot(seating, change.u_unseated_deg) == pytest.approx(2.0 * seating)
    change, seating, _ = change_of_blade_1(seating={"u_deg": 0.05, "n": 30})
    assert seating > 0.05
    assert change.u_unseated_deg == 0.0


def test_an_azimuth_that_is_only_stated_may_be_five_times_as_bad() -> None:
    change, _, psi = change_of_blade_1()
    assert psi > 0.0
    assert change.u_askew_deg == pytest.approx(5.0 * psi)
