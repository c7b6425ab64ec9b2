"""Bolts on a circle: in which order they are tightened, and a picture of it.

Numbered 1 to n round the circle. Each bolt's opposite comes next, so that the halves of a hub close
evenly: the star pattern of flanged joints (ASME PCC-1, legacy cross pattern).
"""

import math
from collections.abc import Sequence

ASPECT = 2.0
"""A terminal's cell is about twice as high as wide."""
ROOM = 0.35
"""Lines of radius a bolt: no two marks of three characters meet."""


def star(count: int) -> list[int]:
    """Return the order of `count` bolts, 1 to `count`.

    Even: pairs of opposite bolts, the pairs themselves in star order. Odd: no bolt has an
    opposite, the next is always one of the two that lie farthest away.

    Raises:
        ValueError: fewer than one bolt.
    """
    if count < 1:
        raise ValueError(f"{count} bolts have no order")
    if count <= 2:
        return list(range(1, count + 1))
    half = count // 2
    if count % 2:
        return [place * half % count + 1 for place in range(count)]
    return [bolt for first in star(half) for bolt in (first, first + half)]


def turns(order: Sequence[int]) -> list[int]:
    """Return the turn of each bolt in an order, bolt 1 first: 1 for the one that comes first."""
    return [order.index(bolt) + 1 for bolt in range(1, len(order) + 1)]


def marked(order: Sequence[int], done: Sequence[int]) -> list[str]:
    """Return what stands at each bolt, bolt 1 first: its turn, or a tick where it is tight."""
    return ["✓" if bolt in done else str(turn) for bolt, turn in enumerate(turns(order), 1)]


def circle(marks: Sequence[str]) -> list[str]:
    """Draw a bolt circle as lines of text, bolt 1 at the top, clockwise.

    marks: what stands at each bolt, bolt 1 first ("3" or "[3]"); at least one.
    """
    count, wide = len(marks), max(len(mark) for mark in marks)
    radius = max(2, math.ceil(count * ROOM))
    middle = round(ASPECT * radius) + wide
    grid = [[" "] * (2 * middle + 1) for _ in range(2 * radius + 1)]
    for place, mark in enumerate(marks):
        turn = 2.0 * math.pi * place / count
        row = radius - round(radius * math.cos(turn))
        left = middle + round(ASPECT * radius * math.sin(turn)) - len(mark) // 2
        grid[row][left : left + len(mark)] = mark
    return ["".join(line).rstrip() for line in grid]
