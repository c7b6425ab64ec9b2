"""The noise of a stream at rest, by hand and against numpy; the variance of a mean of it."""

import math
import random

import numpy as np
import pytest

from daemon.measure.watch.detector import Detector, widening
from daemon.measure.watch.rest import START, Rest, independent
from shared.profile import Noise


def learned(values: list[float], follow: int = 6000, floor: float = 0.0) -> Rest:
    rest = Rest(follow=follow, floor=floor)
    for x in values:
        rest.learn(x)
    return rest


def correlated(lag1: float, n: int, seed: int = 1) -> list[float]:
    rng, x, made = random.Random(seed), 0.0, []
    for _ in range(n):
        x = lag1 * x + math.sqrt(1.0 - lag1 * lag1) * rng.gauss(0.0, 1.0)
        made.append(x)
    return made


def test_samples_are_worth_less_the_more_they_repeat_each_other() -> None:
    """First-order autoregressive noise: n (1 - r) / (1 + r), as in any text on time series."""
    assert independent(90.0, 0.0) == 90.0
    assert independent(90.0, 0.5) == pytest.approx(30.0)
    assert widening(0.5) == 6.0, "fewer than one sample is one"
    assert widening(50.0) == pytest.approx(1.1)


def test_nothing_learned_is_the_floor() -> None:
    assert (Rest(floor=0.5).sd, Rest().sd, Rest().lag1) == (0.5, 0.0, 0.0)
    assert learned([3.0], floor=0.1).sd == 0.1
    assert learned([3.0, 5.0]).sd == pytest.approx(math.sqrt(2.0))


def test_a_known_noise_is_not_learned_but_its_mean_is() -> None:
    rest = Rest(floor=0.02, known=(0.03, 0.4))
    for x in (5.0, 7.0):
        rest.learn(x)
    assert (rest.sd, rest.lag1, rest.mean) == (0.03, 0.4, 6.0)
    assert Rest(floor=0.02, known=(0.01, 0.0)).sd == 0.02, "not below the floor"


def test_old_samples_fade_after_so_many() -> None:
    rest = learned([0.0] * 10, follow=10)
    rest.learn(10.0)
    assert (rest.n, rest.mean_n) == (10, 10)
    assert rest.mean == pytest.approx(1.0)
    assert rest.sd == pytest.approx(math.sqrt(0.1 * 0.9 * 100.0 * 10.0 / 9.0))


def test_a_stream_that_moved_counts_its_mean_anew() -> None:
    rest = learned([1.0, -1.0] * 50, follow=100)
    sd = rest.sd
    rest.recentre(5.0, 20)
    assert (rest.mean, rest.mean_n, rest.n, rest.sd) == (5.0, 20, 100, sd)
    rest.learn(26.0)
    assert rest.mean == pytest.approx(6.0)
    rest.recentre(5.0, 200)
    assert rest.mean_n == 100, "no more than are followed"


def test_the_step_to_another_place_is_no_autocorrelation() -> None:
    rest = learned(correlated(0.0, 200))
    before = rest.lag1
    rest.learn(50.0)
    rest.recentre(50.0, 20)
    rest.learn(49.0)
    assert before == rest.lag1 == 0.0


@pytest.mark.parametrize("lag1", [0.5, 0.8, 0.95])
def test_autocorrelation_is_the_estimate_corrected_for_its_bias(lag1: float) -> None:
    """Marriott and Pope, Biometrika 41, 1954 (from memory): low by (1 + 3 r) / n."""
    n = 60
    raised, plain = [], []
    for seed in range(200):
        values = correlated(lag1, n, seed)
        off = np.array(values) - np.mean(values)
        r = float((off[1:] * off[:-1]).sum() / (off * off).sum())
        raised.append(learned(values).lag1)
        plain.append(r)
    assert abs(np.mean(raised) - lag1) < abs(np.mean(plain) - lag1)
    assert max(raised) <= 0.98


