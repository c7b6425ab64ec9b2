"""Tails and creeps, in small seeded numbers; the large ones are in benchmarks/stillness.py."""

import math
import random

import numpy as np
import pytest

from benchmarks.stillness import captured, carried, case, rocking, tail, turning
from daemon.measure.stream.average import Prior
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.stillness import (
    CREEP,
    DOUBT,
    Looking,
    left_in,
    ragged,
    shape,
    shown_noise,
    thinned,
    with_calm,
    without_spikes,
)
from daemon.measure.stream.tilts import Tilt
from tests.measure.levels import profile
from tests.measure.stream.test_average import ar1

LOOK = Looking(0.03, 0.0, 10.0, 1)


@pytest.mark.parametrize("kind", [tail, rocking, turning])
def test_a_movement_leaves_little_in_a_reading(kind: object) -> None:
    rng, at = random.Random(6), case(0.03, 0.0, 10.0)
    worst = 0.0
    for _ in range(60):
        got = captured(at, rng, kind(rng), carried(rng, 10.0))  # type: ignore[operator]
        assert got is not None
        _, _, left, _ = got
        worst = max(worst, abs(left) / at.u95)
    assert worst < 0.25


@pytest.mark.parametrize("creep", [0.03, 0.05])
def test_a_creep_that_matters_is_not_taken(creep: float) -> None:
    rng, at = random.Random(7), case(0.01, 0.0, 10.0)
    for _ in range(25):
        before = carried(rng, 10.0) + [18.0 - creep * (30 - i) / 10 for i in range(30)]
        got = captured(at, rng, lambda t: creep * t, before, 8.0, fresh=False)
        assert got is None or creep * got[1] / 10 / 2 < 0.2 * at.u95


def test_a_creep_is_called_a_creep() -> None:
    rng, settling = random.Random(8), Settling(profile(noise={"sd_deg": 0.01, "n": 600}), 8.0)
    seen = []
    for i in range(120):
        settling.push(Tilt(18.0 + 0.005 * i + rng.gauss(0, 0.01), None, None))
        seen.append(settling.doing)
    assert "creeping" in seen
    assert "ready" not in seen[20:]


@pytest.mark.parametrize("lag1", [0.0, 0.6])
def test_a_shapes_size_scatters_as_stated(lag1: float) -> None:
    rng = random.Random(9)
    for tau in (3.0, CREEP):
        one = shape(20, 10, tau, lag1)
        sizes = [
            math.fsum(w * x for w, x in zip(one.weights, ar1(rng, 20, 1.0, lag1), strict=True))
            for _ in range(4000)
        ]
        spread = math.sqrt(math.fsum(x * x for x in sizes) / len(sizes))
        assert one.u == pytest.approx(spread, rel=0.05)


def test_a_tail_is_measured() -> None:
    values = [18.0 + 0.5 * math.exp(-i / 4.0) for i in range(20)]
    left, _ = left_in(values[:10], values[10:], LOOK, 2.0)
    true = math.fsum(values[10:]) / 10 - 18.0
    assert true < left < 3.0 * true


def test_noise_alone_leaves_nothing_most_of_the_time() -> None:
    rng = random.Random(10)
    quiet = sum(
        left_in(x[:10], x[10:], LOOK, 2.0)[0] == 0.0
        for x in (ar1(rng, 20, 0.03, 0.0) for _ in range(400))
    )
    assert quiet > 0.85 * 400


def test_the_calm_before_ends_at_a_movement() -> None:
    before = [40.0, 30.0, 18.02, 17.99, 25.0, 18.0]
    assert with_calm(before, [18.0, 18.01, 17.99], 0.03)[0] == 18.02


def test_spikes_go_and_slopes_stay() -> None:
    values = [18.0 + 0.2 * i for i in range(12)]
    spiked = list(values)
    spiked[5] += 5.0
    calm = without_spikes(spiked, 0.03)
    assert calm[5] == pytest.approx(values[5], abs=0.5)
    assert without_spikes(values, 0.03)[:10] == values[:10]


