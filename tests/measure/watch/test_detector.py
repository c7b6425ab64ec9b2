"""The detector, against published charts and run lengths, and against its own promises."""

import itertools
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.detectors import (
    OPTIMAL,
    Twin,
    TwinCusums,
    conditional_median,
    delays,
    one_sided_arl,
    optimal_delays,
    run_length,
    shipped_delays,
    shipped_run_length,
    two_sided_arl,
)
from daemon.measure.watch.cusums import (
    FAVOUR,
    LOG_LIKELIHOOD,
    SIZES,
    Cusums,
    log_likelihood_limit,
    mixture,
)
from daemon.measure.watch.detector import Detector, widening
from daemon.measure.watch.rest import START, Rest, independent
from shared.profile import Noise

# --- published charts ----------------------------------------------------------------------


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(("z", "signals"), [(1.5, False), (1.5625, True)])
def test_a_sum_signals_beyond_its_limit_and_not_on_it(z: float, signals: bool, sign: float) -> None:
    """As in NIST/SEMATECH 6.3.2.3: S is out of control where it is larger than h."""
    assert Cusums([0.5], [1.0]).push(sign * z) == signals


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_sum_of_nothing_has_not_begun(sign: float) -> None:
    chart = Cusums([0.5], [1.0])
    assert not chart.push(sign * 0.5)
    assert chart.push(sign * 2.0)
    assert chart.since == 1


def test_nist_worked_cusum() -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (data from memory)."""
    data = (
        "324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600 "
        "324.625 325.150 328.325 327.250 327.825 328.500 326.675 327.775 326.875 328.350"
    )
    chart = Cusums([0.3175], [4.1959])
    sums, signals = [], []
    for place, x in enumerate(data.split(), start=1):
        if chart.push(float(x) - 325.0):
            signals.append(place)
        sums.append(chart.high[0])
    expected = [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    assert sums[12:] == pytest.approx(expected, abs=1e-9)
    assert signals[0] == 14
    assert chart.low[0] == 0.0, "it is the high side that signals"


# Average run lengths of the CUSUM with k = 0.5 (Montgomery's and Lucas and Crosier's published
# tables to two places; three places recomputed with two solvers outside the project).
SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
ARL_4 = (167.684, 74.224, 26.630, 13.285, 8.383, 4.747, 3.343, 2.620, 2.194, 1.708, 1.309)
ARL_5 = (465.4435, 139.494, 37.996, 17.048, 10.376, 5.747, 4.009, 3.114, 2.573, 2.013, 1.694)


@pytest.mark.parametrize(("h", "table"), [(4.0, ARL_4), (5.0, ARL_5)])
def test_the_solver_gives_the_published_run_lengths(h: float, table: tuple[float, ...]) -> None:
    found = [two_sided_arl(0.5, h, shift) for shift in SHIFTS]
    assert found == pytest.approx(table, rel=1e-4, abs=6e-4)
    assert one_sided_arl(0.5, 3.0) == pytest.approx(117.5957, rel=1e-5)
    assert one_sided_arl(0.5, 3.0, 1.5) == pytest.approx(3.749108, rel=1e-5)


@pytest.mark.parametrize(
    ("h", "shift", "published"),
    [(h, s, a) for h, t in ((4.0, ARL_4), (5.0, ARL_5)) for s, a in zip(SHIFTS, t, strict=True)],
)
def test_the_shipped_cusum_has_the_published_run_lengths(
    h: float, shift: float, published: float
) -> None:
    """A run length's standard deviation is about its mean: four standard errors are allowed."""
    runs = 200
    found = shipped_run_length(0.5, h, shift, runs, seed=int(100 * h + 10 * shift))
    assert found == pytest.approx(published, rel=4.0 / math.sqrt(runs))


