"""The odds, against scipy's multivariate normal: every covariance written out."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from daemon.measure.moved.model import ASKEW_PRIOR, UNSEATED_PRIOR, Change, Terms
from daemon.measure.moved.odds import (
    Seen,
    believed,
    fixed_variance,
    odds,
    own_variance,
    weigh,
)
from shared.events import REFERENCE
from shared.job import Thresholds

PRIORS = {"prior_shift": 0.05, "shift_sd": 1.0, "move_sd": 1.0}


@settings(max_examples=40, deadline=None)
@given(
    d=st.lists(st.floats(-0.5, 0.5), min_size=3, max_size=5),
    since=st.permutations([0, 1, 2, 3]),
    common=st.floats(0.0, 0.2),
)
def test_an_early_shift_equals_the_enumeration_with_whole_matrices(
    d: list[float], since: list[int], common: float
) -> None:
    """The shift is in the covariance of those only whose baselines are older than it."""
    n = len(d) - 1
    ages = [sorted(since[:n]).index(one) for one in since[:n]] + [0]
    variances = [0.004 + 0.001 * place for place in range(n + 1)]
    seen = [
        Seen(d[k], variances[k], common, 0.05 if k < n else 0.0, since=ages[k])
        for k in range(n + 1)
    ]
    found = odds(seen, prior_shift=0.05, shift_sd=1.0, move_sd=1.0)
    oldest = max(ages) + 1
    times = [(0, 0.95)] + [(k, 0.05 / (oldest - 1)) for k in range(1, oldest)] + [(oldest, 0.05)]
    weights, moved, shifted = [], [], []
    for mask in itertools.product([0, 1], repeat=n):
        for time, prior in times:
            h = np.array([float(age < time) for age in ages])
            full = np.diag(variances) + np.diag([*mask, 0.0]) + common**2 + np.outer(h, h)
            log = stats.multivariate_normal(cov=full).logpdf(d)
            log += sum(math.log(0.05 if bit else 0.95) for bit in mask) + math.log(prior)
            weights.append(log)
            moved.append(mask)
            shifted.append(time > 0)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    assert found.shifted == pytest.approx(float(weight @ np.array(shifted)), abs=1e-9)
    assert found.moved[:n] == pytest.approx(weight @ np.array(moved), abs=1e-9)
    late = np.array(shifted)
    alone = (weight[~late] / weight[~late].sum()) @ np.array(moved)[~late]
    assert found.unshifted == pytest.approx([*alone, 0.0], abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    d=st.lists(st.floats(-0.5, 0.5), min_size=3, max_size=5),
    askew=st.sampled_from([0.0, 0.1, 0.3]),
    unseated=st.sampled_from([0.0, 0.1, 0.3]),
)
def test_an_azimuth_or_a_seating_worse_than_believed_equals_whole_matrices(
    d: list[float], askew: float, unseated: float
) -> None:
    """Every variance is larger then; of an azimuth not the reference's; moved or not, shifted or not."""
    n = len(d) - 1
    variances = [0.004 + 0.001 * place for place in range(n + 1)]
    of_azimuth, of_seating = [askew**2] * n + [0.0], [unseated**2] * (n + 1)
    seen = [
        Seen(
            d[k],
            variances[k],
            0.0,
            0.05 if k < n else 0.0,
            askew=of_azimuth[k],
            unseated=of_seating[k],
        )
        for k in range(n + 1)
    ]
    found = odds(seen, **PRIORS)
    worlds = [(ASKEW_PRIOR, of_azimuth, 1)] if askew else []
    worlds += [(UNSEATED_PRIOR, of_seating, 0)] if unseated else []
    worlds += [(1.0 - sum(prior for prior, _, _ in worlds), [0.0] * (n + 1), 0)]
    weights, every = [], []
    for mask in itertools.product([0, 1], repeat=n):
        for shift, (world, more, worse) in itertools.product((0, 1), worlds):
            wide = np.array(variances) + np.array(more)
            full = np.diag(wide) + np.diag([*mask, 0.0]) + shift
            log = stats.multivariate_normal(cov=full).logpdf(d)
            log += sum(math.log(0.05 if bit else 0.95) for bit in mask)
            log += math.log(0.05 if shift else 0.95)
            weights.append(log + math.log(world))
            every.append([*mask, shift, worse])
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    assert [*found.moved[:n], found.shifted, found.askew] == pytest.approx(
        weight @ np.array(every), abs=1e-9
    )


def test_where_azimuth_and_seating_hardly_matter_they_are_not_weighed() -> None:
    plain = [Seen(0.4, 0.004, 0.0, 0.05), Seen(0.1, 0.004, 0.0, 0.0)]
    small = [replace(one, askew=0.004, unseated=0.004) for one in plain]  # doubles, and no more
    assert odds(small, **PRIORS) == odds(plain, **PRIORS)
    assert odds(plain, **PRIORS).askew == 0.0


