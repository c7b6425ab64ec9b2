"""How a stranger writes numbers into lines of JSON (RFC 8259)."""

import json
from dataclasses import dataclass
from typing import Any, Literal

from simulator.draws import Draws
from simulator.strangers.meaning import Meaning
from simulator.strangers.text_form import DECIMALS

_KEYS = {
    "angle": ("a", "tilt", "Inclination"),
    "second": ("b", "cross", "Lateral"),
    "roll": ("r", "roll", "Q1"),
    "pitch": ("p", "pitch", "Q2"),
    "ax": ("x", "ax", "U1"),
    "ay": ("y", "ay", "U2"),
    "az": ("z", "az", "U3"),
}
_TYPE_KEY = "is"


@dataclass(frozen=True, slots=True)
class JsonForm:
    """One way to write objects.

    Attributes:
        names: the numbers, in their order.
        tilt: those of the tilt.
        shape: the tilt's numbers beside the others, in an object of their own, or in an array.
        typed: each object says of which type it is; the others come in objects of their own then.
        quoted: numbers are written as text.
    """

    names: tuple[str, ...]
    tilt: tuple[str, ...]
    keys: int
    decimals: int
    shape: Literal["flat", "object", "array"] = "flat"
    typed: bool = False
    quoted: bool = False
    spaced: bool = False

    def frame(self, numbers: dict[str, float]) -> bytes:
        """Return the lines of one sample."""
        tilt = {_KEYS[name][self.keys]: self._number(numbers[name]) for name in self.tilt}
        others = {name: round(numbers[name], 1) for name in self.names if name not in self.tilt}
        if self.shape == "object":
            tilt = {"now": tilt}
        elif self.shape == "array":
            tilt = {"now": list(tilt.values())}
        if not self.typed:
            return self._line(tilt | others)
        lines = self._line({_TYPE_KEY: "tilt", "unit": 1} | tilt)
        return lines + (self._line({_TYPE_KEY: "state", "unit": 1} | others) if others else b"")

    def _number(self, value: float) -> Any:
        number = round(value, self.decimals) + 0.0
        return f"{number:.{self.decimals}f}" if self.quoted else number

    def _line(self, found: dict[str, Any]) -> bytes:
        separators = (", ", ": ") if self.spaced else (",", ":")
        return json.dumps(found, separators=separators).encode() + b"\n"


def drawn(draws: Draws, meaning: Meaning, others: tuple[str, ...]) -> JsonForm:
    """Draw how this level writes its objects."""
    names = (*others, *meaning.roles) if draws.chance(0.5) else (*meaning.roles, *others)
    return JsonForm(
        names=names,
        tilt=meaning.roles,
        keys=draws.one_of((0, 1, 2)),
        decimals=draws.one_of(tuple(max(1, each) for each in DECIMALS[meaning.unit])),
        shape=draws.one_of(("flat", "flat", "object", "array")),
        typed=draws.chance(0.35),
        quoted=draws.chance(0.25),
        spaced=draws.chance(0.5),
    )
