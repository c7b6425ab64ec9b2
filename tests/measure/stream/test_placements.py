"""What a following does, told as facts: each change once, each average with its sample."""

from dataclasses import dataclass

from daemon.measure.stream.facts import Crept, Fact, InHand, Ready, Rested, Restless, Still
from daemon.measure.stream.motion import Doing
from daemon.measure.stream.placements import Placements
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.tilts import Tilt
from shared.profile import Noise
from tests.measure.levels import reading


@dataclass
class Scripted:
    """A following that does what it is told."""

    placement: int = 0
    doing: Doing = "in hand"
    turned: bool = False
    live_deg: float | None = 18.0
    reading: Reading | None = None
    agreed: Reading | None = None
    progress: float = 0.0
    swing_deg: float = 0.0

    def push(self, tilt: Tilt) -> None:
        raise NotImplementedError

    def repeat(self, samples: int) -> None:
        raise NotImplementedError

    def restart(self) -> None:
        raise NotImplementedError

    def set_rate(self, hz: float) -> None:
        raise NotImplementedError

    def set_noise(self, noise: Noise) -> None:
        raise NotImplementedError

    def lain_values(self) -> list[float]:
        raise NotImplementedError


GOT = reading(18.0)


def told(
    placements: Placements,
    level: Scripted,
    doing: Doing,
    agreed: Reading | None = None,
    placement: int = 1,
) -> list[Fact]:
    level.doing, level.agreed, level.placement = doing, agreed, placement
    return placements.told(10.0)


def test_a_placement_from_hand_to_hand() -> None:
    level = Scripted()
    it = Placements("a", level)
    assert told(it, level, "in hand", placement=0) == [InHand("a")]
    assert told(it, level, "in hand", placement=0) == []
    assert it.in_hand
    assert told(it, level, "settling", placement=0) == []
    assert not it.in_hand
    assert told(it, level, "still", GOT) == [Rested("a", 1), Still("a", 1, False, GOT)]
    assert told(it, level, "still", GOT) == [Still("a", 1, False, GOT)]
    level.turned = True
    assert told(it, level, "ready", GOT) == [Ready("a", 1, True, GOT)]
    assert told(it, level, "ready", GOT) == [Ready("a", 1, True, GOT)]
    assert told(it, level, "in hand") == [InHand("a")]
    assert told(it, level, "moving") == []
    assert told(it, level, "ready", GOT, 2) == [Rested("a", 2), Ready("a", 2, True, GOT)]


def test_an_average_that_is_over_is_said_once() -> None:
    level = Scripted()
    it = Placements("a", level)
    told(it, level, "ready", GOT)
    assert told(it, level, "ready") == [Restless("a")]
    assert told(it, level, "ready") == []
    assert told(it, level, "still", GOT) == [Still("a", 1, False, GOT)]
    assert told(it, level, "moving") == [Restless("a")]
    assert told(it, level, "settling") == []


def test_a_lift_and_a_gap_are_not_restlessness() -> None:
    level = Scripted()
    it = Placements("a", level)
    told(it, level, "ready", GOT)
    assert it.gap(shows_hands=True) == [InHand("a", unseen=True)]
    assert it.gap(shows_hands=True) == []
    assert told(it, level, "in hand") == []
    assert told(it, level, "moving") == []
    told(it, level, "ready", GOT)
    assert told(it, level, "in hand") == [InHand("a")]
    assert told(it, level, "settling") == []


def test_a_creep_of_more_than_half_a_second_is_said_with_every_sample() -> None:
    level = Scripted()
    it = Placements("a", level)
    said = [told(it, level, "creeping", placement=0) for _ in range(7)]
    assert said == [[]] * 5 + [[Crept("a", 0, 18.0)]] * 2
    assert told(it, level, "settling", placement=0) == []
    assert told(it, level, "creeping", placement=0) == []