def test_the_vectorised_cusum_has_the_published_run_length() -> None:
    rng = np.random.default_rng(4)
    twin, alarms, steps, streams = TwinCusums([0.5], [5.0], 1000), 0, 3000, 1000
    for _ in range(steps):
        found = twin.push(rng.standard_normal(streams))
        alarms += int(found.sum())
        twin.reset(found)
    assert steps * streams / alarms == pytest.approx(465.44, rel=4.0 / math.sqrt(alarms))


# --- the shipped code and its twin are one ---------------------------------------------------


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), lag1=st.sampled_from([0.0, 0.4, 0.8]), shift=st.floats(0, 3))
def test_detector_and_twin_agree_sample_by_sample(seed: int, lag1: float, shift: float) -> None:
    rng = np.random.default_rng(seed)
    streams, steps = 3, 300
    shipped = [Detector(run_length=1000.0) for _ in range(streams)]
    twin = Twin(1000.0, streams)
    x = np.zeros(streams)
    alive = np.ones(streams, dtype=bool)
    for step in range(steps):
        x = lag1 * x + math.sqrt(1 - lag1**2) * rng.standard_normal(streams)
        sample = 15.0 + x + (shift if step > 200 else 0.0)
        found = twin.push(sample)
        for place in range(streams):
            one = shipped[place].push(float(sample[place]))
            if alive[place]:
                assert one == bool(found[place]), (step, place)
        # After a signal ages differ by the sample not learned; the twin keeps them equal.
        alive &= ~found
    for place in range(streams):
        if alive[place]:
            assert shipped[place].rest.mean == pytest.approx(float(twin.mean[place]), rel=1e-12)
            sd = math.sqrt(twin.variance[place] * twin.n / (twin.n - 1))
            assert shipped[place].rest.sd == pytest.approx(sd, rel=1e-9)


@settings(max_examples=50, deadline=None)
@given(z=st.lists(st.floats(-6, 6), min_size=1, max_size=80))
def test_the_mixture_is_five_charts_side_by_side(z: list[float]) -> None:
    both, limit = mixture(5000.0), log_likelihood_limit(5000.0)
    alone = [
        Cusums([size / 2], [(limit - favour) / size])
        for size, favour in zip(SIZES, FAVOUR, strict=True)
    ]
    for x in z:
        signals = [chart.push(x) for chart in alone]
        assert both.push(x) == any(signals)
    assert both.high == [chart.high[0] for chart in alone]


@settings(max_examples=50, deadline=None)
@given(z=st.lists(st.floats(-6, 6), min_size=1, max_size=80))
def test_a_mirrored_stream_signals_on_the_other_side(z: list[float]) -> None:
    one, other = mixture(1000.0), mixture(1000.0)
    for x in z:
        assert one.push(x) == other.push(-x)
        assert one.high == other.low
        assert one.since == other.since
        if one.since:
            break


# --- what is promised ------------------------------------------------------------------------


@pytest.mark.parametrize("nominal", [500, 1_000, 2_000, 5_000])
def test_the_limit_gives_the_run_length_it_is_asked_for(nominal: int) -> None:
    found, alarms = run_length(nominal, 1000, nominal, seed=nominal)
    assert alarms > 300
    assert found == pytest.approx(nominal, rel=0.03 + 3.0 / math.sqrt(alarms))


@pytest.mark.parametrize("baseline", [0, 600])
@pytest.mark.parametrize("nominal", [5_000, 36_000])
@pytest.mark.parametrize("shift", [1.0, 2.0, 3.0, 4.0])
def test_the_delay_is_near_the_optimal_one(nominal: int, shift: float, baseline: int) -> None:
    """Optimal: zero-state delay of the CUSUM made for the shift (Moustakides 1986)."""
    best = OPTIMAL[nominal][shift]
    optimal = optimal_delays(nominal, shift, 3000, seed=1)
    assert optimal.mean() == pytest.approx(best, rel=0.05)
    found = delays(nominal, shift, 2000, seed=2, baseline=baseline)
    assert found.mean() < 1.3 * best
    assert np.median(found) <= 1.3 * np.median(optimal)


