"""Averages against NIST's reference data, the GUM's examples, and simulation."""

import json
import math
import random
import statistics
from pathlib import Path
from typing import Any

import pytest

from daemon.measure.stream.average import (
    Prior,
    _rounding,
    average,
    inflation,
    inliers,
    lag1_of,
    likely_lag1,
    prior_from,
    prior_of,
    rounding_u,
    variance_of,
)
from shared.profile import Noise
from tests.measure.levels import profile

STRD = Path(__file__).parents[2] / "data" / "nist-strd-univariate.json"
SETS: dict[str, Any] = json.loads(STRD.read_text())["sets"]


def ar1(rng: random.Random, n: int, sd: float, lag1: float) -> list[float]:
    now, out = rng.gauss(0, sd), []
    for _ in range(n):
        out.append(now)
        now = lag1 * now + rng.gauss(0, sd * math.sqrt(1 - lag1 * lag1))
    return out


@pytest.mark.parametrize("name", sorted(name for name, s in SETS.items() if "data" in s))
def test_nist_strd(name: str) -> None:
    # NIST Statistical Reference Datasets, univariate summary statistics: certified values
    data = SETS[name]
    values = data["data"]
    mean = math.fsum(values) / len(values)
    assert mean == pytest.approx(data["certified_mean"], rel=1e-14)
    sd = math.sqrt(variance_of(values, mean))
    assert sd == pytest.approx(data["certified_standard_deviation"], rel=1e-12)
    lag1 = lag1_of(values, mean)
    assert lag1 == pytest.approx(data["certified_lag1_autocorrelation"], rel=1e-12)


@pytest.mark.parametrize("base", [1.0, 1e6, 1e7])
def test_nist_strd_numacc_2_to_4(base: float) -> None:
    # NIST StRD NumAcc2, 3, 4: mean base + .2, standard deviation .1; the textbook formula
    # (sum of squares minus square of sum) fails on the last two
    values = [base + 0.2] + [base + 0.1, base + 0.3] * 500
    mean = math.fsum(values) / len(values)
    assert mean == pytest.approx(base + 0.2, rel=1e-15)
    assert math.sqrt(variance_of(values, mean)) == pytest.approx(0.1, rel=1e-7)
    got = average(values, Prior(0.1, 0.0, 0, 0.0, 0.1))
    assert got.mean == pytest.approx(base + 0.2, rel=1e-15)


def test_nist_strd_numacc_1() -> None:
    # NIST StRD NumAcc1
    values = [10000001.0, 10000003.0, 10000002.0]
    assert variance_of(values, 10000002.0) == 1.0


def test_gum_4_4_3() -> None:
    # JCGM 100:2008, 4.4.3: twenty temperatures (data from memory, results recomputed)
    values = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
        100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ]  # fmt: skip
    mean = math.fsum(values) / 20
    assert mean == pytest.approx(100.145, abs=1e-9)
    assert math.sqrt(variance_of(values, mean)) == pytest.approx(1.488844, abs=1e-6)
    assert math.sqrt(variance_of(values, mean) / 20) == pytest.approx(0.332916, abs=1e-6)


def test_gum_f_2_2_1_resolution() -> None:
    # JCGM 100:2008, F.2.2.1: a resolution d without noise leaves d / sqrt(12)
    assert rounding_u(0.1, 0.0) == pytest.approx(0.1 / math.sqrt(12), rel=1e-6)
    still = average([18.0] * 20, prior_of(profile(resolution_deg=0.1, noise={"sd_deg": 0.0})))
    assert still.u_rounding == pytest.approx(0.1 / math.sqrt(12), rel=1e-6)
    assert still.u > 0.0


@pytest.mark.parametrize("sd", [0.01, 0.02, 0.03, 0.05])
def test_dithering_against_simulation(sd: float) -> None:
    rng, offs = random.Random(4), []
    for _ in range(250):
        truth = rng.random()
        shown = [round((truth + rng.gauss(0, sd)) / 0.1) * 0.1 for _ in range(800)]
        offs.append(math.fsum(shown) / 800 - truth)
    left = math.sqrt(
        max(math.fsum(x * x for x in offs) / len(offs) - (sd**2 + 0.1**2 / 12) / 800, 0.0)
    )
    assert rounding_u(0.1, sd) == pytest.approx(left, rel=0.15, abs=6e-4)


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.9])
def test_inflation_is_exact(lag1: float) -> None:
    # AR(1) covariances summed; Michelso's r of NIST StRD gives sqrt((1 + r)/(1 - r)) = 1.8174
    n = 40
    direct = sum(lag1 ** abs(i - j) for i in range(n) for j in range(n)) / n
    assert inflation(lag1, n) == pytest.approx(direct, rel=1e-12)
    r = SETS["michelso"]["certified_lag1_autocorrelation"]
    assert math.sqrt(inflation(r, 10**9)) == pytest.approx(1.8174, abs=1e-4)


