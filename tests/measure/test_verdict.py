"""Guard bands (JCGM 106:2012) and the spread of equal blades (studentized range)."""

import math
import random
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as strategy
from scipy import integrate, stats

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.verdict import (
    SetVerdict,
    judge,
    judge_set,
    settles,
    spread_95,
    spread_expectation,
    spread_in_words,
    spread_u95,
    worst,
)
from daemon.measure.quantiles import normal_cdf


@pytest.mark.parametrize(
    ("error", "u95", "verdict"),
    [(0.1, 0.1, "in"), (-0.1, 0.1, "in"), (0.15, 0.1, "too close to say"),
     (-0.35, 0.1, "out"), (0.29, 0.1, "too close to say")],
)  # fmt: skip
def test_judge(error: float, u95: float, verdict: str) -> None:
    assert judge(error, u95, 0.2) == verdict


@pytest.mark.parametrize(("value", "inside"), [(15.15, 0.952209648), (15.2, 0.797671619)])
def test_chance_of_conformity(value: float, inside: float) -> None:
    # JCGM 106:2012, 7.2: limits 14.75 to 15.25, u 0.06; recomputed with scipy
    got = normal_cdf((15.25 - value) / 0.06) - normal_cdf((14.75 - value) / 0.06)
    assert got == pytest.approx(inside, abs=1e-8)


@pytest.mark.parametrize("n", [2, 3, 4, 5, 6])
def test_spread_of_equal_blades_against_scipy(n: int) -> None:
    mean, _ = integrate.quad(lambda x: 1 - stats.norm.cdf(x) ** n - stats.norm.sf(x) ** n, -12, 12)
    assert spread_expectation(n, 1.0) == pytest.approx(mean, abs=2e-6)
    assert spread_95(n, 1.0) == pytest.approx(
        float(stats.studentized_range.ppf(0.95, n, math.inf)), abs=1e-4
    )


def test_what_settles_it() -> None:
    budget = Budget((Line("seating", "B", 0.06), Line("averaging", "A", 0.01, 9)))
    assert settles(0.1, budget, 0.2).startswith("place it again")
    assert "at the limit" in settles(0.195, budget, 0.2)
    assert not settles(0.0, budget, 0.2)


def test_spread_in_words() -> None:
    assert "no difference is proven" in spread_in_words(0.09, 3, 0.03)
    assert "the blades differ" in spread_in_words(0.12, 3, 0.03)


# --- the set ----------------------------------------------------------------------------------


def angle(degrees: float, own: float = 0.02, shared: float = 0.05) -> BladeAngle:
    lines = (Line("seating", "B", own), Line("reference", "B", shared, common="reference"))
    return BladeAngle(degrees, Budget(lines))


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [(1.45, "in"), (1.5, "too close to say"), (1.54, "too close to say"), (1.56, "out")],
)
def test_guarded_acceptance_and_rejection_of_one_limit(reading: float, verdict: str) -> None:
    """JCGM 106:2012, 8.3.2 and 8.3.3: acceptance limit T - w with w = U = 2u, rejection at T + w.

    The clauses from memory; the numbers are our own: T = 1.5, u = 0.025.
    """
    assert judge(reading, 0.05, 1.5) == verdict


@pytest.mark.parametrize("beyond", [0.0, 0.01, 0.1])
def test_a_guard_band_of_u95_limits_the_consumers_risk(beyond: float) -> None:
    """JCGM 106:2012, 8.3.2.2: w = U keeps the chance of accepting a bad item at or under 2.5 %."""
    u, limit = 0.03, 0.2
    true = limit + beyond
    accepted = stats.norm.cdf((limit - 1.959964 * u - true) / u)
    edge = limit - 1.959964 * u
    assert judge(edge - 1e-9, 1.959964 * u, limit) == "in"
    assert judge(edge + 1e-6, 1.959964 * u, limit) == "too close to say"
    assert accepted <= 0.025 + 1e-6


def test_the_band_of_a_spread_is_the_studentized_range_and_what_is_shared_drops_out() -> None:
    budgets = [angle(0.0, own=0.03, shared=1.0).budget] * 4
    point = float(stats.studentized_range.ppf(0.95, 4, math.inf))
    assert spread_u95(budgets) == pytest.approx(0.03 * point, abs=1e-5)


def test_the_band_of_two_blades_is_that_of_their_difference() -> None:
    budgets = [angle(0.0, own=0.03).budget, angle(0.0, own=0.04).budget]
    assert spread_u95(budgets) == pytest.approx(1.959964 * 0.05, abs=1e-5)


@pytest.mark.parametrize("true", [(0.0, 0.0, 0.0), (0.0, 0.1, 0.2), (0.0, 0.0, 0.3), (0.0, 0.02)])
@pytest.mark.parametrize("own", [(0.02, 0.02, 0.02), (0.01, 0.03, 0.02)])
def test_a_spread_is_off_by_no_more_19_times_in_20_however_the_blades_stand(
    true: Sequence[float], own: Sequence[float]
) -> None:
    """Tukey and Kramer's simultaneous intervals; Hayter (1984) for unequal uncertainties."""
    draws, n = random.Random(5), 4000
    sizes = own[: len(true)]
    band = spread_u95([angle(0.0, u).budget for u in sizes])
    inside = 0
    for _ in range(n):
        read = [t + draws.gauss(0.0, u) for t, u in zip(true, sizes, strict=True)]
        inside += abs(max(read) - min(read) - (max(true) - min(true))) <= band
    assert inside / n >= 0.94


def test_blades_in_tolerance_may_be_out_of_spread() -> None:
    verdict = judge_set([angle(20.2), angle(19.8), angle(20.0)], 20.0, 0.4, 0.2)
    assert verdict.blades == ("in", "in", "in")
    assert (verdict.spread, verdict.together) == ("out", "out")
    assert verdict.spread_deg == pytest.approx(0.4)


def test_a_set_is_within_only_where_every_blade_and_the_spread_are() -> None:
    assert judge_set([angle(20.02), angle(19.98)], 20.0, 0.3, 0.2).together == "in"
    assert judge_set([angle(20.02), angle(19.75)], 20.0, 0.3, 0.9).together == "too close to say"
    assert judge_set([angle(20.02), angle(19.5)], 20.0, 0.3, 0.9).together == "out"


def test_of_a_set_that_was_not_all_read_only_what_is_out_is_known() -> None:
    assert judge_set([angle(20.0), None], 20.0, 0.3, 0.2) == SetVerdict(("in", None))
    assert judge_set([angle(20.0), None], 20.0, 0.3, 0.2).together is None
    assert judge_set([angle(21.0), None], 20.0, 0.3, 0.2).together == "out"
    assert worst([]) is None


@given(
    strategy.lists(strategy.floats(-1.0, 1.0), min_size=2, max_size=6),
    strategy.floats(0.001, 0.2),
    strategy.floats(0.0, 3.0),
)
def test_turning_all_blades_alike_changes_no_spread(
    errors: list[float], own: float, by: float
) -> None:
    one = judge_set([angle(20.0 + e, own) for e in errors], 20.0, 0.3, 0.25)
    other = judge_set([angle(20.0 + by + e, own) for e in errors], 20.0, 0.3, 0.25)
    assert one.spread_deg == pytest.approx(other.spread_deg)
    assert one.spread_u95_deg == other.spread_u95_deg
