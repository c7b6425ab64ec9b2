"""A level turned over in the hand, and back: told from all else that is done with a level.

Hands are simulated; no real one has tried it.
"""

import math
import random
from collections.abc import Iterable

import pytest

from daemon.measure.stream.tilts import Tilt
from daemon.measure.stream.turnover import OVER, Turnover, feels
from shared.inputs import NS
from tests.measure.levels import profile


def carried(
    poses: Iterable[tuple[float, float]], rate_hz: float = 10.0, *, flat: bool = False
) -> int:
    """Carry a level through (angle, seconds) one after the other; return how often it was turned over."""
    turnover, t_ns, seen = Turnover(), 0, 0
    turnover.lie(_tilt(20.0, flat=flat), t_ns)
    draws = random.Random(1)
    for angle, seconds in poses:
        for _ in range(max(1, round(seconds * rate_hz))):
            t_ns += round(NS / rate_hz)
            seen += turnover.carry(_tilt(angle + draws.gauss(0.0, 2.0), flat=flat), t_ns, rate_hz)
    return seen


def _tilt(angle: float, *, flat: bool = False) -> Tilt:
    if flat:
        return Tilt(angle, None, None)
    a = math.radians(angle)
    return Tilt(angle, 0.0, (math.cos(a), 0.0, -math.sin(a)))


OVER_AND_BACK = [(20.0, 0.4), (110.0, 0.2), (200.0, 0.6), (110.0, 0.2), (22.0, 0.6)]


@pytest.mark.parametrize("rate_hz", [5.0, 10.0, 50.0, 100.0])
@pytest.mark.parametrize("flat", [False, True])
def test_over_and_back_is_seen_once_at_any_rate(rate_hz: float, flat: bool) -> None:
    assert carried(OVER_AND_BACK, rate_hz, flat=flat) == 1


def test_the_first_hold_may_be_the_place_it_was_lifted_from() -> None:
    assert carried([(110.0, 0.2), (200.0, 0.5), (110.0, 0.2), (20.0, 0.5)]) == 1


def test_twice_is_twice() -> None:
    assert carried(OVER_AND_BACK * 2) == 2


@pytest.mark.parametrize(
    ("what", "poses"),
    [
        ("put into its case, and left there", [(20.0, 0.5), (200.0, 20.0)]),
        (
            "out of its case, and shaken right",
            [(200.0, 9.0), (20.0, 0.5), (24.0, 0.3), (18.0, 3.0)],
        ),
        ("looked at from below, slowly", [(20.0, 0.5), (200.0, 4.0), (20.0, 1.0)]),
        ("on its side", [(20.0, 0.5), (110.0, 1.0), (20.0, 1.0)]),
        (
            "end for end for the other side: the vertical stays",
            [(20.0, 0.5), (-20.0, 1.0), (20.0, 1.0)],
        ),
        ("swung past without a halt", [(a % 360.0, 0.1) for a in range(20, 760, 40)]),
    ],
)
def test_all_else_is_not(what: str, poses: list[tuple[float, float]]) -> None:
    assert carried(poses) == 0, what


def test_a_swinging_hand_turns_nothing_over() -> None:
    """Ornstein and Uhlenbeck's process with 40 degrees and half a second: 7,200 lifts of 5 s, in one of 1,000 at most."""
    draws, hand, turnover, seen = random.Random(7), 0.0, Turnover(), 0
    turnover.lie(_tilt(0.0), 0)
    keep = math.exp(-0.2)
    for step in range(360_000):
        hand = keep * hand + draws.gauss(0.0, 40.0 * math.sqrt(1.0 - keep * keep))
        seen += turnover.carry(_tilt(hand), step * NS // 10, 10.0)
    assert seen <= 7


def held_for(over: int, rate_hz: float, *, upright: int | None = None) -> bool:
    """Hold it over, then upright, for so many samples each; return whether that turned it over and back."""
    turnover, seen = Turnover(), False
    turnover.lie(_tilt(0.0), 0)
    poses = [180.0] * over + [0.0] * (over if upright is None else upright)
    for at, angle in enumerate(poses, start=1):
        seen |= turnover.carry(_tilt(angle), round(at * NS / rate_hz), rate_hz)
    return seen


@pytest.mark.parametrize(("rate_hz", "least"), [(10.0, 4), (100.0, 31)])
def test_a_hold_is_more_than_three_tenths_of_a_second(rate_hz: float, least: int) -> None:
    assert held_for(least, rate_hz)
    assert not held_for(least - 1, rate_hz, upright=least)
    assert not held_for(least, rate_hz, upright=least - 1)


@pytest.mark.parametrize(("apart", "still"), [(19.0, True), (21.0, False)])
def test_a_hand_that_holds_wavers_by_less_than_twenty_degrees(apart: float, still: bool) -> None:
    over = [180.0, 180.0 + apart] * 4
    turnover = Turnover()
    turnover.lie(_tilt(0.0), 0)
    seen = [turnover.carry(_tilt(a), n * NS // 10, 10.0) for n, a in enumerate([*over, *[0.0] * 4])]
    assert any(seen) is still


@pytest.mark.parametrize(("by", "is_over"), [(149.0, False), (151.0, True)])
def test_over_is_a_hundred_and_fifty_degrees_both_ways(by: float, is_over: bool) -> None:
    turnover = Turnover()
    turnover.lie(_tilt(0.0), 0)
    seen = [
        turnover.carry(_tilt(a), n * NS // 10, 10.0) for n, a in enumerate([by] * 4 + [0.0] * 4)
    ]
    assert any(seen) is is_over


def test_just_a_hundred_and_fifty_is_over() -> None:
    lay, over = (1.0, 0.0, 0.0), (OVER, 0.0, math.sqrt(1.0 - OVER * OVER))
    turnover, seen = Turnover(), False
    turnover.lie(Tilt(0.0, 0.0, lay), 0)
    for at, up in enumerate([over] * 4 + [lay] * 4):
        seen |= turnover.carry(Tilt(0.0, 0.0, up), at * NS // 10, 10.0)
    assert seen


@pytest.mark.parametrize(("late_ns", "seen"), [(0, True), (1, False)])
def test_what_was_held_three_seconds_ago_counts_and_longer_ago_no_more(
    late_ns: int, seen: bool
) -> None:
    """From where it lay to the hold as before, which is the first that could make it a press."""
    turnover = Turnover()
    turnover.lie(_tilt(0.0), 0)
    over = [(180.0, NS + at * NS // 10) for at in range(4)]
    back = [(0.0, 3 * NS + late_ns - before * NS // 10) for before in (3, 2, 1, 0)]
    found = [turnover.carry(_tilt(angle), t_ns, 10.0) for angle, t_ns in [*over, *back]]
    assert any(found) is seen


@pytest.mark.parametrize(
    ("low", "high", "felt"),
    [(-150.0, 90.0, True), (-149.0, 90.0, False), (-90.0, 150.0, True), (-90.0, 149.0, False)],
)
def test_a_level_feels_it_that_can_show_the_other_way_up(
    low: float, high: float, felt: bool
) -> None:
    assert feels(profile(limits={"low_deg": low, "high_deg": high})) is felt


def test_a_level_that_folds_or_has_one_axis_feels_nothing() -> None:
    assert feels(profile())
    assert not feels(profile("projection"))
    assert not feels(profile(limits={"low_deg": -90.0, "high_deg": 90.0}))
