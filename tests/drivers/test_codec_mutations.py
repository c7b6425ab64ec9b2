"""Seeded mutations: no codec raises, none hangs, none gives a number that is no number.

A million of each recorded log: `python -m benchmarks.codec_mutations`.
"""

import pytest

from benchmarks.codec_mutations import run, streams

NAMES = sorted(streams())


@pytest.mark.parametrize("name", NAMES)
def test_twenty_thousand(name: str) -> None:
    codec, stream = streams()[name]
    samples, _slowest_s = run(codec, stream, 20_000, seed=7)
    assert samples > 0, "mutations that are all refused would prove little"
    assert codec.refused