@settings(max_examples=60, deadline=None)
@given(
    d=st.lists(st.floats(-0.5, 0.5), min_size=3, max_size=5),
    common=st.floats(0.0, 0.2),
    prior=st.sampled_from([0.05, 0.3]),
)
def test_marginals_equal_the_enumeration_with_whole_matrices(
    d: list[float], common: float, prior: float
) -> None:
    """Every S written out and given to scipy.stats.multivariate_normal."""
    n = len(d) - 1
    variances = [0.004 + 0.001 * place for place in range(n + 1)]
    seen = [Seen(d[k], variances[k], common, prior if k < n else 0.0) for k in range(n + 1)]
    found = odds(seen, prior_shift=0.05, shift_sd=1.0, move_sd=1.0)
    weights, moved, shifted = [], [], []
    for mask in itertools.product([0, 1], repeat=n):
        for shift in (0, 1):
            full = np.diag(variances) + np.diag([*mask, 0.0]) + (common**2 + shift)
            log = stats.multivariate_normal(cov=full).logpdf(d)
            log += sum(math.log(prior if bit else 1 - prior) for bit in mask)
            weights.append(log + math.log(0.05 if shift else 0.95))
            moved.append(mask)
            shifted.append(shift)
    weight = np.exp(np.array(weights) - max(weights))
    weight /= weight.sum()
    assert found.shifted == pytest.approx(float(weight @ np.array(shifted)), abs=1e-9)
    assert found.moved[:n] == pytest.approx(weight @ np.array(moved), abs=1e-9)
    assert found.moved[n] == 0.0


def whole(
    d: list[float],
    variances: list[float],
    common: float,
    *,
    ages: list[int],
    base: list[float],
    pairs: list[tuple[int, int]],
) -> list[tuple[float, tuple[int, ...], int, tuple[int, int] | None, float, float]]:
    """Every explanation by whole matrices: log weight, moved, time, pair, shift and its u.

    Of the shift the posterior of a normal with a normal prior: with S the covariance of d and
    h that of d with the shift (variance tc^2), mean h' S^-1 d, variance tc^2 - h' S^-1 h
    (Rasmussen and Williams, Gaussian Processes for Machine Learning, A.2).
    """
    n, tb, tc, prior = len(d) - 1, 0.8, 1.3, 0.07
    late = max(ages) + 1
    times = [(0, 0.96), (late, 0.04)] + [(k, 0.04 / (late - 1)) for k in range(1, late)]
    found = []
    for pair in [None, *pairs]:
        seen = np.array(d)
        if pair is not None:
            i, j = pair
            seen[i] -= base[j] - base[i]
            seen[j] -= base[i] - base[j]
        for mask in itertools.product([0, 1], repeat=n):
            for time, log_time in times:
                h = tc * tc * np.array([float(age < time) for age in ages])
                full = np.diag(variances) + tb * tb * np.diag([*mask, 0.0]) + common**2
                full = full + np.outer(h, h) / (tc * tc)
                log = float(stats.multivariate_normal(cov=full).logpdf(seen))
                log += sum(math.log(prior if bit else 1 - prior) for bit in mask)
                log += math.log(log_time) + math.log(0.01 if pair else 0.99)
                gain = np.linalg.solve(full, h)
                u = math.sqrt(max(tc * tc - float(gain @ h), 0.0)) if time else 0.0
                found.append((log, mask, time, pair, float(gain @ seen) if time else 0.0, u))
    return found


@pytest.mark.parametrize(
    ("d", "ages", "base", "pairs"),
    [
        ([0.58, -0.61, 0.03, 0.02], [0, 0, 0, 0], [15.0, 15.6, 16.9], [(0, 1)]),
        ([0.31, -0.28, 0.02, 0.3], [0, 1, 2, 0], [15.0, 15.3, 14.0], [(0, 1)]),
        ([0.02, 0.33, -0.31, -0.4], [2, 1, 3, 0], [14.0, 15.0, 15.35], [(1, 2)]),
        ([0.4, 0.41, 0.0, 0.38], [1, 1, 2, 0], [15.0, 15.3, 15.6], [(1, 2)]),
        ([0.02, 0.41, 0.39, 0.4], [2, 0, 1, 0], [15.0, 16.0, 17.0], []),
        ([0.3, -0.3, -0.3, 0.0], [0, 0, 0, 0], [15.0, 15.3, 15.31], [(0, 1), (0, 2)]),
        ([0.2, -0.2, 0.0, 0.0], [0, 0, 0, 0], [15.0, 15.2, 15.09], [(0, 1)]),
    ],
)
def test_labels_and_the_size_of_a_shift_equal_the_enumeration_with_whole_matrices(
    d: list[float], ages: list[int], base: list[float], pairs: list[tuple[int, int]]
) -> None:
    variances, common = [0.004, 0.005, 0.006, 0.007], 0.03
    priors = [0.07, 0.07, 0.07, 0.0]
    bases = [*base, None]
    seen = [Seen(d[k], variances[k], common, priors[k], bases[k], ages[k]) for k in range(len(d))]
    found = odds(seen, prior_shift=0.04, shift_sd=1.3, move_sd=0.8)
    every = whole(d, variances, common, ages=ages, base=base, pairs=pairs)
    top = max(log for log, *_ in every)
    total = math.fsum(math.exp(log - top) for log, *_ in every)
    chance = [math.exp(log - top) / total for log, *_ in every]
    assert set(found.exchanged) == set(pairs)
    for pair in pairs:
        wanted = sum(p for p, one in zip(chance, every, strict=True) if one[3] == pair)
        assert found.exchanged[pair] == pytest.approx(wanted, abs=1e-9)
    assert found.shifted == pytest.approx(
        sum(p for p, one in zip(chance, every, strict=True) if one[2]), abs=1e-9
    )
    for place in range(3):
        wanted = sum(p for p, one in zip(chance, every, strict=True) if one[1][place])
        assert found.moved[place] == pytest.approx(wanted, abs=1e-9)
    best = max((one for one in every if one[2]), key=lambda one: one[0])
    assert found.shift == pytest.approx(best[4], abs=1e-9)
    assert found.shift_u == pytest.approx(best[5], abs=1e-9)
    assert found.spared == tuple(age >= best[2] for age in ages)


