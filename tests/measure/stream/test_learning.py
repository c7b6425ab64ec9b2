"""What a level teaches about itself, against the truth it was simulated with."""

import math
import random

import pytest

from daemon.measure.stream.average import inflation
from daemon.measure.stream.learning import NoiseStudy, PlacementStudy, SeatingStudy, Sums
from tests.measure.levels import profile, reading
from tests.measure.stream.test_average import ar1


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.9])
def test_noise_from_short_stretches(lag1: float) -> None:
    rng, study = random.Random(3), NoiseStudy(profile())
    for _ in range(150):
        study.add([18.0 + x for x in ar1(rng, 30, 0.03, lag1)])
    got = study.noise()
    assert got is not None
    assert got.sd_deg == pytest.approx(0.03, rel=0.12)
    assert got.lag1 == pytest.approx(lag1, abs=0.05)
    assert got.n > 4000


@pytest.mark.parametrize("n", [8, 15, 40])
@pytest.mark.parametrize("lag1", [0.0, 0.3, 0.8])
def test_the_lag_of_a_stretch_is_freed_of_its_bias(n: int, lag1: float) -> None:
    """A stretch of n shows r - (1 + 3 r) / n on average (Kendall 1954; Marriott and Pope)."""
    shown = lag1 - (1.0 + 3.0 * lag1) / n
    assert Sums(n, 1.0, shown).lag1 == pytest.approx(lag1)


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.9])
def test_what_short_stretches_lose_is_put_back_exactly(lag1: float) -> None:
    """Stretches shorter than the noise hangs together: no bias is left in the long run."""
    rng, study = random.Random(7), NoiseStudy(profile(resolution_deg=0.001))
    for _ in range(3000):
        study.add(ar1(rng, 15, 0.03, lag1))
    got = study.noise()
    assert got is not None
    assert got.lag1 == pytest.approx(lag1, abs=0.025)
    assert got.sd_deg == pytest.approx(0.03, rel=0.08)


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.9])
def test_careful_errs_to_the_longer_average(lag1: float) -> None:
    """What is kept for later sessions understates an average's noise in few levels."""
    rng, low = random.Random(9), 0
    true = inflation(lag1, 40) * 0.03**2
    for _ in range(200):
        study = NoiseStudy(profile())
        for _ in range(12):
            study.add(ar1(rng, 20, 0.03, lag1))
        got = study.careful()
        assert got is not None
        low += got.sd_deg**2 * inflation(got.lag1, 40) < 0.7**2 * true
    assert low <= 0.1 * 200


@pytest.mark.parametrize("lag1", [0.5, 0.9])
def test_careful_is_one_standard_error_more_as_bartlett_states_it(lag1: float) -> None:
    """(1 - r^2) / n is the variance of an AR(1) series' first autocorrelation (Bartlett 1946)."""
    rng, study = random.Random(5), NoiseStudy(profile(resolution_deg=0.001))
    for _ in range(12):
        study.add(ar1(rng, 300, 0.03, lag1))
    plain, careful = study.noise(), study.careful()
    assert plain is not None
    assert careful is not None
    error = math.sqrt((1.0 - lag1 * lag1) / plain.n)
    assert careful.lag1 - plain.lag1 == pytest.approx(error, abs=0.0025)


def test_only_noise_that_hangs_together_little_is_used_at_once() -> None:
    rng = random.Random(10)
    used = {}
    for lag1 in (0.0, 0.5, 0.9):
        studies = [NoiseStudy(profile()) for _ in range(100)]
        for study in studies:
            for _ in range(6):
                study.add(ar1(rng, 20, 0.03, lag1))
        used[lag1] = sum(study.usable() is not None for study in studies)
    assert used[0.0] > 90
    assert used[0.5] < 10
    assert used[0.9] == 0


def test_rounding_and_outliers_are_taken_out() -> None:
    rng, study = random.Random(4), NoiseStudy(profile(resolution_deg=0.05))
    for _ in range(100):
        values = [round((18.0 + x) / 0.05) * 0.05 for x in ar1(rng, 30, 0.04, 0.0)]
        study.add([v + (5.0 if rng.random() < 0.05 else 0.0) for v in values])
    got = study.noise()
    assert got is not None
    assert got.sd_deg == pytest.approx(0.04, rel=0.08)
    assert got.lag1 < 0.08


