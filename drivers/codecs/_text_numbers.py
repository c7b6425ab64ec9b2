"""Numbers in lines of text: labels in front, units behind, signs apart, decimal commas."""

import re
from typing import NamedTuple

from drivers.codecs._numbers import decimal
from drivers.codecs._scale import Kind
from drivers.codecs._text_notation import MINUTES, PRIMES, SIGN, THOUSANDS


class Token(NamedTuple):
    """A number as written, the unit behind it ("" where there is none), and a doubt.

    doubt: in a word why the number may not be what it seems, or "".
    """

    number: str
    unit: str = ""
    doubt: str = ""


_ITEM = re.compile(
    r"\s*(?:(?P<label>[A-Za-z_][A-Za-z0-9_ ]*?)\s*[=:]\s*|(?P<bare>[A-Za-z_]+)\s*(?=[+-]?\s*[\d.,]))?"
    r"(?P<number>(?>[+-]?\s*[\d.,]+))\s*(?P<unit>[^\s\d]\S*)?\s*\Z"
)
_HEX_ITEM = re.compile(
    r"\s*(?:(?P<label>[A-Za-z_][A-Za-z0-9_]*)\s*[=:]\s*)?(?:0[xX])?(?P<number>[0-9A-Fa-f]{1,8})\s*\Z"
)
_LONGEST_ITEM = 64
_SIGN_FIRST = re.compile(r"\A\s*([+-])\s+")
_SIGN_APART = re.compile(r"([+-])\s+(?=[\d.,])")
_UNIT_APART = re.compile(r"(?<=[\d.,])\s+(?=[^\s\d+.,-])")
_LABEL_APART = re.compile(r"\s*([=:])\s*")
_WHOLE = re.compile(r"[+-]?\s*\d{1,3}\Z")
_MINUTES_BEHIND = re.compile(rf"\s*(\d{{1,2}}(?:[.,]\d*)?)(?:\s|[{PRIMES}]|\Z)")
_THOUSANDS_BEHIND = re.compile(r"\s*\d{3}(?:[.,]\d*)?(?:\s|\Z)")

_SIGN_WORDS = frozenset(
    [
        "L",
        "R",
        "U",
        "D",
        "N",
        "S",
        "W",
        "P",
        "M",
        "UP",
        "DN",
        "DOWN",
        "LEFT",
        "RIGHT",
        "POS",
        "NEG",
        "PLUS",
        "MINUS",
    ]
)
_ERROR_WORDS = frozenset({"E", "ER", "ERR", "ERROR"})
"""Words that, written to a number without = or :, may be its sign or make it no angle."""
_SIGNS_BEHIND = _SIGN_WORDS | {"E", "+", "-"}
"""Words that, alone behind a number, may be its sign."""

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
_UNITS = frozenset().union(*_MEANS.values()) - {"", "c", "d", "f"}
"""Words that are units wherever they stand; the letters left out may be anything."""


def decimal_text(text: str, *, comma: bool) -> float | None:
    """Read a number whose sign may stand apart; None when it is anything else."""
    joined = _SIGN_FIRST.sub(r"\1", text)
    return decimal(joined.encode(), comma=comma) if joined.isascii() else None


def hex_text(text: str, *, signed: bool) -> tuple[float, Kind]:
    """Read hexadecimal digits, highest first; signed ones are two's complement of their length.

    text: 1 to 8 hexadecimal digits.
    """
    value, bits = int(text, 16), 4 * len(text)
    if signed and value >> (bits - 1):
        value -= 1 << bits
    return float(value), f"{'i' if signed else 'u'}{bits}"


def unit_fits(written: str, role: str, unit: str) -> bool:
    """Tell whether a written unit may stand behind a number of this unit."""
    if unit == "1" or (unit == "deg" and role not in _ANGLES):
        return True  # the profile makes no claim about it
    return written.casefold() in _MEANS[unit]


def _alone(words: list[str]) -> bool:
    """Tell whether the word behind a number may be its sign."""
    return bool(words) and words[0].strip().upper() in _SIGNS_BEHIND


def unit_behind(rest: str) -> str:
    """Return the unit that stands apart behind a number, "" where the next word is none."""
    words = rest.split(maxsplit=1)
    return words[0] if words and words[0].casefold() in _UNITS else ""


def doubt_behind(number: str, unit: str, rest: str) -> str:
    """Return what the text behind a number makes doubtful about it, or "".

    A lone sign, or a letter for one, may belong to the number before it. A whole number may be
    degrees with a number of minutes behind it, or thousands with three digits.
    """
    if _alone(rest.split(maxsplit=1)):
        return SIGN
    if unit.casefold() not in _MEANS["deg"] or not _WHOLE.match(number):
        return ""
    behind = _MINUTES_BEHIND.match(rest)
    if behind and float(behind[1].replace(",", ".")) < 60.0:
        return MINUTES
    return THOUSANDS if _THOUSANDS_BEHIND.match(rest) else ""


def tokens(text: str, separator: str | None, *, hexadecimal: bool) -> dict[str, Token]:
    """Split a line; return its numbers by position from "1" and by label.

    separator: None for blanks; then a unit or a sign that stands apart belongs to its number.
    Empty when an item is overlong: that is no line of numbers.
    """
    if separator is None and not hexadecimal:
        text = _LABEL_APART.sub(r"\1", _SIGN_APART.sub(_joined, text))
        text = _UNIT_APART.sub("", text) if not _labelled(text) else text
    items = text.split(separator)
    if any(len(item) > _LONGEST_ITEM for item in items):
        return {}
    found: dict[str, Token] = {}
    for index, item in enumerate(items):
        match = (_HEX_ITEM if hexadecimal else _ITEM).match(item)
        if match is not None:
            parts = match.groupdict()
            token = Token(parts["number"], parts.get("unit") or "")
            bare = parts.get("bare") or ""
            if not hexadecimal:
                token = _doubted(token, items, index, separator)
            doubt = token.doubt or _doubt_before(bare)
            found[str(index + 1)] = token._replace(doubt=doubt)
            _label(found, parts["label"] or bare, token)
    return found


def _doubt_before(word: str) -> str:
    """Return what a word written to a number makes doubtful about it, unless it is the source."""
    if word.upper() in _ERROR_WORDS:
        return "format"
    return SIGN if word.upper() in _SIGN_WORDS else ""


def _label(found: dict[str, Token], label: str, token: Token) -> None:
    """Keep a number by its label; one that comes twice names neither."""
    if label:
        found[label] = token._replace(doubt="several sensors") if label in found else token


def _doubted(token: Token, items: list[str], index: int, separator: str | None) -> Token:
    before = items[index - 1].strip() if index else ""
    if before in {"+", "-"} or _alone(items[index + 1 : index + 2]):
        return token._replace(doubt=SIGN)
    rest = " ".join(items[index + 1 :]) if separator is None else ""
    return token._replace(doubt=doubt_behind(token.number, token.unit, rest))


def _joined(match: re.Match[str]) -> str:
    """A sign with blanks on both sides may belong to the number before it: then it stays apart."""
    before = match.string[: match.start()]
    apart = before != before.rstrip() and before.rstrip()[-1:] in "0123456789.,°º"
    return match[0] if before.strip() and apart else match[1]


def _labelled(text: str) -> bool:
    """With labels a word behind a number may be the next label, not a unit."""
    return "=" in text or ":" in text