def test_autocorrelation_is_none_where_it_is_unclear() -> None:
    values = correlated(0.9, START)
    assert learned(values[:-1]).lag1 == 0.0, "under thirty samples"
    assert learned(values).lag1 > 0.5
    assert learned([1.0] * 100).lag1 == 0.0, "no noise, no correlation"
    assert learned([1.0, -1.0] * 50).lag1 == 0.0, "an opposite one is taken as none"
    white = [learned(correlated(0.0, 100, seed)).lag1 for seed in range(200)]
    assert sum(lag1 > 0.0 for lag1 in white) <= 12, "two standard errors: 2.3 in a hundred"
    assert all(lag1 == 0.0 or lag1 >= 0.2 for lag1 in white)


@pytest.mark.parametrize(("sd", "coarse"), [(0.0499, True), (0.05, True), (0.0501, False)])
def test_a_resolution_coarse_against_the_noise_is_not_averaged_away(
    sd: float, coarse: bool
) -> None:
    """JCGM 100, F.2.2.1: a rectangular distribution of one resolution has r² / 12."""
    found = Rest(known=(sd, 0.0)).mean_variance(100, 0.1)
    assert found == pytest.approx(sd * sd / 100.0 + (0.01 / 12.0 if coarse else 0.0))


def test_a_mean_of_correlated_samples_is_worth_fewer_and_never_less_than_one() -> None:
    assert Rest(known=(1.0, 0.5)).mean_variance(30, 0.0) == pytest.approx(0.1)
    assert Rest(known=(1.0, 0.98)).mean_variance(10, 0.0) == pytest.approx(1.0)


# --- the detector's scale -----------------------------------------------------------------------


def first_signal(detector: Detector, x: float) -> int:
    """Push a constant until it signals; the first member's sums tell the scale."""
    return next(k for k in range(1, 10_000) if detector.push(x))


def test_a_noise_learned_from_few_samples_widens_the_limits() -> None:
    """Of a known noise the samples count it was learned from, however many come in."""
    sure = Detector(noise=Noise(sd_deg=1.0, n=10**9), mean=0.0)
    unsure = Detector(noise=Noise(sd_deg=1.0, n=20), mean=0.0)
    wider = Detector(noise=Noise(sd_deg=widening(20), n=10**9), mean=0.0)
    found = [first_signal(one, 0.6) for one in (sure, unsure, wider)]
    assert found[0] < found[1] == found[2]


def test_a_noise_of_no_samples_is_learned() -> None:
    detector = Detector(noise=Noise(sd_deg=5.0, n=0))
    assert detector.rest.known is None
    assert Detector(noise=Noise(sd_deg=5.0, lag1=0.3, n=1)).rest.known == (5.0, 0.3)


def test_the_first_sample_after_a_change_of_place_has_none_before_it() -> None:
    """White or not, a first sample is judged by the whole spread; the next by what is new."""
    lag1 = 0.9
    detector = Detector(noise=Noise(sd_deg=1.0, lag1=lag1, n=10**9), mean=0.0, run_length=500.0)
    # The largest member: k = 2 and a limit of (6.42 - 1.4) / 4 about it, both in deviations.
    assert not detector.push(3.2)
    detector = Detector(noise=Noise(sd_deg=1.0, lag1=lag1, n=10**9), mean=0.0, run_length=500.0)
    assert detector.push(3.3)
    detector = Detector(noise=Noise(sd_deg=1.0, lag1=lag1, n=10**9), mean=0.0, run_length=500.0)
    detector.push(0.0)
    assert detector.push(1.45), "3.3 deviations of the new part, which is √(1 - r²) of the whole"
    assert detector.since == 1


def test_a_signalling_sample_is_not_learned() -> None:
    detector = Detector()
    for k in range(100):
        detector.push(float(k % 2))
    n, mean = detector.rest.n, detector.rest.mean
    assert detector.push(50.0)
    assert (detector.rest.n, detector.rest.mean) == (n, mean)