@pytest.mark.parametrize(
    ("apart", "off", "told"),
    [
        (0.21, 0.0, True),
        (0.19, 0.0, False),  # under two standard uncertainties apart
        (-0.21, 0.0, True),
        (0.6, 0.49, True),
        (0.6, 0.51, False),  # over five of them off an exchange
        (0.6, -0.51, False),
    ],
)
def test_only_pairs_that_can_be_told_apart_and_fit_are_weighed(
    apart: float, off: float, told: bool
) -> None:
    """Variances of 0.0036 and 0.0064: the standard uncertainty of their difference is 0.1."""
    seen = [
        Seen(apart + off, 0.0036, 0.0, 0.05, 15.0),
        Seen(-apart, 0.0064, 0.0, 0.05, 15.0 + apart),
        Seen(0.0, 0.004, 0.0, 0.0),
    ]
    found = odds(seen, prior_shift=0.05, shift_sd=1.0, move_sd=1.0)
    assert list(found.exchanged) == ([(0, 1)] if told else [])


def test_what_has_no_baseline_angle_is_never_exchanged() -> None:
    given = [Seen(0.6, 0.004, 0.0, 0.05, 15.0), Seen(-0.6, 0.004, 0.0, 0.05, 15.6)]
    for without in (0, 1):
        seen = list(given)
        seen[without] = Seen(given[without].change, 0.004, 0.0, 0.05)
        assert not odds(seen, prior_shift=0.05, shift_sd=1.0, move_sd=1.0).exchanged


def test_changes_are_weighed_by_what_is_known_of_each() -> None:
    """Play widens the blades only; tightening has the larger prior; the reference has no label."""
    limits = Thresholds(
        prior_shift=0.04, prior_moved=0.06, prior_tightened=0.2, move_sd_deg=0.8, shift_sd_deg=1.3
    )
    terms = Terms(limits, 1.0, 1.0, frozenset({2}), 3, 3, 0.12)
    changes = [
        Change(1, 0.3, 0.03, 0.04, 1, 0.02, 15.0, 1),
        Change(2, -0.3, 0.05, 0.06, 2, 0.01, 15.4, 2),
        Change(REFERENCE, 0.1, 0.02, 0.03, 1, 0.03, 15.4, 0),
    ]
    seen = [
        Seen(0.3, 0.0009 + 0.0016 + 0.0144 / 6, 0.02, 0.06, 15.0, 1),
        Seen(-0.3, 0.0025 + 0.0036 + 0.0144 / 6, 0.01, 0.2, 15.4, 2),
        Seen(0.1, 0.0004 + 0.0009, 0.03, 0.0, None, 0),
    ]
    found = weigh(changes, terms)
    wanted = odds(seen, prior_shift=0.04, shift_sd=1.3, move_sd=0.8)
    assert found.moved == pytest.approx(wanted.moved, rel=1e-9)
    assert found.shifted == pytest.approx(wanted.shifted, rel=1e-9)
    assert found.shift == pytest.approx(wanted.shift, rel=1e-9)
    assert found.exchanged == pytest.approx(wanted.exchanged, rel=1e-9)
    assert found.spared == wanted.spared


def test_the_play_of_two_rests_is_a_sixth_of_its_square() -> None:
    """JCGM 100:2008, 4.3.7: a rectangular distribution of full width w has w^2 / 12, twice."""
    one = Change(1, 0.0, 0.03, 0.04, 1)
    assert fixed_variance(one, 0.6) == pytest.approx(0.0009 + 2 * 0.36 / 12)
    assert own_variance(one, 0.6) == pytest.approx(0.0009 + 2 * 0.36 / 12 + 0.0016)
    reference = Change(REFERENCE, 0.0, 0.03, 0.04, 1)
    assert fixed_variance(reference, 0.6) == pytest.approx(0.0009)


def test_no_uncertainty_under_a_millionth_is_believed() -> None:
    assert believed(0.0) == 1e-12
    assert believed(2e-12) == 2e-12
