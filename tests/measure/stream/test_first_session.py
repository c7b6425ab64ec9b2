"""A level whose noise nobody knows: what its placements teach is used from one to the next."""

import random

import pytest

from daemon.core.pipe import Pipe
from daemon.measure.stream.facts import Ready
from daemon.measure.stream.reading import Reading
from shared.inputs import NS
from shared.job import LevelEntry
from tests.measure.levels import profile
from tests.measure.stream.test_average import ar1

LIES_ON = 8
"""Samples for which the level lies on after its reading."""


def placements(n: int, lag1: float, *, known: int = 0) -> list[tuple[int, Reading]]:
    """Samples until each reading, and the reading, of a level at ten a second."""
    level = profile(noise={"sd_deg": 0.03, "n": known}, fields={"angle": {"source": "1"}})
    pipe = Pipe(LevelEntry(name="a", profile="x"), level, 8.0)
    rng, found, t_ns = random.Random(4), [], 0

    def send(angle: float) -> bool:
        nonlocal t_ns
        t_ns += NS // 10
        return any(isinstance(f, Ready) for f in pipe.feed(t_ns, 0, b"%.2f\n" % angle))

    for _ in range(n):
        for _ in range(15):
            send(60.0 + rng.gauss(0, 10))
        values = iter(ar1(rng, 400, 0.03, lag1))
        count = 1
        while not send(18.0 + next(values)):
            count += 1
        assert pipe.reading is not None
        found.append((count, pipe.reading))
        for _ in range(LIES_ON):
            send(18.0 + next(values))
    return found


def test_it_gets_faster_and_surer_while_it_is_used() -> None:
    found = placements(12, 0.0)
    first, last = found[:3], found[-4:]
    assert sum(n for n, _ in last) / 4 < sum(n for n, _ in first) / 3
    assert min(reading.dof for _, reading in last) > max(reading.dof for _, reading in first)


def test_known_noise_is_never_replaced() -> None:
    assert len({reading.lag1 for _, reading in placements(8, 0.0, known=600)}) == 1


@pytest.mark.parametrize("lag1", [0.6, 0.9])
def test_noise_that_hangs_together_is_found_out_anew_each_time(lag1: float) -> None:
    found = placements(12, lag1)
    assert len({reading.lag1 for _, reading in found}) == len(found)
