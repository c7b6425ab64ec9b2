"""Clocks: that the wall stepped, the machine slept or the program stood still is noticed."""

import time
from typing import Any

import pytest

from daemon.shell.clocks import WallWatch


class Clocks:
    """The machine's clocks, moved by hand."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.wall_s, self.running_s, self.asleep_s = 1e9, 50.0, 3.0
        monkeypatch.setattr(time, "time", lambda: self.wall_s)
        monkeypatch.setattr(time, "monotonic", lambda: self.running_s)
        monkeypatch.setattr(WallWatch, "_sleep", lambda _: self.asleep_s)

    def run(self, seconds: float) -> None:
        self.wall_s += seconds
        self.running_s += seconds

    def sleep(self, seconds: float) -> None:
        self.wall_s += seconds
        self.asleep_s += seconds


def said(what: str, seconds: float) -> Any:
    return (what, pytest.approx(seconds))


@pytest.fixture
def hands(monkeypatch: pytest.MonkeyPatch) -> Clocks:
    return Clocks(monkeypatch)


def test_going_on_is_no_news(hands: Clocks) -> None:
    watch = WallWatch()
    for _ in range(100):
        hands.run(1.9)
        hands.wall_s += 0.1  # a clock that is slowly put right
        assert watch.changed() is None


def test_a_sleep_of_the_machine(hands: Clocks) -> None:
    watch = WallWatch()
    hands.run(0.2)
    hands.sleep(14.0)
    assert watch.changed() == said("suspend", 14.2)
    assert watch.changed() is None


def test_a_stop_of_the_program_alone(hands: Clocks) -> None:
    """SIGSTOP, or no processor for long: the machine's clocks all went on."""
    watch = WallWatch()
    hands.run(14.0)
    assert watch.changed() == said("suspend", 14.0)
    assert watch.changed() is None


@pytest.mark.parametrize("by_s", [3600.0, -3600.0])
def test_a_step_of_the_wall_clock(hands: Clocks, by_s: float) -> None:
    watch = WallWatch()
    hands.run(0.2)
    hands.wall_s += by_s
    assert watch.changed() == said("step", by_s)
    assert watch.changed() is None
