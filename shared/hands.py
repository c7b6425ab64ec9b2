"""What whoever plays a demo may have the simulated hands do, and with which key."""

from collections.abc import Callable
from typing import Literal

Deed = Literal[
    "lay",  # the level on the blade or hub face that the step wants
    "lift",  # the level off
    "turn over",  # the level in the hand, and back
    "propeller",  # turn it until the blade of the step is horizontal
    "coarser",
    "finer",  # the blade under the level, or of the step, by a tenth of a degree
    "much coarser",
    "much finer",  # by a degree
    "knock",  # another blade that is held, by chance, behind the program's back
]
Do = Callable[[Deed], str]
"""Has it done; returns in words what is done, or why not."""
KEYS: dict[Deed, tuple[str, str]] = {
    "lay": ("l", "L"),
    "lift": ("o", "O"),
    "turn over": ("minus", "-"),
    "propeller": ("p", "P"),
    "finer": ("comma", ","),
    "coarser": ("full_stop", "."),
    "much finer": ("less_than_sign", "<"),
    "much coarser": ("greater_than_sign", ">"),
    "knock": ("k", "K"),
}
"""The key of each deed, as a terminal names it and as a person reads it."""