@pytest.mark.parametrize("shift", [1.0, 2.0, 3.0, 4.0])
def test_the_shipped_detector_is_as_quick_as_its_twin(shift: float) -> None:
    known = shipped_delays(shift, 400, seed=3)
    twin = delays(5_000, shift, 10_000, seed=4)
    assert known.mean() == pytest.approx(twin.mean(), abs=4.0 * twin.std() / math.sqrt(400))


def test_thirty_samples_unpaid_alarm_far_too_often_and_paid_do_not() -> None:
    assert conditional_median(1_000, 30, seed=5, widened=False) < 450
    assert conditional_median(1_000, 30, seed=5) > 0.9 * 1_000


def test_widening_is_stated_and_ends() -> None:
    assert widening(30) == pytest.approx(1.1667, abs=1e-4)
    assert widening(600) < 1.01
    assert widening(30) > widening(60) > widening(600) > 1.0


def test_log_likelihood_limit_rises_and_goes_on_as_the_logarithm() -> None:
    assert [log_likelihood_limit(length) for length, _ in LOG_LIKELIHOOD] == pytest.approx(
        [limit for _, limit in LOG_LIKELIHOOD]
    )
    top, limit = LOG_LIKELIHOOD[-1]
    assert log_likelihood_limit(top * math.e) == pytest.approx(limit + 1.0)
    assert log_likelihood_limit(200.0) < LOG_LIKELIHOOD[0][1]
    assert log_likelihood_limit(100.0) > 0.0
    for bad in (99.9, math.nan):
        with pytest.raises(ValueError, match="run length"):
            log_likelihood_limit(bad)


def test_from_row_to_row_the_limit_rises_about_as_the_logarithm() -> None:
    """A CUSUM's run length grows as the exponential of its limit (Siegmund 1985, from memory)."""
    for (a, low), (b, high) in itertools.pairwise(LOG_LIKELIHOOD):
        assert 0.95 < (high - low) / math.log(b / a) < 1.2


def test_between_two_run_lengths_the_limit_goes_with_their_logarithm() -> None:
    """Against numpy.interp; under the table it falls as the logarithm itself."""
    lengths, limits = np.log([one for one, _ in LOG_LIKELIHOOD]), [one for _, one in LOG_LIKELIHOOD]
    for at in np.linspace(lengths[0], lengths[-1], 200):
        expected = np.interp(at, lengths, limits)
        assert log_likelihood_limit(math.exp(at)) == pytest.approx(expected)
    shortest, limit = LOG_LIKELIHOOD[0]
    assert log_likelihood_limit(shortest / math.e) == pytest.approx(limit - 1.0)


def test_a_first_sample_that_signals_began_with_itself() -> None:
    chart = Cusums([0.5], [1.0])
    for _ in range(2):
        assert chart.push(2.0)
        assert chart.since == 1
        chart.reset()


def test_a_chart_without_members_is_refused() -> None:
    with pytest.raises(ValueError, match="limit"):
        Cusums([], [])


def test_the_onset_is_told_after_a_signal() -> None:
    rng = random.Random(3)
    off = []
    for _ in range(200):
        detector = Detector(noise=Noise(sd_deg=1.0, n=10**9), mean=0.0)
        for _ in range(100):
            detector.push(rng.gauss(0.0, 1.0))
        age = 1
        while not detector.push(rng.gauss(2.0, 1.0)):
            age += 1
        off.append(detector.since - age)
    assert abs(sorted(off)[100]) <= 2


# --- noise learned ---------------------------------------------------------------------------


