"""The budget a face is given: complete, in order, and the words that settle a doubtful verdict."""

import math

import pytest

from shared.events import REFERENCE
from shared.view import BladeView
from tests.daemon.bench import Person, header


def row(person: Person, blade: object) -> BladeView:
    return next(one for one in person.engine.view().blades if one.blade == blade)


def test_before_a_reading_there_is_no_budget() -> None:
    person = Person(header())
    assert [(one.budget, one.settles) for one in person.engine.view().blades] == [((), "")] * 3


def test_the_lines_come_to_the_angles_uncertainty() -> None:
    """Root sum of squares: JCGM 100:2008, 5.1.2."""
    person = Person(header())
    person.up_to_round()
    for blade, angle in person.engine.angles().items():
        sizes = [one.u_deg for one in row(person, blade).budget]
        assert sizes == sorted(sizes, reverse=True)
        assert math.hypot(*sizes) == pytest.approx(angle.budget.u_deg)
    assert {one.name for one in row(person, REFERENCE).budget} == {
        "averaging",
        "seating",
        "zero",
    }


def test_what_all_blades_share_is_told_from_what_each_draws_anew() -> None:
    person = Person(header())
    person.up_to_round()
    shared = {one.name: one.common for one in row(person, 1).budget}
    assert shared["reference"]
    assert not shared["seating"]
    assert not shared["averaging"]
    kinds = {one.name: one.kind for one in row(person, 1).budget}
    assert kinds["seating"] == "A"
    assert kinds["reference"] == "B"


def test_a_doubtful_verdict_says_what_settles_it_and_a_clear_one_does_not() -> None:
    person = Person(header())
    person.up_to_round((20.0, 20.3))  # the second lies on the limit of its tolerance
    clear, doubtful = row(person, 1), row(person, 2)
    assert (clear.tolerance, clear.settles) == ("in", "")
    assert doubtful.tolerance == "too close to say"
    assert doubtful.settles
    assert row(person, REFERENCE).settles == ""
