"""A blade that is turned soon after the level was laid on it teaches no noise."""

import random

import pytest

from daemon.core.pipe import Pipe
from daemon.measure.stream.facts import LearnedFact
from shared.inputs import NS
from shared.job import LevelEntry
from tests.measure.levels import profile

SD = 0.03


class Session:
    """A level at ten a second whose noise nobody knows."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        level = profile(noise={"sd_deg": SD, "n": 0}, fields={"angle": {"source": "1"}})
        self.pipe = Pipe(LevelEntry(name="a", profile="x"), level, 8.0)
        self.t_ns = 0

    def show(self, angle_deg: float, sd: float = SD) -> None:
        self.t_ns += NS // 10
        self.pipe.feed(self.t_ns, 0, b"%.2f\n" % (angle_deg + self.rng.gauss(0.0, sd)))

    def carry(self) -> None:
        for _ in range(12):
            self.show(40.0, 15.0)

    def place(self, seconds: float) -> None:
        self.carry()
        for _ in range(round(10 * seconds)):
            self.show(18.0)

    def place_and_turn(self, after_s: float, way_deg: float, speed: float) -> None:
        """Lay the level, turn the blade soon, let it rest."""
        self.place(after_s)
        steps = max(1, round(10 * abs(way_deg) / speed))
        for k in range(steps):
            self.show(18.0 + way_deg * (k + 1) / steps)
        for _ in range(20):
            self.show(18.0 + way_deg)

    def learned(self) -> LearnedFact:
        [fact] = self.pipe.learned()
        assert isinstance(fact, LearnedFact)
        return fact


@pytest.mark.parametrize("after_s", [0.8, 1.2, 1.4])
@pytest.mark.parametrize("seed", range(8))
def test_noise_is_not_learned_from_a_turn(after_s: float, seed: int) -> None:
    session = Session(seed)
    for _ in range(8):
        session.place_and_turn(after_s, session.rng.choice((-1, 1)) * 4.0, 3.0)
        session.place(2.5)
    session.carry()
    learned = session.learned()
    assert SD / 1.5 < learned.value < 1.5 * SD
    assert learned.lag1 < 0.5


@pytest.mark.parametrize("seed", range(8))
def test_nor_from_one_that_begins_slowly(seed: int) -> None:
    session = Session(seed)
    for _ in range(8):
        session.place_and_turn(1.6, 1.0, session.rng.uniform(0.1, 1.0))
        session.place(2.5)
    session.carry()
    assert SD / 1.5 < session.learned().value < 1.5 * SD
