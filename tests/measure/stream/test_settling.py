"""From a stream to motion, placement, turned and a reading."""

import random
from collections.abc import Iterable
from typing import Any

import pytest

from daemon.measure.stream.following import following_of
from daemon.measure.stream.tilts import Tilt
from tests.measure.levels import profile

RATE = 10
LIFT = 8.0


class Stream:
    """A level at 10 a second with white noise, pushed through what follows it."""

    def __init__(self, seed: int = 1, sd: float = 0.03, **changes: Any) -> None:
        self.rng = random.Random(seed)
        self.sd = sd
        self.settling = following_of(profile(**changes), LIFT)
        self.motions: list[str] = []

    def push(self, angles: Iterable[float]) -> None:
        for angle in angles:
            self.settling.push(Tilt(angle + self.rng.gauss(0, self.sd), None, None))
            self.motions.append(self.settling.doing)

    def hold(self, angle: float, seconds: float) -> None:
        self.push([angle] * round(seconds * RATE))

    def turn(self, start: float, end: float, speed: float) -> None:
        steps = max(1, round(abs(end - start) / speed * RATE))
        self.push(start + (end - start) * (i + 1) / steps for i in range(steps))

    def carry(self, seconds: float) -> None:
        self.push(self.rng.gauss(40, 25) for _ in range(round(seconds * RATE)))


@pytest.mark.parametrize("seed", range(20))
def test_one_placement_after_being_in_hand(seed: int) -> None:
    s = Stream(seed)
    s.carry(1)
    assert s.motions[-1] == "in hand"
    s.hold(18.0, 4)
    assert s.motions[-1] == "ready"
    assert s.settling.placement == 1
    assert not s.settling.turned
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == pytest.approx(18.0, abs=0.03)
    assert s.settling.live_deg == pytest.approx(18.0, abs=0.08)


@pytest.mark.parametrize("seed", range(20))
def test_turning_the_blade_is_moving_and_no_new_placement(seed: int) -> None:
    s = Stream(seed)
    s.hold(12.0, 2)
    s.motions.clear()
    s.turn(12.0, 18.0, 10.0)
    assert "in hand" not in s.motions
    assert "moving" in s.motions
    s.hold(18.0, 2)
    assert s.settling.placement == 1
    assert s.settling.turned


@pytest.mark.parametrize("seed", range(20))
def test_a_lift_and_put_back_is_a_new_placement(seed: int) -> None:
    s = Stream(seed)
    s.hold(18.0, 2)
    s.turn(18.0, 60.0, 60.0)
    s.carry(0.5)
    assert s.settling.doing == "in hand"
    s.hold(18.05, 2)
    assert s.settling.placement == 2
    assert not s.settling.turned


def test_a_gap_counts_as_a_lift() -> None:
    s = Stream()
    s.hold(18.0, 2)
    s.settling.restart()
    assert s.settling.reading is None
    s.hold(18.0, 2)
    assert s.settling.placement == 2


def test_live_angle_is_quick_and_does_not_overshoot() -> None:
    s = Stream(sd=0.0)
    s.hold(10.0, 2)
    seen = []
    for angle in [14.0] * 6:
        s.push([angle])
        seen.append(s.settling.live_deg)
    assert all(10.0 - 1e-9 <= value <= 14.0 + 1e-9 for value in seen if value is not None)
    assert seen[2] == pytest.approx(14.0)


def test_outliers_do_not_disturb_the_rest() -> None:
    s = Stream(3)
    s.push(18.0 + (5.0 if s.rng.random() < 0.1 else 0.0) for _ in range(60))
    assert s.settling.placement == 1
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == pytest.approx(18.0, abs=0.03)


def test_across_half_a_turn() -> None:
    s = Stream()
    s.hold(179.99, 3)
    assert s.settling.reading is not None
    assert abs(abs(s.settling.reading.mean_deg) - 180.0) < 0.05
    assert s.settling.placement == 1


def test_on_change_is_still_while_silent_and_alive() -> None:
    s = Stream(sd=0.0, reporting={"mode": "on-change", "rate_hz": 10})
    s.push([18.0])
    s.settling.repeat(12)
    assert s.settling.placement == 1
    assert s.settling.doing == "ready"


def test_on_press_every_sample_is_a_reading() -> None:
    s = Stream(sd=0.0, reporting={"mode": "on-press", "rate_hz": 1})
    s.push([18.0, 18.1])
    assert s.settling.placement == 2
    assert s.settling.doing == "ready"
    assert s.settling.reading is not None
    assert s.settling.reading.mean_deg == 18.1


def test_a_level_whose_noise_was_only_assumed_still_settles() -> None:
    s = Stream(5, sd=0.12)
    s.hold(18.0, 12)
    assert s.settling.placement == 1
    assert s.settling.reading is not None
    assert s.settling.reading.sd_deg > 0.08