def test_thinning_ends_with_the_newest() -> None:
    assert thinned([1.0, 2.0, 3.0, 4.0, 5.0], 2) == [2.5, 4.5]
    assert thinned([1.0, 2.0], 1) == [1.0, 2.0]


def test_a_shaken_level_shows_its_noise() -> None:
    rng, prior = random.Random(11), Prior(0.01, 0.0, 600, 0.01, 0.01)
    assert shown_noise(ar1(rng, 30, 0.05, 0.0), prior) == pytest.approx(0.03)
    assert shown_noise(ar1(rng, 30, 0.01, 0.0), prior) == 0.01


@pytest.mark.parametrize("lag1", [0.0, 0.3, 0.9])
@pytest.mark.parametrize("tau", [0.6, 3.0, CREEP])
def test_a_shape_is_generalised_least_squares(tau: float, lag1: float) -> None:
    # numpy: beta = (X' S^-1 X)^-1 X' S^-1 y with S the covariance of AR(1) noise
    n, stretch = 25, 10
    place = np.arange(n, dtype=float)
    raw = place if math.isinf(tau) else np.exp(-place / tau)
    design = np.column_stack([np.ones(n), raw])
    inverse = np.linalg.inv(lag1 ** np.abs(np.subtract.outer(place, place)))
    covariance = np.linalg.inv(design.T @ inverse @ design)
    weights = (covariance @ design.T @ inverse)[1]
    one = shape(n, stretch, tau, lag1)
    assert np.allclose(one.weights, weights, rtol=1e-6, atol=1e-9)
    assert one.u == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-6)
    part = stretch / 2 if math.isinf(tau) else float(raw[-stretch:].mean())
    assert one.part == pytest.approx(part)


def test_what_stands_out_least_is_nothing_and_a_creep_is_half_its_way() -> None:
    # 20 samples of white noise 0.03: the slope has a deviation of 0.03 / sqrt(20 (400 - 1) / 12)
    one = 0.03 / math.sqrt(665.0)
    for size, seen in ((1.99, False), (2.01, True)):
        values = [18.0 + size * one * i for i in range(20)]
        left, creeps = left_in(values[:10], values[10:], LOOK, 2.0)
        assert (left > 0.0, creeps) == (seen, seen)
    # the size and the doubt about it, over half the stretch
    assert left > (2.01 + DOUBT) * one * 5.0 - 1e-9
    values = [18.0 - 40.0 * one * i for i in range(20)]
    assert left_in(values[:10], values[10:], LOOK, 2.0)[0] == pytest.approx(
        (40.0 + DOUBT) * one * 5.0, rel=0.02
    )


def test_a_quick_tail_is_no_creep() -> None:
    values = [18.0 + 2.0 * math.exp(-i / 1.35) for i in range(20)]
    left, creeps = left_in(values[:10], values[10:], LOOK, 2.0)
    assert not creeps
    assert left < 0.01


def test_fast_samples_are_looked_at_together() -> None:
    rng = random.Random(3)
    slope = [0.0002 * i + rng.gauss(0, 0.001) for i in range(200)]
    fast = left_in(slope[:100], slope[100:], Looking(0.001, 0.0, 100.0, 8), 2.0)
    alone = left_in(slope[:100], slope[100:], Looking(0.001, 0.0, 100.0, 1), 2.0)
    assert fast[1]
    assert alone[1]
    assert fast[0] == pytest.approx(alone[0], rel=0.1)
    # means of eight hang together less than samples do, and scatter more than white ones
    together = left_in(slope[:100], slope[100:], Looking(0.001, 0.9, 100.0, 8), 2.0)
    assert together[0] == pytest.approx(alone[0], rel=0.3)


def test_ragged_is_twice_the_noise_or_three_in_ten_far_off() -> None:
    for spread, is_ragged in ((0.0404, False), (0.0405, True)):
        # 1.4826 times 0.0404 is just under 0.06
        assert ragged([18.0 - spread, 18.0 + spread] * 5, 0.03) is is_ragged
    for off, is_ragged in ((0.134, False), (0.136, True)):
        # beyond 4.5 deviations
        assert ragged([18.0] * 6 + [18.0 + off] * 4, 0.03) is is_ragged
        assert not ragged([18.0] * 7 + [18.0 + off] * 3, 0.03)


