"""Every row of the table of modes, and that what has no row changes and tells nothing."""

import itertools
import random
from collections.abc import Callable
from typing import get_args

import pytest

from daemon.measure.watch.modes import (
    Away,
    Gone,
    Learning,
    Lifted,
    Mode,
    Quiet,
    Restless,
    Shaken,
    Silent,
    Unheard,
)
from daemon.measure.watch.watch import NEXT, Cause, Watch, WatchOutcome
from shared.profile import Noise

RATE = 10
SD = 0.02


class Level:
    """A level on a blade, without a witness; `say` are the states told."""

    def __init__(self, seed: int = 1, witness: bool = False) -> None:
        self.rng = random.Random(seed)
        self.watch = Watch(
            rate_hz=RATE,
            noise=Noise(sd_deg=SD, n=600),
            resolution_deg=0.001,
            witness=witness,
            name="blade 2",
        )
        self.angle = 15.0
        self.n = 0
        self.told: list[WatchOutcome] = []

    def is_in(self, mode: type[Mode]) -> bool:
        return type(self.watch.mode) is mode

    @property
    def say(self) -> list[str]:
        return [one.state for one in self.told]

    def push(self, angle: float) -> None:
        self.n += 1
        self.told += self.watch.push(angle + self.rng.gauss(0.0, SD))

    def rest(self, seconds: float) -> None:
        for _ in range(round(seconds * RATE)):
            self.push(self.angle)

    def shake(self, seconds: float, size: float = 1.0) -> None:
        for k in range(round(seconds * RATE)):
            self.push(self.angle + size * (-1) ** (k // 2))

    def creep(self, seconds: float) -> None:
        for _ in range(round(seconds * RATE)):
            self.angle += 0.05 / RATE
            self.push(self.angle)

    def lift(self) -> None:
        for _ in range(3):
            self.push(self.angle + 40.0)

    def until(self, seconds: float, mode: type[Mode], does: Callable[[float], None]) -> None:
        for _ in range(round(seconds * RATE)):
            does(1.0 / RATE)
            if self.is_in(mode):
                return
        raise AssertionError(f"still {self.watch.mode} after {seconds} s")


def in_mode(mode: type[Mode]) -> Level:
    """Bring a level there by what it would see."""
    level = Level()
    if mode is Learning:
        return level
    if mode is Unheard:
        level.watch.missed(1)
        return level
    level.until(5.0, Quiet, level.rest)
    level.rest(20.0)
    if mode in {Shaken, Restless}:
        level.shake(1.0)
    if mode is Restless:
        level.until(70.0, Restless, lambda _: level.shake(0.4))
    if mode in {Lifted, Gone}:
        level.lift()
    if mode in {Silent, Gone}:
        level.watch.missed(10)
    level.told.clear()
    return level


def change(level: Level) -> None:
    level.angle += 0.5
    level.until(0.5, Shaken, level.rest)


def creep(level: Level) -> None:
    for _ in range(12):
        level.creep(1.0)
        if "creeping" in level.say:
            return


def silence(level: Level) -> None:
    level.told += level.watch.missed(10)


def no_rest(level: Level) -> None:
    for _ in range(62 * RATE // 4):
        level.shake(0.4)
        if "shaken" in level.say:
            return


HAPPENS: dict[Cause, Callable[[Level], None]] = {
    "change": change,
    "creep": creep,
    "in hand": Level.lift,
    "silence": silence,
    "no rest": no_rest,
}
TOLD: dict[Cause, list[str]] = {
    "change": [],
    "creep": ["creeping"],
    "in hand": ["lifted"],
    "silence": ["no signal"],
    "no rest": ["shaken"],
}
KNOWN: list[type[Quiet | Away]] = [Quiet, Shaken, Restless, Lifted, Silent, Gone]
ROWS = [(mode, cause) for mode in KNOWN for cause in NEXT[mode]]
OTHERS = [
    (mode, cause)
    for mode, cause in itertools.product(KNOWN, get_args(Cause))
    if cause not in NEXT[mode]
]


def test_the_table_is_about_every_mode_that_knows_the_blade() -> None:
    assert list(NEXT) == KNOWN
    assert len(ROWS) == 13
    assert set(HAPPENS) == set(get_args(Cause))


@pytest.mark.parametrize("mode", [*KNOWN, Learning, Unheard])
def test_every_mode_is_reached_by_what_a_level_sees(mode: type[Mode]) -> None:
    assert in_mode(mode).is_in(mode)


@pytest.mark.parametrize(("mode", "cause"), ROWS)
def test_every_row_leads_where_it_says_and_is_told(mode: type[Quiet | Away], cause: Cause) -> None:
    level = in_mode(mode)
    HAPPENS[cause](level)
    assert level.is_in(NEXT[mode][cause])
    assert level.say == TOLD[cause]


@pytest.mark.parametrize("cause", ["in hand", "silence", "no rest"])
@pytest.mark.parametrize("mode", [Lifted, Silent, Gone])
def test_what_is_no_news_changes_and_tells_nothing(mode: type[Away], cause: Cause) -> None:
    level = in_mode(mode)
    if (mode, cause) in OTHERS:
        HAPPENS[cause](level)
        assert level.is_in(mode)
        assert level.say == []


@pytest.mark.parametrize("cause", ["silence", "in hand"])
def test_a_creep_that_ends_unseen_makes_the_watch_deaf_to_nothing(cause: Cause) -> None:
    level = in_mode(Quiet)
    creep(level)
    HAPPENS[cause](level)
    level.rest(600.0)
    assert level.is_in(Quiet)
    level.told.clear()
    level.angle += 2.0
    level.rest(60.0)
    assert level.is_in(Quiet)
    assert level.say == ["changed"]
    assert level.told[0].change_deg == pytest.approx(2.0, abs=0.03)


def test_restless_is_not_told_again() -> None:
    level = in_mode(Restless)
    level.shake(200.0)
    assert level.is_in(Restless)
    assert level.say == []


@pytest.mark.parametrize(
    ("mode", "told"),
    [
        (Shaken, ["shaken"]),
        (Restless, ["shaken"]),
        (Lifted, ["quiet"]),
        (Silent, ["quiet"]),
        (Gone, ["quiet"]),
    ],
)
def test_at_rest_again_is_quiet(mode: type[Away], told: list[str]) -> None:
    level = in_mode(mode)
    level.until(20.0, Quiet, level.rest)
    level.rest(10.0)
    assert level.is_in(Quiet)
    assert level.say == told


@pytest.mark.parametrize("mode", [Shaken, Restless, Lifted, Silent, Gone])
def test_what_is_left_of_a_change_is_told_from_every_mode(mode: type[Away]) -> None:
    level = in_mode(mode)
    level.angle += 1.0
    level.until(5.0, Quiet, level.rest)
    assert level.say == ["changed"]
    assert level.told[0].change_deg == pytest.approx(1.0, abs=0.03)
    level.rest(60.0)
    assert level.say == ["changed"], "and from then on it stands there"


# --- before anything is known ------------------------------------------------------------------


def test_learning_takes_three_seconds_and_thirty_two_samples() -> None:
    level = Level()
    level.rest(3.4)
    assert level.is_in(Learning)
    level.rest(0.1)
    assert level.is_in(Quiet)
    assert level.say == ["quiet"]
    assert level.told[0].u95_deg == pytest.approx(0.05)


def test_silence_before_anything_is_known_starts_anew() -> None:
    level = Level()
    level.rest(3.0)
    silence(level)
    assert level.is_in(Unheard)
    assert level.say == ["no signal"]
    silence(level)
    assert level.say == ["no signal"], "told once"
    level.rest(0.1)
    assert level.is_in(Learning)
    level.rest(2.9)
    assert level.is_in(Learning), "what was gathered before is forgotten"
    silence(level)
    assert level.say == ["no signal"] * 2, "it was back in between"
    level.rest(3.5)
    assert level.is_in(Quiet)
    assert level.say[2:] == ["quiet"]


# --- the limits of each mode --------------------------------------------------------------------


def test_a_hand_is_three_samples_off_by_the_limit() -> None:
    level = in_mode(Quiet)
    for far in (8.2, 8.2, 0.0, -8.2, -8.2):
        level.push(level.angle + far)
    assert level.say == []
    level.push(level.angle - 8.2)
    assert level.say == ["lifted"]
    near = in_mode(Quiet)
    for _ in range(20):
        near.push(near.angle + 7.8)
    assert near.say == []


def test_a_hand_at_fifty_samples_a_second_is_three_tenths_of_one() -> None:
    watch = Watch(rate_hz=50, noise=Noise(sd_deg=SD, n=600), resolution_deg=0.01, witness=False)
    rng = random.Random(3)
    for _ in range(500):
        watch.push(rng.gauss(0.0, SD))
    said = [[one.state for one in watch.push(20.0)] for _ in range(15)]
    assert said == [[]] * 14 + [["lifted"]]


def test_lifted_and_held_far_off_is_never_at_rest() -> None:
    level = in_mode(Lifted)
    level.angle += 8.2
    level.rest(60.0)
    assert level.is_in(Lifted)
    assert level.say == []
    level.angle -= 0.4
    level.rest(5.0)
    assert level.is_in(Quiet)
    assert level.say == ["changed"]


@pytest.mark.parametrize(("samples", "told"), [(40, "quiet"), (39, "changed")])
def test_silent_for_five_seconds_in_all_it_may_lie_anew(samples: int, told: str) -> None:
    level = in_mode(Silent)
    level.rest(0.5)
    level.told += level.watch.missed(samples)
    level.angle += 0.15
    level.rest(20.0)
    assert level.is_in(Quiet)
    assert level.say == [told]


def test_a_silence_in_between_starts_the_rest_anew() -> None:
    level = in_mode(Silent)
    level.rest(1.6)
    level.watch.missed(1)
    level.rest(1.6)
    assert level.is_in(Silent)
    level.rest(0.6)
    assert level.is_in(Quiet)


def test_patience_ends_after_a_minute_away_from_rest() -> None:
    level = in_mode(Shaken)
    assert isinstance(level.watch.mode, Shaken)
    left = level.watch.mode.left.at
    level.until(70.0, Restless, lambda _: level.shake(0.4))
    assert 60 * RATE <= level.n - left <= 61 * RATE + 3, "at the next block"
    assert "for 60 s" in level.told[0].say


def test_a_shaking_is_told_five_seconds_after_it() -> None:
    level = in_mode(Shaken)
    level.rest(4.9)
    assert level.is_in(Quiet)
    assert level.say == []
    level.rest(1.1)
    assert level.say == ["shaken"]


def test_a_train_of_blows_is_told_once_after_the_last() -> None:
    level = in_mode(Shaken)
    for _ in range(5):
        level.rest(4.0)
        assert level.is_in(Quiet)
        level.shake(1.0)
    assert level.say == []
    level.rest(20.0)
    assert level.say == ["shaken"]


def test_a_creep_is_judged_when_it_has_ended() -> None:
    level = in_mode(Quiet)
    start = level.angle
    creep(level)
    assert level.is_in(Shaken)
    assert level.say == ["creeping"]
    assert float(level.told[0].say.split()[-6]) == pytest.approx(0.05, abs=0.005)
    level.creep(10.0)
    assert level.is_in(Shaken), "no rest while it creeps"
    level.rest(20.0)
    assert level.is_in(Quiet)
    assert level.say == ["creeping", "changed"]
    assert level.told[1].change_deg == pytest.approx(level.angle - start, abs=0.05)


def test_a_witness_heard_two_seconds_ago_is_one() -> None:
    level = Level(witness=True)
    for _ in range(200):
        level.watch.push_witness(level.rng.gauss(0.0, SD))
        level.push(level.angle)
    level.told.clear()
    level.rest(2.0)
    mode = level.watch.mode
    assert isinstance(mode, Quiet)
    assert mode.standing.place.against is not None
    assert mode.standing.place.against.t == mode.standing.place.own.t
    level.rest(2.0)
    mode = level.watch.mode
    assert isinstance(mode, Quiet)
    assert mode.standing.place.against is not None
    assert mode.standing.place.against.t == pytest.approx(mode.standing.place.own.t - 2.0)
