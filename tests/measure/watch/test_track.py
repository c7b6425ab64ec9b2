"""Where a blade stands: means weighed by their variances, a drift that is allowed for."""

import math

import pytest

from daemon.measure.watch.track import Drift, Place, Stand, Standing

NONE = Drift(0.0, 0.0, 0.0)


def at(t: float, own: float = 0.0, against: float | None = None) -> Place:
    return Place(Stand(t, own, 0.01), None if against is None else Stand(t, against, 0.02))


def test_a_stand_weighs_old_and_new_by_their_variances() -> None:
    """Two means of known variance: the textbook's weights, one over the variance of each."""
    merged = Stand(0.0, 1.0, 0.01).merged(Stand(1.0, 2.0, 0.03), NONE)
    assert merged.t == 1.0
    assert merged.mean == pytest.approx(1.25)
    assert merged.variance == pytest.approx(0.0075)


def test_a_drift_counts_since_the_mean_was_taken() -> None:
    drifting = Drift(walk=0.1, rate=0.0, span=0.0)
    assert Stand(3.0, 1.0, 0.01).later(7.0, drifting) == pytest.approx(0.05)
    assert Stand(3.0, 1.0, 0.01).later(2.0, drifting) == 0.01, "not before it"
    drifted = Stand(0.0, 1.0, 0.01).merged(Stand(2.0, 2.0, 0.03), drifting)
    assert drifted.mean == pytest.approx(1.5)
    assert drifted.variance == pytest.approx(0.015)


def test_a_steady_drift_ends_with_its_span() -> None:
    assert Drift(0.0, 0.1, 0.2).variance(1.0) == pytest.approx(0.01)
    assert Drift(0.0, 0.1, 0.2).variance(100.0) == pytest.approx(0.04)
    assert Drift(0.2, 0.1, 0.2).variance(1.0) == pytest.approx(0.05), "a walk comes on top"


def test_the_difference_of_two_levels_drifts_as_two_independent_ones() -> None:
    one = Drift(0.001, 0.002, 0.3)
    assert one.of_two().variance(50.0) == pytest.approx(2.0 * one.variance(50.0))
    assert one.of_two().variance(5000.0) == pytest.approx(2.0 * one.variance(5000.0))


def test_a_place_without_a_witness_gets_one_later() -> None:
    place = at(0.0, 1.0).merged(at(1.0, 1.0, 0.5), NONE)
    assert place.against == Stand(1.0, 0.5, 0.02)
    kept = place.merged(at(2.0, 1.0), NONE)
    assert kept.against == place.against
    assert kept.own.t == 2.0


def test_a_place_follows_the_difference_as_that_of_two_levels() -> None:
    drift = Drift(0.1, 0.0, 0.0)
    place = at(0.0, 0.0, 0.0).merged(at(1.0, 1.0, 1.0), drift)
    assert place.own == Stand(0.0, 0.0, 0.01).merged(Stand(1.0, 1.0, 0.01), drift)
    assert place.against == Stand(0.0, 0.0, 0.02).merged(Stand(1.0, 1.0, 0.02), drift.of_two())


def test_the_best_is_against_the_witness() -> None:
    assert at(0.0, 1.0).best.mean == 1.0
    assert at(0.0, 1.0, 2.0).best.mean == 2.0


def test_a_blade_stood_at_the_newest_place_before_the_onset() -> None:
    standing = Standing(at(0.0), [at(1.0, 1.0), at(2.0, 2.0), at(3.0, 3.0)])
    assert standing.place.own.mean == 3.0
    assert standing.before(20, 10.0).own.mean == 2.0, "a block that ended there was whole"
    assert standing.before(19, 10.0).own.mean == 1.0
    assert standing.before(99, 10.0).own.mean == 3.0
    assert standing.before(5, 10.0).own.mean == 1.0, "nothing so old is kept: the oldest"


def test_following_adds_a_place_and_forgets_the_oldest_of_forty() -> None:
    standing = Standing(at(0.0), [at(0.0)])
    for t in range(1, 60):
        standing.follow(at(float(t), 1.0), NONE)
    assert standing.place.own.mean == pytest.approx(59.0 / 60.0)
    assert [standing.past[0].own.t, len(standing.past)] == [20.0, 40]
    assert standing.home == at(0.0), "where it stood at first stays"


def test_variances_are_finite_and_shrink_with_every_block_of_rest() -> None:
    place = at(0.0, 0.0, 0.0)
    for t in range(1, 50):
        newer = place.merged(at(float(t), 0.0, 0.0), NONE)
        assert 0.0 < newer.own.variance < place.own.variance
        place = newer
    assert place.own.variance == pytest.approx(0.01 / 50.0)
    assert math.isfinite(place.best.variance)
