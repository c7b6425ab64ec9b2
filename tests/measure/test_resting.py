"""A level left alone: when it is enough, what moving does, and what is said of its noise."""

import random

import pytest

from daemon.measure.proving.checks import noise_found
from daemon.measure.proving.resting import FEWEST, LEAST_S, STRETCH, Resting
from daemon.measure.stream.facts import Fact, InHand, Sampled, Still
from daemon.measure.stream.tilts import Tilt
from daemon.session.learned import ENOUGH_NOISE
from shared.profile import Noise
from tests.measure.levels import profile as profile_of
from tests.measure.levels import reading


class Left:
    """A level left alone, on data time."""

    def __init__(self, rate_hz: float, seed: int = 1) -> None:
        self.resting = Resting(profile_of())
        self.now_s = 0.0
        self._rate_hz = rate_hz
        self._random = random.Random(seed)
        self.resting.begin(0.0)

    def lies(self, samples: int, sd: float = 0.05) -> None:
        for _ in range(samples):
            self.now_s += 1.0 / self._rate_hz
            shows = round(3.0 + self._random.gauss(0.0, sd), 2)
            facts: list[Fact] = [
                Sampled("a", Tilt(shows, None, None)),
                Still("a", 1, turned=False, reading=reading(shows)),
            ]
            self.resting.take(self.now_s, facts, self._rate_hz)


@pytest.mark.parametrize(("rate_hz", "wanted"), [(5.0, FEWEST), (50.0, int(50 * LEAST_S))])
def test_so_many_samples_and_seconds_are_wanted(rate_hz: float, wanted: int) -> None:
    left = Left(rate_hz)
    left.lies(wanted - 25)
    assert not left.resting.done
    assert "leave it alone" in left.resting.waiting(left.now_s, "still", 0.0)
    left.lies(60)
    assert left.resting.done


def test_the_noise_that_is_there_is_found() -> None:
    left = Left(10.0)
    left.lies(400)
    noise = left.resting.noise()
    assert noise is not None
    # a standard deviation from 400 values: 0.05 +- 3 * 0.05 / sqrt(800)
    assert noise.sd_deg == pytest.approx(0.05, abs=0.0054)
    assert noise.lag1 < 0.2
    found = noise_found(noise, 10.0, profile_of())
    assert found.good
    assert found.noise == noise


def test_what_comes_while_it_is_in_a_hand_does_not_count() -> None:
    left = Left(10.0)
    left.lies(100)
    left.resting.take(left.now_s, [InHand("a")], 10.0)
    for shows in (30.0, -20.0, 50.0, 10.0) * 40:
        left.now_s += 0.1
        left.resting.take(left.now_s, [Sampled("a", Tilt(shows, None, None))], 10.0)
    assert not left.resting.done
    left.lies(200)
    noise = left.resting.noise()
    assert noise is not None
    assert noise.sd_deg < 0.07


def test_a_level_that_never_lay_still_is_not_said_to_have_a_noise() -> None:
    found = noise_found(Left(10.0).resting.noise(), 10.0, profile_of())
    assert not found.good
    assert found.noise is None


def test_a_step_that_hides_the_scatter_is_said() -> None:
    found = noise_found(Noise(sd_deg=0.001, n=200), 10.0, profile_of(resolution_deg=0.1))
    assert "its step of 0.1 degrees hides" in found.lines[-1]
    assert "smooths by itself" in noise_found(Noise(lag1=0.8, n=200), 10.0, profile_of()).lines[-1]


def test_it_is_enough_as_soon_as_a_session_may_use_it() -> None:
    left = Left(5.0)
    while not left.resting.done:
        left.lies(1)
    noise = left.resting.noise()
    assert noise is not None
    assert noise.n - STRETCH < ENOUGH_NOISE <= noise.n


@pytest.mark.parametrize(("samples", "share"), [(125, "25 %"), (250, "50 %"), (375, "75 %")])
def test_of_a_quick_level_ten_seconds_are_wanted(samples: int, share: str) -> None:
    left = Left(50.0)
    left.lies(1 + samples)
    assert share in left.resting.waiting(left.now_s, "still", 0.0)


def test_what_is_waited_for_is_said_again_after_twenty_seconds() -> None:
    resting = Resting(profile_of())
    resting.begin(5.0)
    said = [second for second in range(5, 66) if resting.waiting(float(second), "moving", 0.0)]
    assert said == [25, 45, 65]


def test_how_far_it_is_counts_the_samples_that_are_wanted() -> None:
    left = Left(5.0)
    left.lies(51)
    assert left.resting.waiting(left.now_s, "still", 0.0).startswith("listening, 40 %")
    left.lies(25)
    assert left.resting.waiting(left.now_s, "still", 0.0).startswith("listening, 60 %")


@pytest.mark.parametrize(("lag1", "said"), [(0.5, False), (0.51, True)])
def test_neighbours_that_hang_together_by_more_than_half_are_named(lag1: float, said: bool) -> None:
    lines = noise_found(Noise(lag1=lag1, n=200), 10.0, profile_of()).lines
    assert any("smooths by itself" in line for line in lines) is said


@pytest.mark.parametrize(("sd_deg", "said"), [(0.15, False), (0.149, True)])
def test_a_step_over_three_times_the_noise_hides_it(sd_deg: float, said: bool) -> None:
    found = noise_found(Noise(sd_deg=sd_deg, n=200), 10.0, profile_of(resolution_deg=0.5))
    assert any("its step of 0.5 degrees hides" in line for line in found.lines) is said
