"""Tails and creeps, in small seeded numbers; the large ones are in benchmarks/stillness.py."""

import math
import random

import pytest

from benchmarks.stillness import captured, carried, case, rocking, tail, turning
from daemon.measure.stream.average import Prior
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.stillness import (
    CREEP,
    Looking,
    left_in,
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
