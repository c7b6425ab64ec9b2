"""Budgets against the examples of the GUM, and t quantiles against scipy."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from daemon.measure.angle.budget import Budget, Line, difference
from daemon.measure.quantiles import box_and_normal_95, t95, t_two_sided
from daemon.measure.stream.average import variance_of


@given(st.floats(1, 500))
def test_t_quantile_equals_scipy(dof: float) -> None:
    assert t95(dof) == pytest.approx(float(stats.t.ppf(0.975, dof)), rel=1e-9)
    assert t95(math.inf) == pytest.approx(float(stats.norm.ppf(0.975)), rel=1e-12)
    assert t_two_sided(2.0, dof) == pytest.approx(2 * float(stats.t.sf(2.0, dof)), rel=1e-9)


def test_gum_g_4_1() -> None:
    # JCGM 100:2008, G.4.1: three inputs of .25, .57, .82 % with nu 9, 4, 14
    budget = Budget(
        (
            Line("a", "A", 0.25, 9),
            Line("b", "A", 0.57, 4),
            Line("c", "A", 0.82, 14),
        )
    )
    assert budget.u_deg == pytest.approx(1.029466, abs=1e-6)
    assert budget.dof == pytest.approx(18.999, abs=1e-3)
    assert budget.u95_deg == pytest.approx(2.16, abs=0.01)
    assert t95(19) == pytest.approx(2.093024, abs=1e-6)


def test_gum_h_1() -> None:
    # JCGM 100:2008, H.1, end gauge: components in nm with their degrees of freedom
    parts = ((25, 18), (9.7, 25.6), (2.9, 50), (16.6, 2))
    budget = Budget(tuple(Line(str(u), "A", u, nu) for u, nu in parts))
    assert budget.u_deg == pytest.approx(31.671, abs=1e-3)
    assert budget.dof == pytest.approx(16.76, abs=0.01)


@pytest.mark.parametrize(("half", "sd"), [(1.0, 0.0), (1.0, 0.1), (1.0, 0.5), (0.3, 1.0)])
def test_box_and_normal_against_simulation(half: float, sd: float) -> None:
    rng = random.Random(11)
    drawn = sorted(
        abs(half * (2 * rng.random() - 1) + sd * rng.gauss(0, 1)) for _ in range(200_000)
    )
    assert box_and_normal_95(half, sd) == pytest.approx(drawn[190_000], rel=0.01)


def test_a_lone_rectangle_is_never_wider_than_itself() -> None:
    alone = Budget((Line("zero", "B", 0.1 / math.sqrt(3), shape="rectangular"),))
    assert alone.u95_deg == pytest.approx(0.095)


def test_what_blades_share_cancels_by_sign() -> None:
    zero = Line("zero", "B", 0.06, common="zero")
    seat = Line("seating", "B", 0.03)
    same = difference(Budget((zero, seat)), Budget((zero, seat)))
    assert same.u_deg == pytest.approx(0.03 * math.sqrt(2))
    turned = Line("zero", "B", 0.06, common="zero", sign=-1)
    other = difference(Budget((zero, seat)), Budget((turned, seat)))
    assert other.u_deg == pytest.approx(math.hypot(0.12, 0.03 * math.sqrt(2)))
    assert difference(Budget((seat,)), Budget((zero,))).u_deg == pytest.approx(
        math.hypot(0.03, 0.06)
    )


def test_a_small_budget_by_hand() -> None:
    # ten readings of a level with steps of 0.1 and an accuracy of +-0.1, computed by hand
    values = [15.1, 15.2, 15.1, 15.2, 15.1, 15.1, 15.2, 15.2, 15.1, 15.1]
    mean = math.fsum(values) / 10
    u = math.sqrt(variance_of(values, mean) / 10)
    budget = Budget(
        (
            Line("averaging", "A", u, 9),
            Line("resolution", "B", 0.1 / math.sqrt(12), shape="rectangular"),
            Line("zero", "B", 0.1 / math.sqrt(3), shape="rectangular"),
        )
    )
    assert mean == pytest.approx(15.14)
    assert u == pytest.approx(0.016330, abs=1e-6)
    assert budget.u_deg == pytest.approx(0.066583, abs=1e-6)
    assert budget.dof == pytest.approx(2488, abs=1)


@pytest.mark.parametrize("dof", [3.0, 12.5])
def test_u95_is_student_where_little_is_known(dof: float) -> None:
    assert Budget((Line("a", "A", 1.0, dof),)).u95_deg == pytest.approx(t95(dof))
