"""The star order of any number of bolts, and the picture of it."""

import math
from itertools import pairwise, permutations

import pytest

from shared.bolts import circle, star

COUNTS = range(3, 17)


@pytest.mark.parametrize(
    ("count", "order"),
    [
        # ASME PCC-1, legacy cross pattern, by position (from memory)
        (4, [1, 3, 2, 4]),
        (8, [1, 5, 3, 7, 2, 6, 4, 8]),
        (12, [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]),
    ],
)
def test_published_orders(count: int, order: list[int]) -> None:
    assert star(count) == order


@pytest.mark.parametrize("count", COUNTS)
def test_every_bolt_has_one_turn(count: int) -> None:
    assert sorted(star(count)) == list(range(1, count + 1))


@pytest.mark.parametrize("count", [n for n in COUNTS if n % 2 == 0])
def test_opposites_come_in_pairs(count: int) -> None:
    order = star(count)
    pairs = zip(order[::2], order[1::2], strict=True)
    assert all(abs(first - second) == count // 2 for first, second in pairs)


def apart(count: int, one: int, other: int) -> int:
    return min((one - other) % count, (other - one) % count)


def possible(count: int) -> bool:
    """Some order with opposite pairs (if the count is even) has no two neighbours in a row."""
    for order in permutations(range(count)):
        steps = list(pairwise(order))
        paired = count % 2 or all(apart(count, *steps[i]) == count // 2 for i in range(0, count, 2))
        if paired and all(apart(count, *step) > 1 for step in steps):
            return True
    return False


@pytest.mark.parametrize("count", COUNTS)
def test_no_two_neighbours_in_a_row_where_that_can_be(count: int) -> None:
    neighbours = [step for step in pairwise(star(count)) if apart(count, *step) == 1]
    # every order of 3 and 4 bolts was tried: none is without
    assert not neighbours or (count in {3, 4} and not possible(count))


@pytest.mark.parametrize("count", [n for n in COUNTS if n % 2])
def test_an_odd_circle_goes_as_far_across_as_it_can(count: int) -> None:
    assert {apart(count, *step) for step in pairwise(star(count))} == {count // 2}


def test_no_bolts_have_no_order() -> None:
    with pytest.raises(ValueError, match="no order"):
        star(0)


@pytest.mark.parametrize("count", range(1, 33))
def test_every_mark_stands_where_its_bolt_is(count: int) -> None:
    marks = [f"{number:03}" for number in range(1, count + 1)]
    lines = circle(marks)
    at = {
        mark: (row, line.index(mark) + 1)
        for row, line in enumerate(lines)
        for mark in marks
        if mark in line
    }
    assert set(at) == set(marks)  # none is drawn over
    middle_row, middle = (len(lines) - 1) / 2, at["001"][1]
    assert at["001"][0] == 0
    for place, mark in enumerate(marks):
        row, column = at[mark]
        turned = math.atan2((column - middle) / 2, middle_row - row) % math.tau
        off = abs((turned - math.tau * place / count + math.pi) % math.tau - math.pi)
        assert off < 0.5 / middle_row + 0.1
