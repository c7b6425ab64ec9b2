"""How often the whole procedure is right, simulated with a seed, against the stated table.

The bounds are the table's own figures, three standard errors of the number of trials wide.
"""

import math

import pytest

from benchmarks.between import score

TRIALS = 400


def near(found: float, stated: float, points: float = 0.02) -> bool:
    error = math.sqrt(max(stated * (1.0 - stated), 0.002) / TRIALS)
    return abs(found - stated) < points + 3.0 * error


@pytest.mark.parametrize(
    ("move", "called"), [(0.15, 0.22), (0.2, 0.60), (0.25, 0.89), (0.3, 0.98), (0.4, 1.0)]
)
def test_one_of_three_moved(move: float, called: float) -> None:
    found = score(11, TRIALS, [0.0, move, 0.0], most=4)
    assert near(found.called, called)
    assert found.accused <= 0.01
    assert found.blamed <= 0.01


@pytest.mark.parametrize(
    ("moves", "tightened", "called", "blamed"),
    [
        ([0.4, 0.4, 0.0], False, 1.0, 0.005),
        ([0.4, 0.4, 0.4, 0.0], False, 0.995, 0.005),
        ([0.4] * 3, False, 0.94, 0.06),
        ([0.4] * 4, False, 0.79, 0.21),
        ([0.4] * 3, True, 0.995, 0.005),
        ([0.4] * 6, True, 0.91, 0.09),
    ],
)
def test_several_moved_alike_with_the_reference_blamed_at_once(
    moves: list[float], tightened: bool, called: float, blamed: float
) -> None:
    """No worse than is stated of rules that place blades again where only a shift stands against a call."""
    found = score(12, TRIALS, moves, tightened=tightened, most=4, reference_placements=1)
    assert found.called > called or near(found.called, called)
    assert found.blamed < blamed or near(found.blamed, blamed)
    assert found.accused <= 0.01


def test_a_call_that_only_a_shift_stands_against_has_the_reference_read() -> None:
    """Placed again instead, all four were called in 8 jobs of 10, and the reference blamed in 2."""
    found = score(12, TRIALS, [0.4] * 4, most=4, reference_placements=1)
    assert found.called >= 0.95
    assert found.blamed <= 0.03
    assert found.placements <= 6.6  # of 7.0 before


@pytest.mark.parametrize("count", [3, 4])
def test_reading_the_reference_twice_more_finds_most_of_those_it_was_blamed_for(count: int) -> None:
    found = score(13, TRIALS, [0.4] * count)
    assert found.called >= 0.94
    assert found.blamed <= 0.03


@pytest.mark.parametrize("count", [2, 3, 6])
def test_a_shift_is_always_blamed_and_nobody_accused(count: int) -> None:
    found = score(14, TRIALS // 2, [0.0] * count, shift=-0.4)
    assert found.blamed >= 0.99
    assert found.accused <= 0.005


def test_nothing_moved_and_nobody_is_accused() -> None:
    found = score(15, 2 * TRIALS, [0.0] * 3)
    assert found.accused <= 0.005
    assert found.blamed <= 0.005
