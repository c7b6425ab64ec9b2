"""Numbers in lines of text: labels in front, units behind, signs apart, decimal commas."""

import re

from drivers.codecs._numbers import decimal

Token = tuple[str, str]
"""A number as written, and the unit behind it ("" where there is none)."""

_ITEM = re.compile(
    r"\s*(?:(?P<label>[A-Za-z_][A-Za-z0-9_ ]*?)\s*[=:]\s*|(?P<bare>[A-Za-z_]+)\s*(?=[+-]?\s*[\d.,]))?"
    r"(?P<number>(?>[+-]?\s*[\d.,]+))\s*(?P<unit>[^\s\d]\S*)?\s*\Z"
)
_LONGEST_ITEM = 64
_SIGN_APART = re.compile(r"([+-])\s+(?=[\d.,])")
_UNIT_APART = re.compile(r"(?<=[\d.,])\s+(?=[^\s\d+.,-])")
_LABEL_APART = re.compile(r"\s*([=:])\s*")

_MEANS: dict[str, frozenset[str]] = {
    "deg": frozenset({"", "°", "º", "deg", "degs", "degree", "degrees", "d"}),
    "rad": frozenset({"", "rad"}),
    "percent": frozenset({"", "%", "percent", "pct"}),
    "mm/m": frozenset({"", "mm/m"}),
    "g": frozenset({"", "g"}),
    "mg": frozenset({"", "mg"}),
    "m/s2": frozenset({"", "m/s2", "m/s²", "m/s^2"}),
    "degC": frozenset({"", "c", "°c", "ºc", "degc"}),
    "degF": frozenset({"", "f", "°f", "ºf", "degf"}),
}
_ANGLES = frozenset({"angle", "roll", "pitch"})


def decimal_text(text: str, *, comma: bool) -> float | None:
    """Read a number whose sign may stand apart; None when it is anything else."""
    squeezed = text.replace(" ", "").replace("\t", "")
    if not squeezed.isascii():
        return None
    return decimal(squeezed.encode(), comma=comma)


def unit_fits(written: str, role: str, unit: str) -> bool:
    """Tell whether a written unit may stand behind a number of this unit."""
    if unit == "1" or (unit == "deg" and role not in _ANGLES):
        return True  # the profile makes no claim about it
    return written.casefold() in _MEANS[unit]


def tokens(text: str, separator: str | None) -> dict[str, Token]:
    """Split a line; return its numbers by position from "1" and by label.

    separator: None for blanks; then a unit or a sign that stands apart belongs to its number.
    Empty when an item is overlong: that is no line of numbers.
    """
    if separator is None:
        text = _LABEL_APART.sub(r"\1", _SIGN_APART.sub(r"\1", text))
        text = _UNIT_APART.sub("", text) if not _labelled(text) else text
    found: dict[str, Token] = {}
    for position, item in enumerate(text.split(separator), 1):
        if len(item) > _LONGEST_ITEM:
            return {}
        match = _ITEM.match(item)
        if match is None:
            continue
        token = (match["number"], match["unit"] or "")
        found[str(position)] = token
        label = match["label"] or match["bare"]
        if label:
            found.setdefault(label, token)
    return found


def _labelled(text: str) -> bool:
    """With labels a word behind a number may be the next label, not a unit."""
    return "=" in text or ":" in text
