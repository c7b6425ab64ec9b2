"""Which verdicts need an answer of a person."""

import math
from dataclasses import replace
from typing import Any

import pytest

from daemon.measure.angle.means import BladeAngle
from daemon.measure.moved.model import Change
from daemon.workflow.agreement import sure_u
from daemon.workflow.judging import _change, alarm_kind
from shared.events import REFERENCE, BladeId, Verdict, VerdictState
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


class Read:
    """Reference and blade 1 read once in a round, each a tenth off what they were before."""

    def __init__(self, **settings: Any) -> None:
        level = {**LEVEL, "settings": {**LEVEL["settings"], **settings}}
        person = Person(header(level=[level], plan=ONE_EACH))
        person.up_to_round()
        person.read(-3.1)
        person.read(17.1)
        self.case = person.engine._way.case

    def angles(self, blade: BladeId) -> tuple[BladeAngle, BladeAngle]:
        """What it was held to, and what it reads now."""
        old, new = self.case.members[blade].baseline, self.case.ledger.angle_of(blade, "check", 1)
        assert old is not None
        assert new is not None
        return old, new

    def change(self, blade: BladeId = 1, *, touched: bool = False) -> Change:
        old, _ = self.angles(blade)
        change = _change(self.case, self.case.members[blade], old, touched=touched)
        assert change is not None
        return change

    def puts(self, name: str) -> float:
        """What one cause puts into the change of blade 1, as it is stated."""
        lines = [line for angle in self.angles(1) for line in angle.budget.lines]
        return math.hypot(*(line.u_deg for line in lines if line.name == name))

    def sees(self, **found: Any) -> None:
        """The level, or a witness, saw where blade 1 stands while it was read."""
        (entry,) = self.case.read_now(1)
        self.case.ledger.entries[entry.id - 1] = replace(entry, **found)


def test_a_change_is_of_now_less_then_and_of_the_reference_the_other_way_round() -> None:
    """A shaft that tilts up by a tenth lowers every reading taken on it by as much."""
    read = Read()
    blade, reference = read.change(), read.change(REFERENCE)
    (old, new), (then, now) = read.angles(1), read.angles(REFERENCE)
    assert blade.change_deg == new.angle_deg - old.angle_deg
    assert reference.change_deg == then.angle_deg - now.angle_deg
    assert reference.change_deg == pytest.approx(-0.1, abs=0.02)
    assert (blade.baseline_deg, reference.baseline_deg) == (old.angle_deg, None)
    assert reference.u_askew_deg == 0.0, "it lies on no blade"


def test_a_level_that_was_lifted_off_a_loose_blade_adds_what_a_lift_does() -> None:
    """One lift, and half of what the mean of two before it left."""
    read = Read()
    lift = read.case.job.setup.lift_u_deg
    assert lift not in {0.0, 1.0}
    alone, lifted = read.change().u_old_deg, read.change(touched=True).u_old_deg
    assert lifted**2 - alone**2 == pytest.approx(1.25 * lift**2)
    assert alone == pytest.approx(sure_u(read.angles(1)[0].budget))


def test_a_seating_that_is_only_assumed_may_be_twice_as_bad() -> None:
    """What that would add makes two of it; of a seating that was measured nothing is doubted."""
    read = Read(seating={"u_deg": 0.05, "n": 0})
    seating, change = read.puts("seating"), read.change()
    assert seating > 0.05
    assert math.hypot(seating, change.u_unseated_deg) == pytest.approx(2.0 * seating)
    measured = Read(seating={"u_deg": 0.05, "n": 30})
    assert measured.puts("seating") > 0.05
    assert measured.change().u_unseated_deg == 0.0


def test_an_azimuth_that_is_only_stated_may_be_five_times_as_bad() -> None:
    read = Read()
    assert read.puts("psi") > 0.0
    assert read.change().u_askew_deg == pytest.approx(5.0 * read.puts("psi"))
    read.case.referred.distrust_azimuth(1.0)
    assert read.change().u_askew_deg == 0.0, "it is in the uncertainties already"


def test_an_azimuth_that_somebody_sees_is_not_doubted() -> None:
    read = Read()
    read.sees(azimuth=(1.0, 0.1))
    assert read.change().u_askew_deg == 0.0, "a witness"
    read = Read()
    (entry,) = read.case.read_now(1)
    read.sees(reading=replace(entry.reading, psi_deg=1.0))
    assert read.change().u_askew_deg == 0.0, "the level itself"
