"""Placements that agree and that do not: in uncertainties of a difference, which is the root of two of one."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pytest
from scipy.stats import norm
from scipy.stats import t as student

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.workflow.agreement import (
    CALLS,
    disagreement_deg,
    own,
    own_u,
    stands_elsewhere,
    sure_u,
    widened_mean,
)
from shared.events import Half, Sense


def angle(deg: float, u_deg: float = 0.1, *more: Line) -> BladeAngle:
    return BladeAngle(deg, Budget((Line("seating", "B", u_deg), *more)))


@dataclass(frozen=True)
class Placed:
    angle: BladeAngle
    half: Half = 0
    sense: Sense = "normal"


def apart(by: float, u_deg: float = 0.1) -> list[Placed]:
    return [Placed(angle(0.0, u_deg)), Placed(angle(by, u_deg))]


def test_six_uncertainties_of_a_difference_are_no_two_placements_of_one_blade_apart() -> None:
    limit = 6.0 * math.sqrt(2.0) * 0.1
    assert disagreement_deg(apart(limit)) is None
    assert disagreement_deg(apart(limit * 1.001)) == pytest.approx(limit * 1.001)
    assert disagreement_deg(apart(limit), factor=5.9) == pytest.approx(limit)
    assert disagreement_deg([Placed(angle(17.0))]) is None
    assert disagreement_deg([]) is None


def test_the_least_sure_placement_says_how_far_they_may_be_apart() -> None:
    three = [Placed(angle(0.0, 0.1)), Placed(angle(1.0, 0.2)), Placed(angle(0.5, 0.1))]
    assert disagreement_deg(three) is None
    assert disagreement_deg(three[:1] + three[2:]) is None
    assert disagreement_deg([*three, Placed(angle(-0.8, 0.1))]) == pytest.approx(1.8)


def test_halves_and_senses_differ_by_design_and_the_worst_of_them_counts() -> None:
    halves = [Placed(angle(3.0), half=1), Placed(angle(-3.0), half=2)]
    senses = [Placed(angle(3.0)), Placed(angle(-3.0), sense="reversed")]
    assert disagreement_deg(halves) is None
    assert disagreement_deg(senses) is None
    more = [Placed(angle(4.0), half=1), Placed(angle(-5.0), half=2)]
    assert disagreement_deg([*halves, *more]) == pytest.approx(2.0)


def lines_of(mean: BladeAngle) -> dict[str, float]:
    return {line.name: line.u_deg for line in mean.budget.lines}


def test_a_mean_of_placements_over_three_uncertainties_apart_is_wide_by_half_of_that() -> None:
    limit = 3.0 * math.sqrt(2.0) * 0.1
    for by, widens in ((limit, False), (limit * 1.001, True)):
        mean = widened_mean([angle(0.0), angle(by)])
        assert mean.angle_deg == pytest.approx(by / 2.0)
        assert ("disagreement" in lines_of(mean)) is widens
    assert lines_of(mean)["disagreement"] == pytest.approx(by / 2.0)


def test_what_was_said_to_disagree_is_wide_however_near_it_comes_later() -> None:
    two = [angle(0.0), angle(0.01)]
    assert "disagreement" not in lines_of(widened_mean(two))
    assert lines_of(widened_mean(two, doubted=True))["disagreement"] == pytest.approx(0.005)


def test_two_passes_share_the_level_and_the_reference_and_not_their_azimuths() -> None:
    shared = (Line("psi", "B", 0.4, common="blade"), Line("zero", "B", 5.0, common="zero"))
    budget = angle(0.0, 0.3, *shared).budget
    assert own_u(budget) == pytest.approx(0.5)
    assert own(budget).u_deg == pytest.approx(0.5)


@pytest.mark.parametrize("dof", [4.0, 10.0, 100.0])
def test_a_call_wants_as_much_of_students_t_as_one_in_ten_thousand_of_a_normal(dof: float) -> None:
    """scipy: both tails over 3.9 hold 1 in 10,400; the expansion in 1 / dof is good to some per cent."""
    chance = norm.sf(CALLS)
    assert 2.0 * chance == pytest.approx(1e-4, rel=0.05)
    budget = Budget((Line("seating", "B", 0.1, dof=dof),))
    # what is left out of an expansion to the third order: sizeable only where dof is a handful
    tolerance = 0.25 if dof < 10.0 else 0.01
    assert sure_u(budget) == pytest.approx(0.1 * student.isf(chance, dof) / CALLS, rel=tolerance)


def elsewhere(by: float, lift_u_deg: float = 0.0, also: Sequence[Line] = ()) -> bool:
    then, now = angle(10.0, 0.3, *also), angle(10.0 + by, 0.4, *also)
    return stands_elsewhere(then, now, lift_u_deg)


def test_a_blade_stands_elsewhere_beyond_2_8_uncertainties_of_what_was_drawn_anew() -> None:
    """The azimuth is the same both times, and so is all that two angles share."""
    for by, is_so in ((1.39, False), (1.41, True), (-1.39, False), (-1.41, True)):
        assert elsewhere(by) is is_so
        assert elsewhere(by, also=[Line("psi", "B", 3.0, common="blade")]) is is_so
    # a lift that turns the loose blade by 1.2 besides: hypot(0.3, 0.4, 1.2) is 1.3
    assert not elsewhere(3.63, lift_u_deg=1.2)
    assert elsewhere(3.65, lift_u_deg=1.2)
