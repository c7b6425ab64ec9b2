"""Seating from a handful of placements: against scipy and printed tables, and by simulation."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from daemon.measure.proving.checks import seating_found
from daemon.measure.proving.seats import PLACEMENTS, seats_of
from tests.measure.levels import profile as profile_of
from tests.measure.levels import reading

FINE = {"u_deg": 0.0, "resolution_deg": 0.0}
"""Readings whose own noise and rounding are nothing beside the seating."""


def test_by_hand_and_by_the_table_of_chi_squared() -> None:
    # 1 to 5 hundredths: squares about their mean 10 over 4 degrees of freedom. Chi-squared with 4 is
    # under 0.484 and over 11.143 once in 40 times each (NIST/SEMATECH e-Handbook, 1.3.6.7.4).
    seats = seats_of([reading(k / 100.0, **FINE) for k in (1, 2, 3, 4, 5)])
    assert seats.u_deg == pytest.approx(math.sqrt(10.0 / 4.0) / 100.0, abs=1e-6)
    assert seats.low_deg == pytest.approx(math.sqrt(10.0 / 11.143) / 100.0, rel=1e-4)
    assert seats.high_deg == pytest.approx(math.sqrt(10.0 / 0.484) / 100.0, rel=1e-3)
    assert seats.apart is None


def test_the_averages_own_noise_is_taken_from_it() -> None:
    noisy = seats_of([reading(k / 100.0, u_deg=0.01, resolution_deg=0.0) for k in range(1, 6)])
    assert noisy.u_deg == pytest.approx(math.sqrt(2.5 - 1.0) / 100.0, abs=1e-6)


def test_a_coarse_display_that_shows_five_times_the_same_is_no_proof_of_a_perfect_seat() -> None:
    seats = seats_of([reading(1.7, resolution_deg=0.1)] * 5)
    assert seats.u_deg < 0.01
    # JCGM 100:2008, F.2.2.1: a step of 0.1 hides 0.1 / (2 sqrt 3) = 0.029
    assert seats.high_deg > 0.029


def test_what_is_said_of_the_uncertainty_holds_19_times_in_20() -> None:
    rng, inside, runs = random.Random(11), 0, 2000
    for _ in range(runs):
        true = rng.uniform(0.02, 0.3)
        shown = [rng.gauss(0.0, math.hypot(true, 0.01)) for _ in range(PLACEMENTS)]
        seats = seats_of([reading(one, resolution_deg=0.0) for one in shown])
        inside += seats.low_deg <= true <= seats.high_deg
    # binomial: 1900 +- 3 * sqrt(2000 * 0.95 * 0.05) = 29
    assert 1871 <= inside <= 1929


def test_a_placement_apart_is_found_as_rarely_as_is_said() -> None:
    rng, found, runs = random.Random(12), 0, 5000
    for _ in range(runs):
        shown = [rng.gauss(0.0, 0.03) for _ in range(PLACEMENTS)]
        found += seats_of([reading(one, **FINE) for one in shown]).apart is not None
    # binomial: 50 +- 3 * sqrt(5000 * 0.01 * 0.99) = 21
    assert 29 <= found <= 71


@pytest.mark.parametrize(("off", "apart"), [(0.2, True), (-0.2, True), (0.05, False)])
def test_a_level_that_was_laid_elsewhere_is_asked_about(off: float, apart: bool) -> None:
    shown = [1.70, 1.71, 1.69, 1.70 + off, 1.705]
    found = seating_found([reading(one) for one in shown], profile_of())
    assert found.good is not apart
    assert ("placement 4 lies" in found.lines[-1]) is apart
    assert (found.seating is None) is apart


@pytest.mark.parametrize(
    ("stated", "says"),
    [
        ({"u_deg": 0.001}, "that is more than the 0.001 that was assumed"),
        ({"u_deg": 0.5, "n": 9}, "that is less than the 0.500 that was measured"),
        ({"u_deg": 0.015}, "the 0.015 that was assumed so far is in that range"),
    ],
)
def test_it_is_held_beside_what_was_known(stated: dict[str, float], says: str) -> None:
    shown = [reading(k / 100.0, **FINE) for k in (1, 2, 3, 4, 5)]
    assert says in seating_found(shown, profile_of(seating=stated)).lines[-1]


@given(st.lists(st.floats(-180.0, 180.0), min_size=3, max_size=9), st.floats(0.0, 1.0))
def test_any_placements_have_a_range_about_what_is_stated(shown: list[float], u: float) -> None:
    readings = [reading(one, u_deg=u) for one in shown]
    seats = seats_of(readings)
    assert 0.0 <= seats.low_deg <= seats.high_deg
    assert seats.low_deg <= seats.u_deg + 1e-6
    assert seats.u_deg <= seats.high_deg + 1e-6
    found = seating_found(readings, profile_of())
    assert found.good == (found.seating is not None)


def test_two_placements_are_refused() -> None:
    with pytest.raises(ValueError, match="2 placements"):
        seats_of([reading(1.0), reading(1.1)])


@pytest.mark.parametrize("n", [3, 5, 9])
def test_what_rounding_may_hide_and_what_averages_explain_by_scipys_chi_squared(n: int) -> None:
    """Five times the same: the upper end is of the step alone, less the averages' own variance."""
    step, u = 0.1 / (2.0 * math.sqrt(3.0)), 0.004
    seats = seats_of([reading(1.7, u_deg=u, resolution_deg=0.1)] * n)
    few = float(chi2.ppf(0.025, n - 1))
    assert seats.high_deg == pytest.approx(math.sqrt((n - 1) * step**2 / few - u**2))
    assert seats.low_deg == 0.0
    assert seats.u_deg == pytest.approx(math.sqrt(0.25) * u), "a quarter of the averages' variance"
    known = [reading(1.7, u_deg=u, resolution_deg=0.1, u_rounding_deg=0.0002)] * n
    assert seats_of(known).high_deg == pytest.approx(0.5 * u), "noise that dithers hides less"


def test_three_placements_are_the_fewest_and_scatter_is_about_their_mean() -> None:
    with pytest.raises(ValueError, match="2 placements show no scatter"):
        seats_of([reading(1.0, **FINE)] * 2)
    three = seats_of([reading(deg, **FINE) for deg in (179.9, -179.9, -180.0)])
    assert three.u_deg == pytest.approx(0.1), "across half a turn"