def test_noise_that_nobody_knows_is_believed_up_to_a_limit() -> None:
    steps = [18.0, 18.1] * 10
    shown = 1.482602 * 0.1 / math.sqrt(2.0)
    assert shown_noise(steps, Prior(0.03, 0.0, 0)) == pytest.approx(shown, rel=1e-4)
    assert shown_noise(steps, Prior(0.2, 0.0, 0)) == 0.2
    assert shown_noise([18.0, 19.0] * 10, Prior(0.02, 0.0, 0)) == 0.3
    assert shown_noise([18.0, 19.0] * 10, Prior(0.05, 0.0, 0)) == 0.5
    hangs = shown_noise(steps, Prior(0.03, 0.5, 0))
    assert hangs == pytest.approx(1.482602 * 0.1, rel=1e-4)
    assert shown_noise([18.0], Prior(0.03, 0.0, 0)) == 0.03


def test_a_learned_noise_gives_way_only_to_what_both_looks_show() -> None:
    known = Prior(0.03, 0.0, 600)
    # a staircase has steps and no noise about its line; its noise stays as learned
    assert shown_noise([0.2 * i for i in range(20)], known) == 0.03
    # an alternation by d shows 1.0484 d between neighbours and d / 2 about the line
    for d, shown in ((0.048, 0.03), (0.12, 0.0632), (0.3, 0.09)):
        got = shown_noise([18.0, 18.0 + d] * 10, known)
        assert got == pytest.approx(shown, rel=0.005)
    # about the line little enough, between neighbours not
    assert shown_noise([18.0, 18.08] * 10, known) == 0.03


def test_the_calm_ends_after_two_far_neighbours_only() -> None:
    values = [18.0, 18.01, 17.99]
    assert with_calm([30.0, 18.0], values, 0.03) == [18.0, *values]
    assert with_calm([18.0, 30.0], values, 0.03) == [18.0, 30.0, *values]
    assert with_calm([30.0, 30.0, 18.0], values, 0.03) == [18.0, *values]
    assert with_calm([18.0, 30.0, 30.0], values, 0.03) == values
    assert with_calm([], values, 0.03) == values
    for off, belongs in ((0.479, True), (0.481, False)):
        # sixteen deviations
        assert (with_calm([18.0 + off] * 2, values, 0.03) != values) is belongs


def test_lone_spikes_and_pairs_go_to_the_median_about_them() -> None:
    for at in range(2, 12):
        values = [18.0 + 0.01 * (i % 3) for i in range(12)]
        spiked = list(values)
        spiked[at] = 23.0
        assert max(without_spikes(spiked, 0.03)) < 18.1
        if at < 11:
            spiked[at + 1] = 23.0
            assert max(without_spikes(spiked, 0.03)) < 18.1
    assert without_spikes([23.0, 23.0, *[18.0] * 8], 0.03)[:2] == [23.0, 23.0]
    assert without_spikes([18.0, 18.0, 23.0, 18.0], 0.03) == [18.0, 18.0, 23.0, 18.0]
    assert without_spikes([18.0, 18.0, 23.0, 18.0, 18.0], 0.03)[2] == 18.0
    for off, stays in ((0.149, True), (0.151, False)):
        # five deviations
        values = [18.0, 18.0, 18.0 + off, 18.0, 18.0]
        assert (without_spikes(values, 0.03) == values) is stays


def test_thinning_drops_the_oldest() -> None:
    assert thinned([9.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0], 3) == [2.0, 5.0]


@pytest.mark.parametrize("n", [3, 8, 20])
def test_shown_noise_is_what_is_left_of_a_straight_line(n: int) -> None:
    """numpy.polyfit: squares about the line, divided by n - 2, where neighbours differ by more."""
    values = [18.0 + 0.01 * i + 0.02 * (-1) ** i for i in range(n)]
    squares = float(np.polyfit(np.arange(n), values, 1, full=True)[1][0])
    prior = Prior(0.012, 0.0, 600)
    assert shown_noise(values, prior) == pytest.approx(math.sqrt(squares / (n - 2)))
