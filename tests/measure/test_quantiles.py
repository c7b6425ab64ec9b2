"""Student's t, chi-squared and the incomplete beta function against scipy."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special
from scipy.stats import chi2
from scipy.stats import t as student

from daemon.measure.quantiles import chi2_95, incomplete_beta, t95, t_two_sided


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
