"""An aircraft that sways: whether it does, and the middle of its swing."""

import math
import random
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from daemon.measure.stream.settling import Settling
from daemon.measure.stream.sway import (
    FREQUENCIES_HZ,
    SPAN_S,
    SWINGS_DEG,
    SwayStudy,
    _one,
    _waves,
    blocks,
    fit,
    lay,
)
from daemon.measure.stream.tilts import Tilt
from tests.measure.levels import profile

RATE, SD = 10, 0.03
BLOCK_SD = SD / math.sqrt(2.0)
KNOWN: dict[str, Any] = {"noise": {"sd_deg": SD, "n": 600}, "seating": {"u_deg": 0.02, "n": 40}}


def swing(
    rng: random.Random, deg: float, hz: float, rate: int = RATE, sd: float = SD
) -> Iterator[float]:
    """Samples of a level that lies at 18 on an aircraft that sways."""
    phase, k = rng.uniform(0.0, 2.0 * math.pi), 0
    while True:
        yield 18.0 + deg * math.sin(2.0 * math.pi * hz * k / rate + phase) + rng.gauss(0.0, sd)
        k += 1


def span(rng: random.Random, deg: float, hz: float, seconds: float) -> list[float]:
    level = swing(rng, deg, hz)
    return [next(level) for _ in range(round(seconds * RATE))]


@pytest.mark.parametrize("hz", [0.1, 0.3, 0.8])
@pytest.mark.parametrize("n", [7, 24])
def test_one_frequency_is_what_dense_gaussian_algebra_gives(hz: float, n: int) -> None:
    """Against numpy: the points are jointly normal, the constant nearly flat."""
    rng, noise, size, flat = np.random.default_rng(4), 0.03, 0.1, 1e4
    turns = 2.0 * math.pi * hz * 0.25
    phase = turns * (np.arange(n) - 0.5 * (n - 1))
    design = np.column_stack([np.cos(phase), np.sin(phase)])
    y = 0.5 + design @ rng.normal(0.0, size, 2) + rng.normal(0.0, noise, n)
    y -= y.mean()
    none = noise**2 * np.eye(n) + flat**2 * np.ones((n, n))
    some = none + size**2 * design @ design.T

    def loglike(cov: np.ndarray) -> float:
        return float(-0.5 * (y @ np.linalg.solve(cov, y) + np.linalg.slogdet(cov)[1]))

    gain = np.linalg.solve(some, flat**2 * np.ones(n))
    waves = _waves(n, turns)
    on = (float(y @ np.array(waves.cosine)), float(y @ np.array(waves.sine)))
    got = _one(list(y), waves, *on, noise, size)
    assert got.odds == pytest.approx(loglike(some) - loglike(none), abs=1e-3)
    assert got.middle == pytest.approx(float(gain @ y), abs=1e-5)
    u2 = flat**2 - flat**2 * np.ones(n) @ gain
    assert got.u == pytest.approx(math.sqrt(u2), rel=0.02)


@pytest.mark.parametrize("hz", [0.12, 0.2, 0.4, 0.7])
def test_the_middle_of_a_swing_is_found_within_what_is_said(hz: float) -> None:
    rng, inside, squares = random.Random(5), 0, 0.0
    for _ in range(200):
        points, every = blocks(span(rng, 0.1, hz, SPAN_S + 1.0), RATE)
        got = fit(lay(points, every / RATE), BLOCK_SD, 0.1)
        inside += abs(got.middle - 18.0) <= 2.0 * got.u
        squares += (got.middle - 18.0) ** 2
    assert inside >= 0.9 * 200
    assert math.sqrt(squares / 200) < 0.03, "the plain mean of a second is off by 0.07"


def test_a_short_span_leaves_the_middle_unsure() -> None:
    points, every = blocks(span(random.Random(6), 0.1, 0.12, 1.0), RATE)
    assert fit(lay(points, every / RATE), BLOCK_SD, 0.1).u > 0.05


