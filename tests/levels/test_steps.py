"""The smallest step of a level's numbers: found, or not claimed."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.levels.steps import STEPS_DEG, smallest_step


@pytest.mark.parametrize("step", STEPS_DEG)
def test_each_usual_step_is_found(step: float) -> None:
    rng = random.Random(3)
    shown = [round(round(rng.uniform(-60, 60) / step) * step, 3) for _ in range(400)]
    assert smallest_step(shown) == step


def test_scaled_on_the_way_it_is_found_as_well() -> None:
    shown = [number * 0.01 for number in range(-700, 700, 3)]
    assert smallest_step(shown) == 0.01


def test_a_level_that_lies_still_shows_too_few_numbers() -> None:
    assert smallest_step([1.7, 1.8] * 200) is None


def test_binary_fractions_of_a_turn_have_none_of_these() -> None:
    assert smallest_step([number * 360.0 / 65536.0 for number in range(500)]) is None


@given(st.lists(st.integers(-18_000, 18_000), min_size=12, max_size=60, unique=True))
def test_every_number_is_a_multiple_of_what_is_said(counts: list[int]) -> None:
    step = smallest_step([count / 100.0 for count in counts])
    assert step is not None
    assert all(abs(count / 100.0 / step - round(count / 100.0 / step)) < 1e-6 for count in counts)
