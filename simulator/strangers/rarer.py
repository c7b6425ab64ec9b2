"""Strangers of rarer formats, each with one of them instead of its own: objects of JSON."""

from collections.abc import Callable
from dataclasses import replace

from simulator.draws import Draws
from simulator.strangers import json_form
from simulator.strangers.level import Family, OtherForm, Stranger, stranger
from simulator.strangers.meaning import Meaning

_Drawn = Callable[[Draws, Meaning, tuple[str, ...]], OtherForm]
RARER: dict[str, tuple[Family, _Drawn]] = {
    "json": ("text", json_form.drawn),
}
"""By kind: whose line and meaning it has, and how its format is drawn."""


def rarer(kind: str, seed: int) -> Stranger:
    """Draw a level with a format of this kind."""
    family, drawn = RARER[kind]
    seeds = range(1000 * seed, 1000 * seed + 1000)
    level = next(one for one in map(stranger, seeds) if one.family == family)
    return replace(level, form=drawn(Draws(seed, 11), level.meaning, level.others))
