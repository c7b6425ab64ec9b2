"""Patterns for lines of text: "X={x} Y={y} {*}".

`{name}` is a number, with its unit behind it where the pattern goes on with a blank or a
separator; `{name:4}` a number of exactly four characters; `{*}` is anything up to the first
place where what follows fits, or the rest of the line. Blanks in the pattern stand for any
number of blanks. Matching never goes back, so no line can make it slow.
"""

import re
from dataclasses import dataclass

_TOKEN = re.compile(r"\{(\*|[A-Za-z_][A-Za-z0-9_]*(?::[1-9]\d?)?)\}")
_UNIT = r"[^\s\d,;+.-]*"


@dataclass(frozen=True, slots=True)
class Pattern:
    """A compiled pattern: groups `<name>` and `<name>_unit` by field.

    open: names behind which anything may stand, so that it must be looked at for what
    belongs to the number.
    """

    expression: re.Pattern[str]
    names: tuple[str, ...]
    open: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Numbers:
    """How numbers are written."""

    mark: str
    hexadecimal: bool

    @property
    def beginning(self) -> str:
        """What a number begins with."""
        return "[0-9A-Fa-f]" if self.hexadecimal else r"[+-]?[ \t]*[.,]?\d"

    def expression(self, following: str, width: str) -> str:
        """A number in front of the text `following`; blanks count in a fixed width."""
        if self.hexadecimal:
            return rf"[0-9A-Fa-f]{{{width or '1,8'}}}"
        if width:
            return rf"[ 0-9+.,-]{{{width}}}"
        # What follows may itself begin with the decimal mark; then a mark without digits
        # behind it is not the number's. Any other mark with digits would cut a number in two.
        m, after = re.escape(self.mark), following.lstrip()[:1]
        digits = rf"\d++(?:{m}\d{'+' if after == self.mark else '*'}+)?+|{m}\d++"
        other = "".join(char for char in ".," if char != after)
        return rf"[+-]?[ \t]*(?:{digits})(?![{other}]\d)"


def compile_pattern(text: str, *, comma: bool = False, hexadecimal: bool = False) -> Pattern:
    """Compile a pattern.

    comma: the decimal mark is a comma. hexadecimal: numbers are hexadecimal digits.

    Raises:
        ValueError: no field, a field twice, or fields with nothing to tell them apart.
    """
    parts = _TOKEN.split(text)
    literals, fields = parts[::2], parts[1::2]
    split = [(field.partition(":")[0], field.partition(":")[2]) for field in fields]
    names = tuple(name for name, _width in split if name != "*")
    if not names or len(set(names)) != len(names):
        raise ValueError("a pattern names at least one {field}, each once")
    numbers = _Numbers("," if comma else ".", hexadecimal)
    expression, open_names = _literal(literals[0]), set()
    for (name, width), literal, after in zip(
        split, literals[1:], [*names_of(split[1:]), ""], strict=True
    ):
        if after:
            _told_apart(literal, numbers, width)
        if after == "*" and not literal.strip():
            open_names.add(name)
        if name == "*":
            expression += _star(literal, numbers.beginning if after else "")
        else:
            expression += _field(name, numbers.expression(literal, width), literal, width)
        expression += _literal(literal)
    if "*" in open_names:
        raise ValueError("{*} {*}: once is enough")
    blanks = "" if not literals[0] and split[0][1] else r"[ \t]*+"  # a fixed width counts them
    return Pattern(re.compile(rf"{blanks}{expression}[ \t]*+\Z"), names, frozenset(open_names))


def names_of(split: list[tuple[str, str]]) -> list[str]:
    """Return the names without their widths."""
    return [name for name, _width in split]


def _told_apart(literal: str, numbers: _Numbers, width: str) -> None:
    if not literal and not width:
        raise ValueError("two fields need something between them, or a width: {a:4}{b:4}")
    if literal.strip() == numbers.mark and not width and not numbers.hexadecimal:
        raise ValueError(f"{numbers.mark!r} cannot both separate numbers and be their decimal mark")


def _literal(text: str) -> str:
    """Text as it stands; blanks match any number of blanks."""
    return "".join(r"[ \t]*+" if part.isspace() else re.escape(part) for part in _split(text))


def _split(text: str) -> list[str]:
    return [part for part in re.split(r"(\s+)", text) if part]


def _star(following: str, number: str) -> str:
    """Anything: the rest of the line, or up to the first place where what follows fits.

    number: what the number after it begins with; "" = nothing comes after.
    """
    if following.strip():
        return rf"(?>.*?(?={_literal(following)}))"
    return rf"(?>.*?(?=[ \t]+{number}))" if number else r"(?>.*)"


def _field(name: str, number: str, following: str, width: str) -> str:
    unit = "" if width else _unit(following)
    apart = "" if following or width else r"[ \t]*+"  # at the end of a line it may stand apart
    return rf"(?P<{name}>(?>{number})){apart}(?P<{name}_unit>(?>{unit}))"


def _unit(following: str) -> str:
    """A unit may follow where the pattern does not itself say what follows."""
    return _UNIT if not following or following[0] in " \t,;" else ""
