"""A hand, a turning blade and bad samples, at the limits that tell them apart."""

import random
from collections.abc import Callable

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from daemon.measure.stream.handling import Handling, Windows, windows_of
from daemon.measure.stream.stretch import Stretch
from daemon.measure.stream.tilts import Tilt

LIFT, SD = 8.0, 0.03
HELD = [10.0] * 20


class Level:
    """A level at ten a second that rests at 10 degrees."""

    def __init__(self, *, rests: bool = True) -> None:
        self.stretch = Stretch(circular=True)
        self.stretch.keep(1000)
        self.handling = Handling(self.stretch, SD, LIFT, 10.0)
        self.push(*HELD)
        if rests:
            self.handling.rests(10.0, SD)

    def push(self, *angles: float) -> list[bool]:
        """Push; return after each whether it is in hand."""
        said = []
        for angle in angles:
            self.stretch.push(Tilt(angle, None, None))
            said.append(self.handling.in_hand())
        return said


@pytest.mark.parametrize(
    ("rate_hz", "windows"),
    [
        (1.0, Windows(6, 8, 5, 3)),
        (6.0, Windows(6, 8, 5, 3)),
        (10.0, Windows(8, 10, 5, 3)),
        (12.6, Windows(10, 13, 6, 3)),
        (100.0, Windows(53, 100, 40, 5)),
    ],
)
def test_windows(rate_hz: float, windows: Windows) -> None:
    assert windows_of(rate_hz) == windows


def test_too_few_samples_say_nothing() -> None:
    level = Level(rests=False)
    level.stretch.clear()
    assert not any(level.push(0.0, 20.0, 40.0, 0.0, 60.0, -10.0, 80.0))
    assert level.push(-40.0) == [True]


@pytest.mark.parametrize(("to", "in_hand"), [(29.9, False), (30.1, True)])
def test_left_by_far_was_lifted_however_slowly(to: float, in_hand: bool) -> None:
    # 2.5 times the lift angle of 8 degrees
    level = Level()
    steps = 400
    said = level.push(*(10.0 + (to - 10.0) * (i + 1) / steps for i in range(steps)))
    said += level.push(*[to] * 3)
    assert any(said) is in_hand


@pytest.mark.parametrize(("per_s", "in_hand"), [(11.5, False), (12.5, True)])
def test_left_by_the_lift_angle_faster_than_a_blade_is_turned(per_s: float, in_hand: bool) -> None:
    level = Level()
    said = level.push(*(10.0 + per_s * (i + 1) / 10 for i in range(12)))
    assert any(said) is in_hand


def test_less_than_the_lift_angle_is_no_lift() -> None:
    level = Level()
    assert not any(level.push(11.3, 12.6, 13.9, 15.2, 16.5, *[17.9] * 9))


def test_the_quickest_movement_since_the_rest_counts() -> None:
    level = Level()
    quick = [11.6, 13.2, 14.8, 16.5, *[16.5] * 12]
    assert not any(level.push(*quick))
    assert any(level.push(*(16.5 + 0.3 * (i + 1) for i in range(12))))
    level = Level()
    level.push(*quick)
    level.handling.rests(16.5, SD)
    assert not any(level.push(*(16.5 + 0.3 * (i + 1) for i in range(28))))


@pytest.mark.parametrize(("per_s", "in_hand"), [(15.9, False), (16.1, True)])
def test_without_a_rest_only_speed_counts(per_s: float, in_hand: bool) -> None:
    # half a second of it passes the lift angle
    level = Level(rests=False)
    said = level.push(*(10.0 + per_s * (i + 1) / 10 for i in range(30)))
    assert any(said) is in_hand


@pytest.mark.parametrize(("size", "in_hand"), [(0.149, False), (0.151, True)])
def test_a_hand_jitters(size: float, in_hand: bool) -> None:
    # second differences of +x, -x are 4 x; the limit is 0.6
    level = Level(rests=False)
    assert any(level.push(*([10.0 + size, 10.0 - size] * 12))) is in_hand


@pytest.mark.parametrize(("uneven", "in_hand"), [(7, False), (8, True)])
def test_two_in_five_samples_may_be_smooth(uneven: int, in_hand: bool) -> None:
    # of the ten bends of a second, more than the sixth largest must reach the limit
    level = Level(rests=False)
    level.push(*[10.0 + 0.4 * (i % 2) for i in range(uneven - 1)])
    assert level.push(10.0 + 0.4 * ((uneven - 1) % 2)) == [in_hand]


def test_a_noisy_level_may_jitter_as_its_noise_does() -> None:
    for sd, in_hand in ((0.2, False), (0.05, True)):
        level = Level(rests=False)
        level.handling.set_noise(sd)
        assert any(level.push(*([10.3, 9.7] * 12))) is in_hand


def test_a_rest_that_was_seen_to_be_noisier_lets_more_jitter_pass() -> None:
    for seen, in_hand in ((0.25, False), (0.05, True)):
        level = Level()
        level.handling.rests(30.0, seen)  # elsewhere, so that nothing is mostly at rest
        level.stretch.clear()
        said = level.push(*([33.45, 32.55] * 12))
        assert any(said) is in_hand


def test_a_few_bad_samples_at_rest_are_no_hand() -> None:
    level = Level()
    assert not any(level.push(*([10.0, 10.0, 10.0, 17.0, 3.0] * 6)))
    level.handling.lifted()
    assert any(level.push(*([10.0, 10.0, 16.0, 17.0, 3.0] * 6)))


