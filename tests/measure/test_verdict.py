"""Guard bands (JCGM 106:2012) and the spread of equal blades (studentized range)."""

import math

import pytest
from scipy import integrate, stats

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.verdict import (
    judge,
    settles,
    spread_95,
    spread_expectation,
    spread_in_words,
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