def test_the_stated_uncertainty_counts_autocorrelation() -> None:
    # simulated: the spread of averages of an AR(1) level is what is stated for each
    rng, prior = random.Random(8), Prior(0.03, 0.9, 600, 0.0, 0.03)
    got = [average(ar1(rng, 40, 0.03, 0.9), prior) for _ in range(1200)]
    spread = math.sqrt(math.fsum(one.mean**2 for one in got) / len(got))
    stated = math.sqrt(math.fsum(one.u**2 for one in got) / len(got))
    assert stated == pytest.approx(spread, rel=0.08)


def test_autocorrelation_nobody_learned_is_estimated_with_care() -> None:
    rng, prior = random.Random(9), Prior(0.03, 0.0, 0, 0.0, 0.03)
    got = [average(ar1(rng, 100, 0.03, 0.8), prior) for _ in range(600)]
    spread = math.sqrt(math.fsum(one.mean**2 for one in got) / len(got))
    stated = math.sqrt(math.fsum(one.u**2 for one in got) / len(got))
    assert 0.95 * spread < stated < 1.4 * spread


@pytest.mark.parametrize("learned", [0, 600])
def test_gross_outliers_do_not_count(learned: int) -> None:
    rng, prior = random.Random(10), Prior(0.03, 0.0, learned, 0.0, 0.03)
    means = []
    for _ in range(800):
        values = [rng.gauss(0, 0.03) + (5.0 if rng.random() < 0.2 else 0.0) for _ in range(40)]
        means.append(average(values, prior).mean)
    bias = math.fsum(means) / len(means)
    spread = math.sqrt(math.fsum((m - bias) ** 2 for m in means) / len(means))
    assert abs(bias) < 0.2 * 0.03
    assert spread < 1.25 * 0.03 / math.sqrt(40)


def test_gaussian_noise_loses_nothing() -> None:
    rng, prior = random.Random(11), Prior(0.03, 0.0, 0, 0.0, 0.03)
    means = [average(ar1(rng, 40, 0.03, 0.0), prior).mean for _ in range(1500)]
    spread = math.sqrt(math.fsum(m * m for m in means) / len(means))
    assert spread < 1.07 * 0.03 / math.sqrt(40)


@pytest.mark.parametrize(
    ("n", "lag1", "weight"),
    [
        (0, 0.0, 8.0),  # assumed
        (29, 0.5, 8.0),
        (30, 0.0, 32.0),
        (100, 0.5, 100 / 3 + 2),
        (400, 0.0, 402.0),
        (9000, 0.0, 402.0),  # levels age
    ],
)
def test_what_is_known_weighs_as_its_samples_do(n: int, lag1: float, weight: float) -> None:
    prior = Prior(0.03, lag1, n)
    assert prior.weight == pytest.approx(weight)
    assert prior.learned is (n >= 30)


def test_a_prior_is_the_noise_as_it_is_shown() -> None:
    # without dither a step adds nothing that varies; well dithered it adds step^2 / 12
    noise = Noise(sd_deg=0.0, lag1=0.3, n=77)
    still = prior_from(noise, 0.1)
    assert still == Prior(0.005, 0.3, 77, 0.1, 0.0)
    dithered = prior_from(Noise(sd_deg=0.1, n=77), 0.1)
    assert dithered.sd == pytest.approx(math.sqrt(0.01 + 0.01 / 12.0), rel=1e-4)
    assert prior_from(Noise(sd_deg=0.0), 0.0).sd == 1e-6
    assert prior_from(Noise(sd_deg=0.02), 0.0).sd == 0.02
    assert prior_of(profile(noise={"sd_deg": 0.1, "n": 77}, resolution_deg=0.1)) == dithered


def test_the_cut_is_at_four_robust_deviations() -> None:
    # with another one above, the median is 18.005 and the median deviation from it 0.01
    values = [17.99] * 5 + [18.0] + [18.01] * 5
    reach = 4.0 * 1.482602218505602 * 0.01
    for factor, kept in ((0.99, 12), (1.01, 11)):
        assert len(inliers([*values, 18.005 + factor * reach], 0.0)) == kept
    assert inliers([18.0, 18.0, 18.0, 18.1], 0.0) == [0, 1, 2]
    assert inliers([18.0, 18.0, 18.0, 18.1], 0.026) == [0, 1, 2, 3]
    assert inliers([18.0, 18.0, 18.0, 18.1], 0.024) == [0, 1, 2]


def test_a_series_that_stands_has_no_autocorrelation() -> None:
    assert lag1_of([18.0] * 5, 18.0) == 0.0


