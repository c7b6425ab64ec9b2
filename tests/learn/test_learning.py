"""Formats nobody described: learned right, or not claimed.

What is right is decided by the true poses of `simulator/strangers`, which knows nothing of the
learner: the angle a learned profile shows, the whole way through codec and mounting.
"""

from dataclasses import replace

import pytest
from hypothesis import given as for_any
from hypothesis import settings
from hypothesis import strategies as st

from drivers.learn.asked import Heard, Mark
from drivers.learn.learning import framed, learn, within
from simulator.strangers.level import FULL, WALL_AND_FLOOR, Stranger, stranger
from simulator.strangers.person import Motion
from simulator.strangers.unlearnable import unlearnable
from tests.learn.truth import given, motions, wrong

S = 1_000_000_000


def shown(
    level: Stranger, asked: tuple[tuple[Motion, float | None], ...]
) -> tuple[Heard, list[Mark]]:
    arrived = level.heard(asked)
    return given(arrived, "serial" if level.baud else "ble-notify", level.baud)


def a_planar_text_level() -> Stranger:
    """One that sends degrees in lines."""
    return next(
        level
        for level in map(stranger, range(1, 200))
        if level.family == "text"
        and level.meaning.convention == "planar"
        and level.meaning.unit == "deg"
        and not level.meaning.sideways
        and level.meaning.base_deg == 0.0
    )


@pytest.mark.parametrize("seed", [1, 2, 3, 5, 7, 9, 11, 13, 18])
def test_an_invented_format_is_learned_right(seed: int) -> None:
    level = stranger(seed)
    outcome = learn(*shown(level, motions(seed)))
    assert wrong(level, outcome) == ""


def test_the_high_byte_of_a_number_is_not_taken_for_the_smoother_one() -> None:
    """In steps of 25.6 degrees it stood at 25 on a wedge of 25, and called itself certain."""
    level = stranger(8007)
    asked = motions(8007)
    assert asked[-1] == ("known", 25.0)
    outcome = learn(*shown(level, asked))
    assert wrong(level, outcome) == ""


@pytest.mark.parametrize("number", [0, 1, 3, 5, 6, 8, 13, 16, 24, 26])
def test_where_there_is_nothing_nothing_is_found(number: int) -> None:
    one = unlearnable(number)
    outcome = learn(*given(one.heard, "ble-notify" if one.radio else "serial", 9600))
    assert (outcome.candidates, outcome.certain) == ((), False)
    assert outcome.not_found_why.startswith("not found: "), one.title


def test_with_all_motions_it_is_certain_and_asks_for_nothing() -> None:
    outcome = learn(*shown(a_planar_text_level(), (*FULL, *WALL_AND_FLOOR)))
    assert outcome.certain
    assert (len(outcome.candidates), outcome.ask) == (1, None)
    assert outcome.candidates[0].unverified == ()


def test_positions_held_by_hand_prove_no_scale() -> None:
    outcome = learn(*shown(a_planar_text_level(), (*FULL, ("held", 60.0))))
    assert not outcome.certain
    assert "scale unverified" in outcome.candidates[0].unverified[0]
    assert "# Not verified: scale" in outcome.candidates[0].profile
    assert outcome.ask is not None
    assert (outcome.ask.motion, outcome.ask.deg) == ("known", 90.0)


def test_without_the_sideways_motion_no_convention_is_claimed() -> None:
    asked = tuple(one for one in (*FULL, *WALL_AND_FLOOR) if one[0] != "side")
    outcome = learn(*shown(a_planar_text_level(), asked))
    assert not outcome.certain
    assert {one.convention for one in outcome.candidates} == {"planar", "projection"}
    assert all("convention unverified" in one.unverified[0] for one in outcome.candidates)
    assert outcome.ask is not None
    assert outcome.ask.motion == "side"


def test_a_check_seen_in_few_frames_is_not_claimed() -> None:
    """As many frames, but the check agreed in 49 of them only."""
    level = next(one for one in map(stranger, range(1, 200)) if one.family == "binary")
    heard, marks = shown(replace(level, line_noise=0.0), (*FULL, *WALL_AND_FLOOR))
    [frames] = framed(heard)
    assert frames.checked > 50
    assert within(frames, heard, marks).certain
    few = within(replace(frames, checked=49), heard, marks)
    assert not few.certain
    assert "was seen in 49 frames only" in few.candidates[0].unverified[0]
    assert few.ask is not None
    assert few.ask.motion == "still"


def test_without_rest_or_tilt_it_says_what_is_missing() -> None:
    heard, marks = shown(a_planar_text_level(), FULL)
    only_still = learn(heard, [mark for mark in marks if mark.motion == "still"])
    assert only_still.ask is not None
    assert only_still.ask.motion == "tilt"
    nothing = learn(heard, [])
    assert nothing.ask is not None
    assert nothing.ask.motion == "still"


@settings(max_examples=60, deadline=None)
@for_any(st.lists(st.binary(max_size=200), max_size=60), st.sampled_from(["serial", "ble-notify"]))
def test_no_bytes_make_it_fail(chunks: list[bytes], link: str) -> None:
    heard, _ = given(
        unlearnable(0).heard.__class__([(n * S // 2, data) for n, data in enumerate(chunks)], []),
        link,
        9600,
    )
    marks = [Mark(0, 10 * S, "still"), Mark(10 * S, 20 * S, "tilt", 40.0)]
    assert not learn(heard, marks).certain


@pytest.mark.parametrize("seed", [2, 3])
def test_the_profile_says_where_it_comes_from(seed: int) -> None:
    level = stranger(seed)
    text = learn(*shown(level, motions(seed))).candidates[0].profile
    assert text.startswith("# Learned from a recording")
    assert "[mounting]  # the marked end towards the leading edge" in text