@pytest.mark.parametrize("deg", [0.1, 0.2])
@pytest.mark.parametrize("hz", [0.12, 0.2, 0.4])
def test_a_few_placements_show_that_it_sways(deg: float, hz: float) -> None:
    rng, took = random.Random(7), []
    for _ in range(40):
        study, placements = SwayStudy(), 0
        while not study.swing:
            study.add(span(rng, deg, hz, 3.0), RATE, BLOCK_SD)
            placements += 1
            assert placements < 20
        took.append(placements)
    assert sorted(took)[20] <= 4
    assert min(took) >= 2, "one placement alone convicts no aircraft"


def test_a_level_at_rest_never_sways() -> None:
    rng, study = random.Random(8), SwayStudy()
    for _ in range(600):
        study.add(span(rng, 0.0, 0.2, rng.uniform(1.5, 8.0)), RATE, BLOCK_SD)
        assert not study.swing


def test_one_blade_that_creeps_and_turned_blades_are_no_sway() -> None:
    rng, study = random.Random(9), SwayStudy()
    for k in range(60):
        lies = span(rng, 0.0, 0.2, 4.0)
        if k % 9 == 0:
            lies = [x + 0.02 * i / RATE for i, x in enumerate(lies)]
        if k % 3 == 0:
            lies = [x + (1.5 if i > 20 else 0.0) for i, x in enumerate(lies)]
        study.add(lies, RATE, BLOCK_SD)
        assert not study.swing


def test_it_stops_swaying() -> None:
    rng, study = random.Random(10), SwayStudy()
    for _ in range(8):
        study.add(span(rng, 0.1, 0.3, 4.0), RATE, BLOCK_SD)
    assert study.swing
    for _ in range(8):
        study.add(span(rng, 0.0, 0.3, 4.0), RATE, BLOCK_SD)
    assert not study.swing


@pytest.mark.parametrize(("deg", "hz"), [(0.1, 0.12), (0.1, 0.2), (0.1, 0.4), (0.2, 0.12)])
def test_readings_are_right_once_it_is_known(deg: float, hz: float) -> None:
    rng, settling, off = random.Random(11), Settling(profile(**KNOWN), 8.0), []
    level = swing(rng, deg, hz)
    for _ in range(24):
        for _ in range(15):
            settling.push(Tilt(60.0 + rng.gauss(0.0, 10.0), None, None))
            next(level)
        for _ in range(30 * RATE):
            settling.push(Tilt(next(level), None, None))
            if settling.doing == "ready":
                break
        assert settling.reading is not None
        known, reading = settling.swing_deg > 0.0, settling.reading
        for _ in range(20):
            settling.push(Tilt(next(level), None, None))
        if known:
            off.append(abs(reading.mean_deg - 18.0))
            assert reading.n >= SPAN_S * RATE - 1
    assert len(off) >= 12
    assert math.sqrt(math.fsum(x * x for x in off) / len(off)) < 0.04


def test_two_plain_placements_are_enough() -> None:
    rng, found = random.Random(12), 0
    for _ in range(20):
        study = SwayStudy()
        for _ in range(2):
            assert not study.swing
            study.add(span(rng, 0.2, 0.4, 6.0), RATE, BLOCK_SD)
        found += study.swing > 0.0
    assert found >= 18


@pytest.mark.parametrize(("seconds", "heard"), [(1.4, False), (1.6, True)])
def test_a_placement_of_a_second_and_a_half_is_heard(seconds: float, heard: bool) -> None:
    rng, study = random.Random(12), SwayStudy()
    for _ in range(20):
        study.add(span(rng, 0.2, 0.4, seconds), RATE, BLOCK_SD)
    assert bool(study.swing) is heard