@pytest.mark.parametrize("lag1", [0.0, 0.5, 0.9])
def test_rest_learns_mean_spread_and_autocorrelation(lag1: float) -> None:
    rng = np.random.default_rng(6)
    rest, x = Rest(), 0.0
    for _ in range(6000):
        x = lag1 * x + math.sqrt(1 - lag1**2) * rng.standard_normal()
        rest.learn(12.0 + 0.03 * x)
    error = 0.03 / math.sqrt(independent(6000, lag1))
    assert rest.mean == pytest.approx(12.0, abs=4 * error)
    assert rest.sd == pytest.approx(0.03, rel=0.12)
    assert rest.lag1 == pytest.approx(lag1, abs=0.05)


@settings(max_examples=50, deadline=None)
@given(x=st.lists(st.floats(-50, 50), min_size=2, max_size=60))
def test_rest_is_the_plain_mean_and_deviation_until_it_fades(x: list[float]) -> None:
    rest = Rest()
    for value in x:
        rest.learn(value)
    assert rest.mean == pytest.approx(np.mean(x), abs=1e-9)
    assert rest.sd == pytest.approx(np.std(x, ddof=1), abs=1e-6)


def test_where_the_stream_stands_does_not_matter() -> None:
    rng = random.Random(10)
    stream = [rng.gauss(0.0, 1.0) for _ in range(120)]
    near, far = Rest(), Rest()
    for x in stream:
        near.learn(x)
        far.learn(x + 1000.0)
        assert far.sd == pytest.approx(near.sd, abs=1e-9)
        assert far.lag1 == pytest.approx(near.lag1, abs=0.03)


def test_a_constant_stream_is_not_perfect() -> None:
    detector = Detector(floor=0.005)
    for _ in range(100):
        assert not detector.push(10.0)
    assert detector.rest.sd == 0.005
    assert not detector.push(10.01)


def test_autocorrelated_noise_keeps_its_run_length() -> None:
    rng = np.random.default_rng(7)
    lag1, alarms, samples = 0.8, 0, 60_000
    detector = Detector(run_length=1000.0, noise=Noise(sd_deg=1.0, lag1=lag1, n=10**6))
    x = 0.0
    for e in rng.standard_normal(samples).tolist():
        x = lag1 * x + math.sqrt(1 - lag1**2) * e
        if detector.push(x):
            alarms += 1
            detector.recentre(0.0, 6000)
    assert alarms < 1.5 * samples / 1000


def test_slow_drift_is_followed_and_a_step_is_not() -> None:
    rng = random.Random(8)
    detector = Detector(run_length=36_000.0, follow=300)
    alarms = 0
    for k in range(6000):
        if detector.push(10.0 + 1e-5 * k + rng.gauss(0.0, 0.03)):
            alarms += 1
            detector.recentre(10.0 + 1e-5 * k, 20)
    assert alarms <= 1
    assert any(detector.push(10.16 + rng.gauss(0.0, 0.03)) for _ in range(10))


def test_nothing_is_judged_before_the_start() -> None:
    detector = Detector()
    for k in range(START):
        assert not detector.push(1000.0 * (k == START - 1)), "not even the last of them"
    calm = Detector()
    for k in range(START):
        calm.push(float(k % 2))
    assert calm.push(1000.0), "the first after them"


@pytest.mark.parametrize(("then", "signals"), [(5.0, False), (-5.0, True)])
def test_the_first_sample_judged_is_held_against_the_one_before(then: float, signals: bool) -> None:
    """Of noise that hangs together a second sample as far off is likely, one as far across is not."""
    detector = Detector(noise=Noise(sd_deg=1.0, lag1=0.5, n=10**6))
    for k in range(START):
        assert not detector.push(5.0 if k == START - 1 else 0.0)
    assert detector.push(then) is signals


def test_a_level_that_moved_keeps_its_noise() -> None:
    rng = random.Random(9)
    detector = Detector()
    for _ in range(600):
        detector.push(rng.gauss(0.0, 0.03))
    before = detector.rest.sd
    detector.recentre(5.0, 20)
    assert detector.rest.sd == before
    assert not any(detector.push(5.0 + rng.gauss(0.0, 0.03)) for _ in range(200))
