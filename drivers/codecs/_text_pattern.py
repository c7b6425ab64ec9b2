"""Patterns for lines of text: "X={x} Y={y} {*}".

`{name}` is a number, with its unit behind it where the pattern goes on with a blank or a
separator; `{*}` is anything up to what follows. Blanks in the pattern stand for any number
of blanks. Matching never goes back, so no line can make it slow.
"""

import re
from dataclasses import dataclass

_TOKEN = re.compile(r"\{(\*|[A-Za-z_][A-Za-z0-9_]*)\}")
_NUMBER = r"[+-]?[ \t]*\d+(?:[.,]\d*)?|[+-]?[ \t]*[.,]\d+"
_UNIT = r"[^\s\d,;+.-]*"


@dataclass(frozen=True, slots=True)
class Pattern:
    """A compiled pattern: groups `<name>` and `<name>_unit` by field."""

    expression: re.Pattern[str]
    names: tuple[str, ...]


def compile_pattern(text: str) -> Pattern:
    """Compile a pattern.

    Raises:
        ValueError: no field, a field twice, or fields with nothing between them.
    """
    parts = _TOKEN.split(text)
    literals, fields = parts[::2], parts[1::2]
    names = tuple(name for name in fields if name != "*")
    if not names or len(set(names)) != len(names):
        raise ValueError("a pattern names at least one {field}, each once")
    if any(not literal for literal in literals[1:-1]):
        raise ValueError("two fields need something between them")
    expression = _literal(literals[0])
    for name, literal in zip(fields, literals[1:], strict=True):
        expression += _field(name, literal)
    return Pattern(re.compile(rf"[ \t]*+{expression}[ \t]*+\Z"), names)


def _literal(text: str) -> str:
    """Text as it stands; blanks match any number of blanks."""
    return "".join(r"[ \t]*+" if part.isspace() else re.escape(part) for part in _split(text))


def _split(text: str) -> list[str]:
    return [part for part in re.split(r"(\s+)", text) if part]


def _field(name: str, following: str) -> str:
    after = _literal(following)
    if name == "*":
        return rf"(?>.*?{after})" if following.strip() else rf"(?>[^\s]*+{after})"
    return rf"(?P<{name}>(?>{_NUMBER}))(?P<{name}_unit>(?>{_unit(following)})){after}"


def _unit(following: str) -> str:
    """A unit may follow where the pattern does not itself say what follows."""
    return _UNIT if not following or following[0] in " \t,;" else ""
