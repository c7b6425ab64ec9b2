"""The two streams of a watch: whose noise is which, and when the witness is one."""

import random

import pytest

from daemon.measure.watch.record import Means, Record
from daemon.measure.watch.rest import START
from daemon.measure.watch.streams import FromFirst, Streams, Witness
from daemon.measure.watch.track import Place, Stand
from shared.profile import Noise

KNOWN = Noise(sd_deg=0.03, lag1=0.2, n=600)


def streams(noise: Noise = KNOWN, rate: float = 10.0, resolution: float = 0.01) -> Streams:
    return Streams(rate, noise, resolution, 36_000.0)


def record(n: int, sd: float, pair: float | None = None, heard: int = 10**9) -> Record:
    rng = random.Random(2)
    made = Record(n)
    for k in range(n):
        own, other = rng.gauss(0.0, sd), rng.gauss(0.0, pair or 0.0)
        made.push(own, None if pair is None or k >= heard else other)
    return made


def test_angles_count_from_the_first_the_shorter_way_round() -> None:
    angles = FromFirst()
    assert [angles.of(a) for a in (179.0, -179.0, 178.0)] == [0.0, 2.0, -1.0]


def test_a_witness_is_one_for_two_seconds() -> None:
    witness = Witness(10.0)
    assert witness.at(5) is None
    witness.told(7.0, 10)
    witness.told(8.5, 11)
    assert witness.at(31) == 1.5
    assert witness.at(32) is None
    witness.told(7.0, 40)
    assert witness.at(40) == 0.0


@pytest.mark.parametrize(("sd", "known"), [(0.040, True), (0.055, False)])
def test_a_stated_noise_is_believed_until_it_is_contradicted(sd: float, known: bool) -> None:
    """Half as wide again, and the stream is believed instead."""
    both = streams()
    both.learn(record(200, sd))
    assert bool(both.own.known) is known
    assert both.own.sd == (0.03 if known else pytest.approx(sd, rel=0.15))


def test_a_noise_that_was_never_stated_is_learned() -> None:
    both = streams(Noise())
    both.learn(record(200, 0.02))
    assert both.own.sd == pytest.approx(0.02, rel=0.15)
    assert both.own.n == 200


def test_no_noise_is_below_half_a_resolution() -> None:
    both = streams(Noise(), resolution=0.1)
    both.learn(record(40, 0.0, 0.0))
    assert (both.own.sd, both.pair.sd) == (0.05, 0.05)


def test_the_difference_is_best_where_enough_of_it_is_known() -> None:
    both = streams()
    both.learn(record(40, 0.03, 0.05, heard=START - 1))
    assert both.pair.n == START - 1
    assert both.best is both.own
    assert both.block(Means(1.0, 2.0), 20, 50).against is None
    both.learn_pairs([0.01])
    assert both.best is both.pair
    block = both.block(Means(1.0, 2.0), 20, 50)
    assert block.own == Stand(5.0, 1.0, both.own.mean_variance(20, 0.01))
    assert block.against == Stand(5.0, 2.0, both.pair.mean_variance(20, 0.01))
    assert both.best_variance(20) == both.pair.mean_variance(20, 0.01)
    assert both.block(Means(1.0, None), 20, 50).against is None


def test_both_streams_are_recentred_where_the_witness_was_heard() -> None:
    both = streams()
    both.learn(record(40, 0.03, 0.05))
    both.recentre(Place(Stand(0.0, 3.0, 1.0), Stand(0.0, 4.0, 1.0)), 20)
    assert (both.own.mean, both.pair.mean) == (3.0, 4.0)
    assert (both.own.mean_n, both.pair.mean_n) == (20, 20)
    both.recentre(Place(Stand(0.0, 5.0, 1.0), None), 20)
    assert (both.own.mean, both.pair.mean) == (5.0, 4.0)


@pytest.mark.parametrize(("span", "calm"), [(0.1799, True), (0.1801, False)])
def test_a_block_ranges_over_six_deviations_at_rest(span: float, calm: bool) -> None:
    both = streams()
    assert both.calm(span, Place(Stand(0.0, 0.0, 1.0), None)) is calm
    both.learn_pairs([1.0, -1.0] * 20)
    assert both.calm(span, Place(Stand(0.0, 0.0, 1.0), None)) is calm
    assert both.calm(5.0, Place(Stand(0.0, 0.0, 1.0), Stand(0.0, 0.0, 1.0)))
    assert not both.calm(7.0, Place(Stand(0.0, 0.0, 1.0), Stand(0.0, 0.0, 1.0)))


def test_neighbouring_blocks_keep_what_is_left_of_lag_one() -> None:
    assert streams().kept(3) == pytest.approx(0.2**3)
    both = streams()
    x, rng = 0.0, random.Random(1)
    for _ in range(300):
        x = 0.9 * x + rng.gauss(0.0, 1.0)
        both.learn_pairs([x])
    assert both.pair.lag1 > 0.8
    assert both.kept(2) == pytest.approx(both.pair.lag1**2), "the larger of the two"


@pytest.mark.parametrize(("rate", "follow"), [(2.0, 300), (10.0, 300), (20.0, 600)])
def test_the_noise_is_followed_for_half_a_minute(rate: float, follow: int) -> None:
    both = streams(Noise(), rate)
    for _ in range(700):
        both.detector.learn(0.0)
        both.learn_pairs([0.0])
    assert (both.own.n, both.pair.n) == (follow, follow)