@pytest.mark.parametrize("n", [4, 6, 24])
def test_what_a_swing_leaves_is_the_noise(n: int) -> None:
    """Chi-squared of n - 3: a constant and two parts of a wave are fitted. Its mean is 0 errors."""
    rng, turns, lefts = np.random.default_rng(13), 2.0 * math.pi * 0.6 * 0.25, []
    waves = _waves(n, turns)
    for _ in range(4000):
        phase = turns * np.arange(n) + rng.uniform(0.0, 2.0 * math.pi)
        off = np.sin(phase) + rng.normal(0.0, 0.03, n)
        off -= off.mean()
        on = (float(off @ np.array(waves.cosine)), float(off @ np.array(waves.sine)))
        lefts.append(_one(list(off), waves, *on, 0.03, 1.0).left)
    assert np.mean(lefts) == pytest.approx(0.0, abs=4.0 / math.sqrt(4000))
    assert np.std(lefts) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize(("errors", "heard"), [(3.4, True), (3.6, False)])
def test_a_placement_that_is_no_swing_is_not_heard(errors: float, heard: bool) -> None:
    """As the noise is said to be smaller, what a swing leaves is more of its errors."""
    lies = span(random.Random(14), 0.2, 0.4, 6.0)
    points, every = blocks(lies, RATE)
    laid, low, high = lay(points, every / RATE), 0.001, 0.1
    for _ in range(40):
        noise = 0.5 * (low + high)
        left = min(fit(laid, noise, size).left for size in SWINGS_DEG)
        low, high = (noise, high) if left > errors else (low, noise)
    study = SwayStudy()
    for _ in range(3):
        study.add(lies, RATE, high)
    assert bool(study.swing) is heard


@pytest.mark.parametrize("deg", [0.07, 0.14, 0.28])
def test_the_size_of_a_swing_is_found(deg: float) -> None:
    """A sine's standard deviation is its height over the root of two."""
    rng, study = random.Random(15), SwayStudy()
    for _ in range(8):
        study.add(span(rng, deg, 0.2, 8.0), RATE, BLOCK_SD)
    assert study.swing == pytest.approx(deg / math.sqrt(2.0), rel=0.05)


@pytest.mark.parametrize(("deg", "heard"), [(0.4, True), (0.6, False)])
def test_what_goes_further_than_a_degree_is_a_turned_blade(deg: float, heard: bool) -> None:
    rng, study = random.Random(17), SwayStudy()
    for _ in range(8):
        study.add(span(rng, deg, 0.2, 8.0), RATE, BLOCK_SD)
    assert bool(study.swing) is heard


def test_frequencies_are_weighed_by_how_likely_they_make_what_was_seen() -> None:
    """Against numpy: the mean and the variance of a mixture, and what lies between two frequencies."""
    points, every = blocks(span(random.Random(18), 0.1, 0.15, 3.0), RATE)
    laid = lay(points, every / RATE)
    each = [_one(laid.off, *one, BLOCK_SD, 0.1) for one in laid.waves]
    odds, middles = np.array([x.odds for x in each]), np.array([x.middle for x in each])
    variances = np.array([x.u for x in each]) ** 2
    weights, got = np.exp(odds), fit(laid, BLOCK_SD, 0.1)
    mean = np.average(middles, weights=weights)
    apart = np.average((middles - mean) ** 2, weights=weights)
    within = np.average(variances, weights=weights)
    assert got.odds == pytest.approx(math.log(weights.mean()))
    assert got.middle == pytest.approx(laid.mean + mean)
    assert got.u == pytest.approx(math.sqrt(apart + within + 0.01**2))
    assert apart > 0.1 * within, "or it would not be seen here"


def test_each_frequency_from_a_tenth_to_eight_tenths_is_weighed_once() -> None:
    assert len({round(hz, 6) for hz in FREQUENCIES_HZ}) == len(FREQUENCIES_HZ)
    assert (min(FREQUENCIES_HZ), max(FREQUENCIES_HZ)) == pytest.approx((0.1, 0.8))


