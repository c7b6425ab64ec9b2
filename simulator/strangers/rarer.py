"""Strangers of rarer formats, each with one of them instead of its own: JSON, lines and frames of several kinds, sending on a change."""

from collections.abc import Callable
from dataclasses import replace

from simulator.draws import Draws
from simulator.strangers import json_form, kinds_form
from simulator.strangers.binary_form import BinaryForm
from simulator.strangers.level import Stranger, stranger
from simulator.strangers.text_form import DECIMALS

CHANGE_DEG = 0.1
_Drawn = Callable[[Draws, Stranger], Stranger]


def _in_json(draws: Draws, level: Stranger) -> Stranger:
    return replace(level, form=json_form.drawn(draws, level.meaning, level.others))


def _on_change(draws: Draws, level: Stranger) -> Stranger:
    """It has a dead band wider than its noise."""
    level.meaning.noise_deg = draws.one_of((0.0, 0.005, 0.01))
    return replace(level, change=CHANGE_DEG)


def _lines_of_kinds(draws: Draws, level: Stranger) -> Stranger:
    decimals = DECIMALS[level.meaning.unit][0]
    return replace(
        level,
        form=kinds_form.lines(draws, level.meaning.roles, decimals),
        others=("temperature", "battery", "counter", "clock"),
    )


def _frames_of_kinds(draws: Draws, level: Stranger) -> Stranger:
    assert isinstance(level.form, BinaryForm)
    return replace(level, form=kinds_form.frames(draws, level.form))


RARER: dict[str, tuple[Callable[[Stranger], bool], _Drawn]] = {
    "json": (lambda level: level.family == "text", _in_json),
    "lines of kinds": (lambda level: level.family == "text", _lines_of_kinds),
    "frames of kinds": (lambda level: level.family == "binary", _frames_of_kinds),
    "on change": (lambda level: level.meaning.unit == "deg", _on_change),
}
"""By kind: which levels may be of it, and what is made of one of them."""


def rarer(kind: str, seed: int) -> Stranger:
    """Draw a level of this kind."""
    may_be, made = RARER[kind]
    levels = map(stranger, range(1000 * seed, 1000 * seed + 1000))
    return made(Draws(seed, 11), next(level for level in levels if may_be(level)))