def test_a_level_too_coarse_to_show_its_noise_learns_none_from_what_moved() -> None:
    study = NoiseStudy(profile(resolution_deg=0.1))
    for _ in range(30):
        study.add([18.0] * 20)
    for _ in range(5):
        study.add([18.0 + 0.1 * (k // 4) for k in range(20)])
    got = study.noise()
    assert got is not None
    assert got.sd_deg == 0.0


def test_too_little_is_nothing() -> None:
    study = NoiseStudy(profile())
    study.add([18.0] * 7)
    study.add([18.0] * 10)
    assert study.noise() is None


def test_a_constant_level_has_no_noise_to_learn() -> None:
    study = NoiseStudy(profile())
    study.add([18.0] * 100)
    got = study.noise()
    assert got is not None
    assert (got.sd_deg, got.lag1) == (0.0, 0.0)


def test_seating_is_freed_of_the_averages_noise() -> None:
    rng, study = random.Random(5), SeatingStudy()
    for _ in range(200):
        at = rng.uniform(10, 30)
        study.add(
            [reading(at + rng.gauss(0, 0.03) + rng.gauss(0, 0.02), u_deg=0.02) for _ in range(3)]
        )
    got = study.seating()
    assert got is not None
    assert got.u_deg == pytest.approx(0.03, rel=0.1)
    assert got.n == 401


def test_seating_needs_placements() -> None:
    study = SeatingStudy()
    study.add([reading(18.0)])
    study.add([reading(18.0), reading(18.01)])
    assert study.seating() is None


def test_too_little_teaches_nothing() -> None:
    rng, study = random.Random(1), NoiseStudy(profile())
    study.add(ar1(rng, 7, 0.03, 0.0))
    assert study.noise() is None
    for samples, noise, careful in ((22, False, False), (8, True, False), (29, True, False),
                                    (1, True, False)):  # fmt: skip
        values = [18.0 + 0.01 * (i % 3) for i in range(max(samples, 8))]
        if samples >= 8:
            study.add(values[:samples])
        assert (study.noise() is not None) is noise
        assert (study.careful() is not None) is careful
    study.add([18.0, 18.01] * 4)
    got = study.careful()
    assert got is not None
    assert got.n == 67


def test_a_level_that_shows_one_value_has_no_noise() -> None:
    study = NoiseStudy(profile())
    for _ in range(5):
        study.add([18.0] * 20)
    got = study.noise()
    assert got is not None
    assert (got.sd_deg, got.lag1, got.n) == (0.0, 0.0, 100)


def test_one_stretch_of_each_placement_is_studied() -> None:
    rng, study = random.Random(2), PlacementStudy(profile())
    stretches = [ar1(rng, 12, 0.03, 0.0) for _ in range(9)]
    for placement, stretch in enumerate(stretches, 1):
        study.look(placement, [])
        study.look(placement, stretch)
        study.look(placement, [0.0, 9.0] * 10)
    alone = NoiseStudy(profile())
    for stretch in stretches:
        alone.add(stretch)
    assert study.careful() == alone.careful() is not None
    assert study.usable() == alone.usable()


def test_noise_that_was_measured_is_not_replaced() -> None:
    for n, used in ((29, True), (30, False)):
        rng = random.Random(2)
        study = PlacementStudy(profile(noise={"sd_deg": 0.03, "n": n}))
        for placement in range(1, 40):
            study.look(placement, ar1(rng, 12, 0.03, 0.0))
        assert (study.usable() is not None) is used
        assert study.careful() is not None


def test_seating_is_the_spread_freed_of_what_averaging_explains() -> None:
    study = SeatingStudy()
    study.add([reading(18.0)])
    for _ in range(2):
        study.add([reading(18.0, u_deg=0.01), reading(18.06, u_deg=0.01)])
    assert study.seating() is None
    assert study.seating(fewest=3) is None
    got = study.seating("2026-01-02", fewest=2)
    # two pairs 0.06 apart: variance 0.0018, less 0.01^2 of averaging
    assert got is not None
    assert got.u_deg == pytest.approx(math.sqrt(0.0018 - 0.0001), abs=1e-6)
    assert (got.n, got.date) == (3, "2026-01-02")
    study.add([reading(179.97, u_deg=0.01), reading(-179.97, u_deg=0.01)] * 2)
    assert study.seating() is not None


def test_a_seat_is_never_said_to_be_better_than_averaging_can_show() -> None:
    study = SeatingStudy()
    for _ in range(5):
        study.add([reading(18.0, u_deg=0.02), reading(18.0, u_deg=0.02)])
    got = study.seating()
    assert got is not None
    assert got.u_deg == pytest.approx(0.5 * 0.02)