@pytest.mark.parametrize(("first", "last", "turns"), [(0.1, 0.2, 0.1), (0.2, 0.8, 0.125)])
def test_no_swing_runs_far_from_the_nearest_frequency(
    first: float, last: float, turns: float
) -> None:
    """Within six seconds, by less than a tenth of a turn where it is slow."""
    away = [
        min(abs(hz - one) for one in FREQUENCIES_HZ) * 6.0 for hz in np.linspace(first, last, 200)
    ]
    assert max(away) < turns
    assert (away[0], away[-1]) == pytest.approx((0.0, 0.0))


def test_however_long_it_is_looked_at_a_middle_is_not_surer_than_a_tenth_of_the_swing() -> None:
    points, every = blocks(span(random.Random(16), 0.1, 0.3, 60.0), RATE)
    got = fit(lay(points, every / RATE), BLOCK_SD, 0.1)
    assert 0.01 < got.u < 0.012


@pytest.mark.parametrize(("rate", "deg", "hz"), [(4, 0.2, 0.3), (10, 0.1, 0.15)])
def test_the_middle_of_a_swing_is_good_enough_at_twice_the_target_or_a_fifth_of_the_swing(
    rate: int, deg: float, hz: float
) -> None:
    about: dict[str, Any] = {"noise": {"sd_deg": 0.1, "n": 600}, "reporting": {"rate_hz": rate}}
    settling, rng = Settling(profile(**(KNOWN | about)), 8.0), random.Random(1)
    level, seen = swing(rng, deg, hz, rate, 0.1), set()
    for _ in range(14):
        for _ in range(15):
            settling.push(Tilt(60.0 + rng.gauss(0.0, 10.0), None, None))
        for _ in range(12 * rate):
            settling.push(Tilt(next(level), None, None))
            got, swings = settling.reading, settling.swing_deg
            if swings and got is not None and got.n >= SPAN_S * rate:
                assert got.reached is (got.u_deg <= max(0.02, 0.2 * swings))
                seen.add(got.reached)
    assert seen == {True, False}


@pytest.mark.parametrize(("rate", "means"), [(1, [0, 1, 2, 3, 4, 5, 6]), (10, [1.5, 3.5, 5.5])])
def test_a_quarter_of_a_second_is_taken_together_and_one_sample_at_least(
    rate: float, means: list[float]
) -> None:
    points, every = blocks([float(i) for i in range(7)], rate)
    assert points == means
    assert every * len(points) == 7 - 7 % every


def placed_after(settling: Settling, level: Iterator[float], rng: random.Random) -> int:
    """Carry the level, lay it down for ten seconds; return after how many samples it was placed."""
    for _ in range(15):
        settling.push(Tilt(60.0 + rng.gauss(0.0, 10.0), None, None))
    before, took = settling.placement, 0
    for k in range(10 * RATE):
        settling.push(Tilt(next(level), None, None))
        if settling.placement > before and not took:
            took = k + 1
    return took


def test_on_an_aircraft_that_sways_a_level_lies_longer_until_it_rests() -> None:
    """A second of calm is enough; of a swing, a second and a half since it was last in a hand."""
    took = []
    for deg in (0.0, 0.1):
        rng, settling = random.Random(19), Settling(profile(**KNOWN), 8.0)
        level = swing(rng, deg, 0.2)
        after = [placed_after(settling, level, rng) for _ in range(14)]
        assert bool(settling.swing_deg) is bool(deg)
        took.append(sorted(after[-6:])[2])
    assert took[0] == RATE
    assert 1.5 * RATE <= took[1] < 2.5 * RATE


def test_a_level_whose_noise_nobody_learned_hears_no_sway() -> None:
    rng = random.Random(20)
    settling, level = Settling(profile(seating={"u_deg": 0.02}), 8.0), swing(rng, 0.1, 0.2)
    for _ in range(14):
        placed_after(settling, level, rng)
        assert settling.swing_deg == 0.0
