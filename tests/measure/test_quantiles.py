"""Student's t, chi-squared and the incomplete beta function against scipy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special
from scipy.integrate import quad
from scipy.stats import chi2, norm
from scipy.stats import t as student

from daemon.measure.quantiles import (
    box_and_normal_95,
    chi2_95,
    incomplete_beta,
    normal_cdf,
    rarely_under,
    t95,
    t_over_z,
    t_two_sided,
)


@pytest.mark.parametrize(("x", "value"), [(0.0, 0.0), (1.0, 1.0), (-0.1, 0.0), (1.1, 1.0)])
def test_the_ends_of_the_beta_function(x: float, value: float) -> None:
    assert incomplete_beta(2.0, 3.0, x) == value


@given(st.floats(0.5, 200.0), st.floats(0.5, 200.0), st.floats(1e-6, 1.0 - 1e-6))
def test_the_beta_function(a: float, b: float, x: float) -> None:
    assert incomplete_beta(a, b, x) == pytest.approx(special.betainc(a, b, x), rel=1e-9, abs=1e-12)


@given(st.floats(0.0, 40.0), st.floats(1.0, 300.0))
def test_both_tails(t: float, dof: float) -> None:
    assert t_two_sided(t, dof) == pytest.approx(2.0 * student.sf(t, dof), rel=1e-7, abs=1e-12)


@given(st.floats(1.0, 500.0))
def test_the_95_percent_point(dof: float) -> None:
    assert t95(dof) == pytest.approx(student.ppf(0.975, dof), rel=1e-7)


@pytest.mark.parametrize("dof", [1, 2, 3, 4, 5, 9, 30, 100])
def test_chi_squared_is_scipys(dof: int) -> None:
    assert chi2_95(dof) == pytest.approx(tuple(chi2.ppf([0.025, 0.975], dof)), rel=1e-9)


@pytest.mark.parametrize(
    ("z", "dof", "rel"), [(1.96, 8.0, 1e-3), (3.0, 40.0, 1e-4), (2.0, 3.0, 0.02)]
)
def test_how_much_further_out_students_t_is(z: float, dof: float, rel: float) -> None:
    """scipy, as near as the expansion of Abramowitz and Stegun, 26.7.5, goes with three terms."""
    assert t_over_z(z, dof) == pytest.approx(student.isf(norm.sf(z), dof) / z, rel=rel)


def test_below_three_degrees_of_freedom_as_for_three_and_of_very_many_as_a_normal() -> None:
    assert t_over_z(2.0, 1.0) == t_over_z(2.0, 3.0) > t_over_z(2.0, 3.1)
    assert t_over_z(3.9, 2e6) == 1.0
    assert t_over_z(3.9, 9e5) > 1.0
    assert t95(2e6) == pytest.approx(norm.ppf(0.975), rel=1e-15)


@pytest.mark.parametrize(("half", "sd"), [(1.0, 0.02), (1.0, 0.1), (1.0, 1.0), (0.01, 1.0)])
def test_a_rectangle_and_a_normal_hold_19_in_20(half: float, sd: float) -> None:
    """scipy: the normal's chance to either side, integrated over the rectangle."""
    q = box_and_normal_95(half, sd)

    def within(r: float) -> float:
        return float(norm.cdf((q - r) / sd) - norm.cdf((-q - r) / sd))

    edges = [p for p in (-q, q) if abs(p) < half]
    inside, _ = quad(within, -half, half, points=edges or None, limit=200)
    assert inside / (2.0 * half) == pytest.approx(0.95, abs=1e-6)


def test_beside_a_rectangle_a_millionth_of_it_is_nothing() -> None:
    assert box_and_normal_95(1.0, 0.9e-6) == 0.95
    assert box_and_normal_95(1.0, 0.0) == 0.95


@pytest.mark.parametrize("limits", [[(0.3, 0.1)], [(0.3, 0.1), (0.35, 0.05), (-1.0, 0.2)]])
def test_what_falls_rarely_under_its_limits(limits: list[tuple[float, float]]) -> None:
    x = rarely_under(limits, 0.05)
    assert sum(norm.cdf((limit - x) / sd) for limit, sd in limits) == pytest.approx(0.05, rel=1e-6)
    assert rarely_under([(-5.0, 0.1)], 0.05) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(-8.0, 8.0))
def test_the_normal_is_scipys(x: float) -> None:
    assert normal_cdf(x) == pytest.approx(norm.cdf(x), rel=1e-9)
