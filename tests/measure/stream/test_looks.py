"""Looks at the newest second: on the move, still, or wandering."""

import random

import pytest

from daemon.measure.stream.average import Prior, prior_of
from daemon.measure.stream.looks import Looks
from daemon.measure.stream.pace import pace_of
from daemon.measure.stream.stretch import Stretch
from daemon.measure.stream.tilts import Tilt
from tests.measure.levels import profile
from tests.measure.stream.test_average import ar1

KNOWN = Prior(0.03, 0.1, 600, 0.0, 0.03)
GUESSED = Prior(0.03, 0.1, 0, 0.0, 0.03)


def looks(values: list[float], prior: Prior = KNOWN, may_leave: float = 0.0) -> Looks:
    stretch = Stretch(circular=True)
    stretch.keep(1000)
    for value in values:
        stretch.push(Tilt(value, None, None))
    return Looks(stretch, prior, pace_of(10.0), may_leave)


def creep(n: int, per_sample: float) -> list[float]:
    rng = random.Random(4)
    return [18.0 + per_sample * i + rng.gauss(0, 0.005) for i in range(n)]


def test_what_is_known_of_the_noise_is_used_and_else_what_is_seen() -> None:
    rng = random.Random(1)
    shaken = [18.0 + rng.gauss(0, 0.2) for _ in range(20)]
    calm = [18.0 + 0.001 * (i % 2) for i in range(10)]
    assert looks([*shaken, *calm]).noise() == 0.03
    # three seconds where it was never learned: the shaken two are among them
    assert looks([*shaken, *calm], GUESSED).noise() > 0.06
    assert looks([*shaken, *calm, *calm, *calm], GUESSED).noise() == 0.03


def test_swept_is_four_deviations_from_end_to_end_or_three_of_spread() -> None:
    it = looks([18.0] * 30)
    for rise, moves in ((0.119, False), (0.121, True)):
        up = 18.0 + rise
        assert it.swept([18.0] * 8 + [up] * 2, 0.03) is moves
        assert it.swept([18.0] * 7 + [up] * 3, 0.03) is moves
        assert not it.swept([18.0] * 9 + [up], 0.03)
        assert not it.swept([18.0] * 5 + [up] * 5, 0.03)
    for spread, moves in ((0.06, False), (0.062, True)):
        # 1.4826 times the median off the middle
        low, high = 18.0 - spread, 18.0 + spread
        assert it.swept([low, high, 18.0, high, low], 0.03) is moves
        assert not it.swept([18.0, high, 18.0, low, 18.0], 0.03)
    it.pace = pace_of(40.0)
    assert it.swept([17.0] * 3 + [18.0] * 17, 0.03)
    assert not it.swept([17.0] * 3 + [18.0] * 20, 0.03)


def test_a_still_second_is_a_second_and_a_creep_is_none() -> None:
    rng = random.Random(2)
    still = [18.0 + rng.gauss(0, 0.02) for _ in range(30)]
    it = looks(still)
    assert it.still_size(still[-10:], 0.03) == 10
    assert not it.creeps
    moving = creep(30, 0.01)
    it = looks(moving)
    assert it.still_size(moving[-10:], 0.03) == 0
    assert it.creeps


def test_what_was_never_learned_may_be_still_over_three_seconds() -> None:
    """Noise that wanders looks like a creep in one second."""
    found = set()
    for seed in range(40):
        rng = random.Random(seed)
        values = [18.0 + x for x in ar1(rng, 60, 0.03, 0.9)]
        it = looks(values, GUESSED)
        size = it.still_size(values[-10:], it.noise())
        found.add(size)
        it = looks(values[-29:], GUESSED)
        assert it.still_size(values[-10:], it.noise()) in {0, 10}
        it = looks(values, Prior(0.03, 0.1, 600, 0.0, 0.03))
        assert it.still_size(values[-10:], it.noise()) in {0, 10}
    assert found == {0, 10, 30}


def test_a_ragged_stretch_is_not_still_and_says_nothing_of_a_creep() -> None:
    ragged = [18.0, 18.3, 17.7, 18.2, 17.8] * 6
    it = looks(ragged)
    it.creeps = True
    assert it.still_size(ragged[-10:], 0.03) == 0
    assert it.creeps


def test_what_is_little_enough_is_nothing() -> None:
    values = creep(30, 0.005)
    left = looks(values).left_in(values[-10:], 0.005, 0.0, 2.0)
    assert left > 0.01
    assert looks(values, may_leave=left).left_in(values[-10:], 0.005, 0.0, 2.0) == 0.0
    less = left - 1e-9
    assert looks(values, may_leave=less).left_in(values[-10:], 0.005, 0.0, 2.0) == left


def test_a_wary_look_sees_more() -> None:
    def seen(slope: float, *, wary: bool, limit: float) -> bool:
        values = [18.0 + slope * i for i in range(30)]
        it = looks(values)
        it.wary = wary
        return it.left_in(values[-10:], 0.03, 0.0, limit) > 0.0

    # the slope of 30 values with white noise of 0.03 has a deviation of 0.03 / sqrt(2247.5)
    one = 0.03 / 2247.5**0.5
    assert seen(2.1 * one, wary=False, limit=2.0)
    assert not seen(1.9 * one, wary=False, limit=2.0)
    assert seen(1.9 * one, wary=True, limit=2.0)
    assert seen(1.45 * one, wary=True, limit=3.0)
    assert not seen(1.35 * one, wary=True, limit=2.0)


def test_the_calm_before_is_two_seconds() -> None:
    # a creep over five seconds: three of them are looked at, the stretch and two before
    one = 0.03 / 2247.5**0.5
    values = [18.0 + 1.9 * one * i for i in range(50)]
    assert looks(values).left_in(values[-10:], 0.03, 0.0, 2.0) == 0.0


def test_autocorrelation_is_the_learned_one_or_that_of_what_is_no_line() -> None:
    rng = random.Random(6)
    flat = ar1(rng, 60, 0.03, 0.5)
    assert looks(flat).lag1(flat) == KNOWN.lag1
    sloped = [x + 0.1 * i for i, x in enumerate(flat)]
    found = looks(flat, GUESSED).lag1(sloped)
    assert found == pytest.approx(looks(flat, GUESSED).lag1(flat), abs=0.1)
    assert 0.3 < found < 0.9
    assert looks(flat, prior_of(profile())).lag1(flat) > 0.3