def test_at_rest_is_most_of_a_second_within_five_deviations() -> None:
    for off, in_hand in ((0.149, False), (0.151, True)):
        level = Level()
        # 6 of 10 near the rest, the others wild
        wild = [10.0 + off, 16.0, 10.0 - off, 4.0, 10.0 + off]
        assert any(level.push(*(wild * 8))[10:]) is in_hand


def test_left_is_most_of_the_newest_four_deviations_off() -> None:
    for off, left in ((0.119, False), (0.121, True)):
        level = Level()
        level.push(*[10.0 + off] * 2)
        assert not level.handling.left()
        level.push(10.0 + off)
        assert level.handling.left() is left
    level.handling.lifted()
    assert not level.handling.left()


def test_a_noise_that_is_learned_is_the_measure_from_then_on() -> None:
    level = Level()
    level.push(*[10.2] * 5)
    assert level.handling.left()
    level.handling.set_noise(0.06)
    assert not level.handling.left()
    level.handling.rests(10.0, 0.01)  # never less than what is known
    assert not level.handling.left()


def test_another_rate_has_other_windows() -> None:
    level = Level()
    level.handling.set_rate(40.0)
    level.push(*[10.2] * 7)
    assert not level.handling.left()
    level.push(*[10.2] * 2)
    assert level.handling.left()
    # four times the rate, four times the speed
    level = Level(rests=False)
    level.handling.set_rate(40.0)
    assert any(level.push(*(10.0 + 0.5 * (i + 1) for i in range(60))))


class Slowly(Handling):
    """Looks at every sample as if nothing had been counted."""

    def _lies(self) -> bool:
        self._near = 0
        return False


class Both:
    """One level's samples, watched with and without counting."""

    def __init__(self, seed: int, sd: float, lift_deg: float, rate_hz: float) -> None:
        self.rng, self.sd, self.rate_hz, self.at = random.Random(seed), sd, rate_hz, 10.0
        self.stretch = Stretch(circular=True)
        self.stretch.keep(200)
        self.pair = [kind(self.stretch, sd, lift_deg, rate_hz) for kind in (Handling, Slowly)]
        self.lie(70)
        self.rest(2)

    def push(self, angle: float) -> None:
        self.stretch.push(Tilt(angle, None, None))
        quick, slow = ((it.in_hand(), it.left()) for it in self.pair)
        assert quick == slow

    def lie(self, count: int) -> None:
        for _ in range(count):
            self.push(self.at + self.rng.gauss(0.0, self.sd))

    def spike(self, count: int) -> None:
        self.push(self.at + 3.0 * count * self.sd)

    def turn(self, count: int) -> None:
        for _ in range(count % 7):
            self.at += 1.5 * self.sd * (count % 7)
            self.push(self.at)

    def swing(self, count: int) -> None:
        for k in range(count % 20):
            self.push(self.at + 12.0 * (k % 3))

    def rock(self, count: int) -> None:
        for k in range(count):
            self.push(self.at + 3.8 * self.sd * (-1) ** (k // 5))

    def creep(self, count: int) -> None:
        for _ in range(count):
            self.at += 0.1
            self.push(self.at)

    def rest(self, count: int) -> None:
        for it in self.pair:
            it.rests(self.at, self.sd * (count % 5) / 2.0)

    def lift(self, _: int) -> None:
        for it in self.pair:
            it.lifted()

    def learn(self, count: int) -> None:
        for it in self.pair:
            it.set_noise(self.sd * (0.1 + count % 5) / 2.0)
            it.set_rate(self.rate_hz * (1 + count % 3))


WAYS = [
    *(Both.lie, Both.spike, Both.turn, Both.swing, Both.rock, Both.creep),
    *(Both.rest, Both.lift, Both.learn),
]


@example(seed=1, sd=0.03, lift_deg=8.0, rate_hz=10.0, ways=[(Both.swing, 6), (Both.lie, 9)])
@example(seed=1, sd=2.5, lift_deg=8.0, rate_hz=10.0, ways=[(Both.rock, 40)])
@example(seed=1, sd=0.6, lift_deg=0.2, rate_hz=10.0, ways=[(Both.rock, 40)])
@example(seed=1, sd=0.9, lift_deg=8.0, rate_hz=10.0, ways=[(Both.rock, 40), (Both.creep, 99)])
@example(seed=1, sd=0.14, lift_deg=0.2, rate_hz=1.0, ways=[(Both.rock, 40)])
@example(seed=4, sd=2.5, lift_deg=8.0, rate_hz=10.0, ways=[(Both.learn, 15), (Both.lie, 20)])
@given(
    seed=st.integers(0, 10**6),
    sd=st.sampled_from([0.01, 0.03, 0.6, 2.5]),
    lift_deg=st.sampled_from([0.2, 8.0]),
    rate_hz=st.sampled_from([1.0, 8.0, 9.0, 10.0, 25.0, 60.0]),
    ways=st.lists(st.tuples(st.sampled_from(WAYS), st.integers(1, 70)), max_size=14),
)
def test_counting_what_lies_at_the_rest_changes_no_answer(
    seed: int,
    sd: float,
    lift_deg: float,
    rate_hz: float,
    ways: list[tuple[Callable[[Both, int], None], int]],
) -> None:
    both = Both(seed, sd, lift_deg, rate_hz)
    for way, count in ways:
        way(both, count)