def test_likely_autocorrelation() -> None:
    learned, assumed = Prior(0.03, 0.4, 30), Prior(0.03, 0.4, 0)
    swings = [18.0, 18.1] * 10
    mean = 18.05
    assert likely_lag1(swings, mean, learned) == 0.4
    assert likely_lag1(swings, mean, assumed) == 0.4
    assert likely_lag1(swings[:7], mean, assumed) == 0.4
    slope = [float(i) for i in range(20)]
    assert likely_lag1(slope, 9.5, assumed) == 0.97
    # (n r + 1) / (n - 3) and a standard error more (Kendall 1954)
    # its own is 1 / 8
    few = [1.0, 1.0, 1.0, -1.0, -1.0, -1.0, 1.0, -1.0]
    own = (8 * 0.125 + 1.0) / 5.0
    wanted = own + math.sqrt((1.0 - own * own) / 8)
    assert likely_lag1(few, 0.0, Prior(0.03, 0.0, 0)) == pytest.approx(wanted)


def pooled(values: list[float], prior: Prior) -> tuple[float, float]:
    """Variance and degrees of freedom by hand, for white noise and no rounding."""
    n = len(values)
    own = statistics.variance(values)
    dof = n - 1.0 + prior.weight
    return ((n - 1.0) * own + prior.weight * prior.sd**2) / dof, dof


def test_what_is_known_and_what_is_seen_are_pooled() -> None:
    rng, prior = random.Random(2), Prior(0.03, 0.0, 100, 0.0, 0.03)
    values = [18.0 + rng.gauss(0, 0.03) for _ in range(20)]
    got = average(values, prior)
    variance, dof = pooled(values, prior)
    assert got.n == 20
    assert got.sd == pytest.approx(math.sqrt(variance))
    assert got.u == pytest.approx(math.sqrt(variance / 20))
    assert got.dof == pytest.approx(dof)
    assert (got.lag1, got.u_rounding) == (0.0, 0.0)


def test_a_stretch_that_shows_clearly_more_is_believed_alone() -> None:
    prior = Prior(0.03, 0.0, 100, 0.0, 0.03)
    # 2.5 + 12 / 19 times the known variance
    limit = 0.03 * math.sqrt(2.5 + 12.0 / 19.0)
    for factor, alone in ((0.99, False), (1.01, True)):
        d = factor * limit * math.sqrt(19.0 / 20.0)
        got = average([18.0 - d, 18.0 + d] * 10, prior)
        assert got.dof == pytest.approx(19.0 if alone else 121.0)
        assert got.sd == pytest.approx(factor * limit) if alone else got.sd < limit


def test_two_values_are_enough() -> None:
    got = average([18.0, 18.02], Prior(0.03, 0.0, 100, 0.0, 0.03))
    assert got.mean == pytest.approx(18.01)
    assert got.u == pytest.approx(pooled([18.0, 18.02], Prior(0.03, 0.0, 100))[0] ** 0.5 / 2**0.5)


def test_rounding_that_nothing_is_known_to_dither_stays_whole() -> None:
    assumed = Prior(0.03, 0.0, 0, 0.1, 0.03)
    whole = 0.1 / math.sqrt(12)
    # the variance of the stretch must pass a quarter of the step's square
    for d, dithered in ((0.048, False), (0.0515, True)):
        got = average([18.0 - d, 18.0 + d] * 20, assumed)
        assert (got.u_rounding < 0.999 * whole) is dithered
    learned = average([18.0] * 20, Prior(0.1, 0.0, 100, 0.1, 0.1))
    assert learned.u_rounding == pytest.approx(rounding_u(0.1, 0.1 * math.sqrt(0.95)))


def test_no_step_rounds_nothing() -> None:
    assert rounding_u(0.0, 0.0) == 0.0
    assert rounding_u(-0.0, 0.1) == 0.0


def test_what_rounding_leaves_where_nobody_knows_the_noise() -> None:
    """All of the step where the stretch shows less than half of it; else what its own noise dithers.

    Three quarters of that noise act within the stretch: a quarter is in the mean.
    """
    assumed = Prior(0.03, 0.0, 0, step=0.1, clean_sd=0.03)
    whole = 0.1 / math.sqrt(12.0)
    assert _rounding(0.0024, 0.25, assumed) == pytest.approx(whole)
    dithers = math.sqrt((0.0026 - 0.01 / 12.0) * 0.75)
    assert _rounding(0.0026, 0.25, assumed) == pytest.approx(rounding_u(0.1, dithers))
    assert rounding_u(0.1, dithers) < 0.9 * whole
    known = Prior(0.06, 0.0, 600, step=0.1, clean_sd=0.04)
    assert _rounding(9.0, 0.25, known) == pytest.approx(rounding_u(0.1, 0.04 * math.sqrt(0.75)))
    assert _rounding(9.0, 1.5, known) == pytest.approx(whole), "nothing acts within it"
