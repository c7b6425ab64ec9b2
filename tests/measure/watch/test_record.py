"""At rest or not: spread and drift that the noise explains; a block in the making."""

import math
import random

import pytest

from daemon.measure.watch.record import Gathering, Means, Record, spread
from daemon.measure.watch.rest import Rest


def record(own: list[float], against: list[float | None] | None = None) -> Record:
    made = Record(len(own))
    for x, pair in zip(own, against or [None] * len(own), strict=True):
        made.push(x, pair)
    return made


def alternating(n: int, size: float) -> list[float]:
    return [size * (-1) ** k for k in range(n)]


def known(sd: float, lag1: float = 0.0) -> Rest:
    rest = Rest(known=(sd, lag1))
    rest.learn(0.0)
    return rest


def test_a_burst_does_not_look_quiet() -> None:
    made = Record(40)
    for k in range(40):
        made.push(0.5 * math.sin(k) if k > 30 else 0.01 * math.sin(k), None)
    assert not made.looks_quiet()
    rng = random.Random(1)
    for _ in range(40):
        made.push(rng.gauss(0.0, 0.03), None)
    assert made.looks_quiet()


@pytest.mark.parametrize(("times", "quiet"), [(7.9, True), (8.1, False)])
@pytest.mark.parametrize("place", [0, 1, 2, 3])
def test_a_burst_is_eight_times_the_variance_of_another_quarter(
    times: float, quiet: bool, place: int
) -> None:
    values = alternating(40, 0.01)
    for k in range(10 * place, 10 * place + 10):
        values[k] *= math.sqrt(times)
    assert record(values).looks_quiet() is quiet


def test_a_stream_without_any_noise_looks_quiet() -> None:
    assert record([1.0] * 40).looks_quiet()
    almost = [1.0] * 39 + [1.0 + 1e-7]
    assert not record(almost[:40]).looks_quiet() or spread(almost) < 1e-6


def test_a_record_not_full_says_nothing() -> None:
    made = Record(41)
    for x in alternating(40, 0.01):
        made.push(x, x)
    assert not made.looks_quiet()
    assert not made.own_at_rest(known(0.03))
    assert not made.pair_at_rest(known(0.03))
    made.push(0.0, 0.0)
    assert made.looks_quiet()
    assert made.own_at_rest(known(0.03))
    assert made.pair_at_rest(known(0.03))


# Forty samples ±s have the variance s² 40/39; with the halves s apart either way the mean stays.
@pytest.mark.parametrize(("apart", "quiet"), [(0.98, True), (1.02, False)])
def test_an_unknown_noise_explains_halves_so_far_apart(apart: float, quiet: bool) -> None:
    """Lag-1 of 0.5 leaves a third of forty samples; a mean of half of them errs by its root."""
    sd = 0.01 * math.sqrt(10.0 / 9.0)
    most = 3.5 * sd * 2.0 / math.sqrt(40.0 / 3.0)
    values = alternating(40, 0.01)
    shifted = [x + apart * most * (k >= 20) for k, x in enumerate(values)]
    assert record(shifted).looks_quiet() is quiet
    assert record(shifted[::-1]).looks_quiet() is quiet


@pytest.mark.parametrize(("apart", "at_rest"), [(0.98, True), (1.02, False)])
@pytest.mark.parametrize("lag1", [0.0, 0.5])
def test_a_known_noise_explains_halves_so_far_apart(
    apart: float, at_rest: bool, lag1: float
) -> None:
    worth = 40.0 * (1.0 - lag1) / (1.0 + lag1)
    most = 3.5 * 0.03 * 2.0 / math.sqrt(worth)
    values = [x + apart * most * (k >= 20) for k, x in enumerate(alternating(40, 0.001))]
    for mirrored in (values, [-x for x in values]):
        assert record(mirrored).own_at_rest(known(0.03, lag1)) is at_rest


def test_the_middle_one_of_an_odd_record_is_in_neither_half() -> None:
    apart = 0.98 * 3.5 * 0.03 * 2.0 / math.sqrt(41.0)
    for middle in (-0.08, 0.08):
        values = [0.0] * 20 + [middle] + [apart] * 20
        assert record(values).own_at_rest(known(0.03))
        assert record(values[::-1]).own_at_rest(known(0.03))


@pytest.mark.parametrize(("times", "at_rest"), [(0.98, True), (1.02, False)])
@pytest.mark.parametrize("lag1", [0.0, 0.5])
def test_a_known_noise_explains_so_much_spread(times: float, at_rest: bool, lag1: float) -> None:
    """A variance from n samples has a standard error of √(2 / n) of itself: three are allowed."""
    worth = 40.0 * (1.0 - lag1) / (1.0 + lag1)
    most = 0.03 * math.sqrt(1.0 + 3.0 * math.sqrt(2.0 / worth))
    values = alternating(40, times * most * math.sqrt(39.0 / 40.0))
    made = record(values, [*values])
    assert made.own_at_rest(known(0.03, lag1)) is at_rest
    assert made.pair_at_rest(known(0.03, lag1)) is at_rest


def test_the_pair_rests_where_the_witness_was_heard_all_along() -> None:
    wild, still = alternating(40, 5.0), alternating(40, 0.03)
    assert record(wild, [*still]).pair_at_rest(known(0.03))
    assert not record(still, [*wild]).pair_at_rest(known(0.03))
    assert not record(wild, [*still[:-1], None]).pair_at_rest(known(0.03))
    assert not record(wild, [*still]).pair_at_rest(Rest(known=(0.03, 0.0))), "never learned"
    assert not record(wild).pair_at_rest(known(0.03))


def test_a_record_keeps_the_newest() -> None:
    made = Record(3)
    for k in range(5):
        made.push(float(k), float(10 * k) if k else None)
    assert made.means() == Means(3.0, 30.0)
    assert made.last(2).means() == Means(3.5, 35.0)
    assert made.last(2).full
    assert not made.last(4).full
    made.clear()
    assert not made.own
    assert not made.against


def test_means_are_against_the_witness_only_where_it_was_always_heard() -> None:
    assert record([1.0, 2.0], [0.5, None]).means() == Means(1.5, None)
    assert record([1.0, 2.0], [0.5, 1.0]).means() == Means(1.5, 0.75)


def test_spread_is_the_standard_deviation_of_a_sample() -> None:
    """NIST/SEMATECH e-Handbook, 1.3.5.6: divided by n - 1."""
    assert spread([2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]) == pytest.approx(math.sqrt(32.0 / 7.0))
    assert spread([2.0, 4.0]) == pytest.approx(math.sqrt(2.0))
    assert spread([3.0]) == 0.0


def test_a_block_gathers_means_and_range() -> None:
    block = Gathering()
    for x in (3.0, -1.0, 4.0):
        block.add(x, None)
    assert (block.count, block.pairs) == (3, [])
    assert block.means() == Means(2.0, None)
    assert block.span == 5.0


def test_a_block_ranges_against_the_witness() -> None:
    block = Gathering()
    for x, pair in ((3.0, 0.1), (-1.0, 0.4), (4.0, 0.3)):
        block.add(x, pair)
    assert block.span == pytest.approx(0.3)
    assert block.pairs == [0.1, 0.4, 0.3]
    assert block.means() == Means(2.0, (0.1 + 0.4 + 0.3) / 3)
    block.add(0.0, None)
    assert block.means() == Means(1.5, None)


def test_a_stream_without_any_noise_is_at_rest() -> None:
    made = record([1.0] * 40, [0.5] * 40)
    assert made.own_at_rest(known(0.0))
    assert made.pair_at_rest(known(0.0))
