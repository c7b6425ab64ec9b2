"""Strangers of rarer formats, each with one of them instead of its own: objects of JSON, sending on a change."""

from collections.abc import Callable
from dataclasses import replace

from simulator.draws import Draws
from simulator.strangers import json_form
from simulator.strangers.level import Stranger, stranger

CHANGE_DEG = 0.1
_Drawn = Callable[[Draws, Stranger], Stranger]


def _in_json(draws: Draws, level: Stranger) -> Stranger:
    return replace(level, form=json_form.drawn(draws, level.meaning, level.others))


def _on_change(draws: Draws, level: Stranger) -> Stranger:
    """It has a dead band wider than its noise."""
    level.meaning.noise_deg = draws.one_of((0.0, 0.005, 0.01))
    return replace(level, change=CHANGE_DEG)


RARER: dict[str, tuple[Callable[[Stranger], bool], _Drawn]] = {
    "json": (lambda level: level.family == "text", _in_json),
    "on change": (lambda level: level.meaning.unit == "deg", _on_change),
}
"""By kind: which levels may be of it, and what is made of one of them."""


def rarer(kind: str, seed: int) -> Stranger:
    """Draw a level of this kind."""
    may_be, made = RARER[kind]
    levels = map(stranger, range(1000 * seed, 1000 * seed + 1000))
    return made(Draws(seed, 11), next(level for level in levels if may_be(level)))
