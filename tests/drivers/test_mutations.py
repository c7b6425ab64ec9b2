"""Seeded mutations: no codec raises, none hangs, none gives a number that is no number."""

import pytest

from benchmarks.mutations import SLOWEST_S, run, streams

NAMES = sorted(streams())


@pytest.mark.parametrize("name", NAMES)
def test_five_thousand(name: str) -> None:
    codec, stream = streams()[name]
    samples, slowest_s = run(codec, stream, 5_000, seed=7)
    assert samples > 0, "mutations that are all refused would prove little"
    assert codec.refused
    assert slowest_s < SLOWEST_S


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_a_million(name: str) -> None:
    codec, stream = streams()[name]
    _samples, slowest_s = run(codec, stream, 1_000_000, seed=20)
    assert slowest_s < SLOWEST_S
