"""Lines of text: a pattern with named fields, or numbers between separators.

With `pattern` ("X={x} Y={y}") a field's `source` is a name of the pattern; without, it is a
position from 1 ("2"), or the label in front of the number ("X" of "X: 12.3"). An empty source
is the role's own name in a pattern, else the first position.

A unit behind a number must be one that means the profile's unit: a level that was switched
to percent must not be read as degrees. What may be degrees and minutes, or has a sign of its
own, is rewritten or refused (`_text_notation`), never read by half.
"""

import re
from collections import Counter
from collections.abc import Callable
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from drivers.codecs._checks import check, known_check
from drivers.codecs._gather import Gathered, Together
from drivers.codecs._lines import Lines
from drivers.codecs._scale import (
    NO_NUMBER,
    NOTHING,
    Kind,
    Scaled,
    needed_roles,
    own_sources,
    scaled_fields,
)
from drivers.codecs._text_notation import MINUTES, SIGN, THOUSANDS, Signs, signs, without_minutes
from drivers.codecs._text_numbers import (
    Token,
    decimal_text,
    doubt_behind,
    hex_text,
    tokens,
    unit_behind,
    unit_fits,
)
from drivers.codecs._text_pattern import Pattern, compile_pattern
from shared.errors import BadInputError
from shared.profile import LevelProfile
from shared.samples import Role, Sample

_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": None}


class Options(Gathered):
    """The shape of a line."""

    pattern: str = ""
    """Text with `{name}` for each number, `{name:4}` for one of four characters, `{*}` for
    anything."""
    patterns: Annotated[list[str], Field(default_factory=list)]
    """Instead of `pattern`, for lines of several shapes: the first that fits counts."""
    separator: Literal["comma", "semicolon", "tab", "space"] = "space"
    """What stands between numbers where there is no pattern."""
    decimal: Literal["point", "comma"] = "point"
    """The decimal mark."""
    digits: Literal["decimal", "hex", "hex signed"] = "decimal"
    """hex: hexadecimal digits, highest first; signed: two's complement of as many bits as
    there are digits for."""
    notation: Literal["degrees", "columns", "minutes", "seconds"] = "degrees"
    """degrees: 4.75, or degrees and minutes with their marks; "12 30" may be either and is
    refused. columns: numbers side by side are columns. minutes, seconds: degrees, minutes
    (and seconds) without marks."""
    minus: Annotated[list[str], Field(default_factory=list)]
    """Words for a negative angle, before or behind it: ["D"]; ["-"] for a trailing minus."""
    plus: Annotated[list[str], Field(default_factory=list)]
    """Words for a positive angle; [""] where there is none."""
    checksum: str = "none"
    """xor, or the name of another check: the line ends in `*` and its hexadecimal digits over
    all before the star (a leading `$` not counted)."""
    begins: str = ""
    """Only lines that begin with this are the level's (a maker's address: "$PXYZ,"); numbers
    are counted behind it."""
    end: str = ""
    """What ends a line, where it is not CR, LF or both: ";", "\\u0003"."""
    first_line: Literal["by mode", "skip", "keep"] = "by mode"
    """After connecting to a stream, what comes before the first line end may be half a line;
    by mode: skipped for a stream, kept for a level that sends on change or on a press."""
    comment: str = ""
    """Lines that begin with this are not data."""

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.pattern and self.patterns:
            raise ValueError("give one pattern, or several patterns")
        if not self.compiled() and self.separator == "comma" and self.decimal == "comma":
            raise ValueError("a comma cannot both separate numbers and be their decimal mark")
        if any(ord(character) > 255 for character in self.end):
            raise ValueError("end: each character is one byte")
        self.signs()
        self.check()
        return self

    def compiled(self) -> list[Pattern]:
        """Return the patterns, ready to match.

        Raises:
            ValueError: one of them cannot be.
        """
        texts = [self.pattern] if self.pattern else self.patterns
        comma, hexadecimal = self.decimal == "comma", self.digits != "decimal"
        return [compile_pattern(one, comma=comma, hexadecimal=hexadecimal) for one in texts]

    def signs(self) -> Signs | None:
        """Return how signs are written, None for the usual way.

        Raises:
            ValueError: the words do not tell both signs.
        """
        separator = "" if self.compiled() else _SEPARATORS[self.separator] or ""
        return signs(self.minus, self.plus, self.mark, separator)

    def check(self) -> tuple[int, Callable[[bytes], int]]:
        """Return size in bytes and function of the checksum.

        Raises:
            ValueError: there is none of that name.
        """
        return check(known_check("xor8" if self.checksum == "xor" else self.checksum))

    @property
    def mark(self) -> str:
        """The decimal mark."""
        return "," if self.decimal == "comma" else "."


class TextCodec:
    """Reads one level's lines; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, options: Options, fields: list[Scaled]) -> None:
        self.refused: Counter[str] = Counter()
        self._fields = fields
        self._needed = needed_roles(profile)
        self._options = options
        self._begins, self._comment = options.begins.encode(), options.comment.encode()
        self._check_size, self._check = options.check()
        self._patterns = options.compiled()
        self._signs = options.signs()
        streams = profile.reporting.mode == "stream"
        skip = options.first_line == "skip" or (options.first_line == "by mode" and streams)
        self._lines = Lines(self.refused, skip_first=skip, end=options.end.encode("latin-1"))
        self._together = Together(profile, options, self.refused)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the line; the channel does not matter."""
        del channel
        samples = (self._line(line) for line in self._lines.feed(data))
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget the half-received line, and the half-gathered tilt."""
        self._lines.reset()
        self._together.clear()

    def _line(self, line: bytes) -> Sample | None:
        if (self._comment and line.startswith(self._comment)) or not line.startswith(self._begins):
            return None
        body = self._checked(line)
        if body is None:
            self.refused["checksum"] += 1
            return None
        values, problem = self._values(_text(body[len(self._begins) :]))
        if not problem and (self._options.gather or self._complete(values)):
            return self._together.add(values)
        self.refused[problem or "incomplete"] += 1
        return None

    def _checked(self, line: bytes) -> bytes | None:
        """Return the line without its checksum; None when that is wrong or missing."""
        if not self._check_size:
            return line
        body, star, sent = line.rpartition(b"*")
        wanted = b"%0*X" % (2 * self._check_size, self._check(body.lstrip(b"$")))
        if not star or sent.rstrip().upper() != wanted:
            return None
        return body if self._begins else body.lstrip(b"$")

    def _values(self, text: str) -> tuple[dict[Role, float], str]:
        """Return the line's numbers by role, and what is wrong with it or ""."""
        found, problem = self._tokens(text)
        values: dict[Role, float] = {}
        for field in self._fields:
            token = found.get(field.source or (field.role if self._patterns else "1"))
            value = self._value(field, token) if token is not None else NOTHING
            if isinstance(value, float):
                values[field.role] = value
            elif value != NOTHING:
                problem = problem or value
        return values, problem or ("" if values or not self._options.gather else "incomplete")

    def _tokens(self, text: str) -> tuple[dict[str, Token], str]:
        """Return number and unit by source, and what is wrong with the line or ""."""
        options, hexadecimal = self._options, self._options.digits != "decimal"
        problem = ""
        if not hexadecimal:
            text, problem = without_minutes(text, options.notation, options.mark)
        if self._signs and not problem:
            text, problem = self._signs.rewritten(text)
        if problem:
            return {}, problem
        if self._patterns:
            found = self._matched(text)
        else:
            separator = _SEPARATORS[options.separator]
            found = tokens(text, separator, hexadecimal=hexadecimal)
        return found, "" if found else "format"

    def _matched(self, text: str) -> dict[str, Token]:
        for pattern in self._patterns:
            match = pattern.expression.match(text)
            if match is not None:
                return {name: _token(match, name, pattern) for name in pattern.names}
        return {}

    def _value(self, field: Scaled, token: Token) -> float | str:
        """Return one field's number, or in a word why there is none."""
        if self._doubtful(field, token):
            return token.doubt
        if not unit_fits(token.unit, field.role, field.unit):
            return "unit"
        raw, kind = self._number(token.number)
        if raw is None:
            return NO_NUMBER
        if self._signs and field.is_angle and not self._signs.signed(token.number):
            return SIGN
        return field.value(raw, kind)

    def _number(self, text: str) -> tuple[float | None, Kind]:
        if self._options.digits != "decimal":
            return hex_text(text, signed=self._options.digits == "hex signed")
        return decimal_text(text, comma=self._options.decimal == "comma"), "text"

    def _doubtful(self, field: Scaled, token: Token) -> bool:
        if token.doubt == MINUTES:  # tenths, radians and slopes have no minutes
            degrees = field.is_angle and field.unit == "deg" and abs(field.scale) == 1.0
            return degrees and self._options.notation == "degrees"
        if token.doubt == THOUSANDS:
            return field.is_angle and self._options.notation != "columns"
        return bool(token.doubt) and (token.doubt != SIGN or field.is_angle)

    def _complete(self, values: dict[Role, float]) -> bool:
        return bool(values) and all(role in values for role in self._needed)


def _token(match: re.Match[str], name: str, pattern: Pattern) -> Token:
    number, unit = match[name], match[f"{name}_unit"]
    rest = match.string[match.end(f"{name}_unit") :] if name in pattern.open else ""
    return Token(number, unit or unit_behind(rest), doubt_behind(number, unit, rest))


def _text(line: bytes) -> str:
    """Return the line as text: UTF-8, else Latin-1 (a lone B0 is a degree sign)."""
    try:
        text = line.decode("utf-8")
    except UnicodeDecodeError:
        text = line.decode("latin-1")
    return text.replace("\N{MINUS SIGN}", "-")


def make(profile: LevelProfile, options: Options) -> TextCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field is not in the pattern, or its unit does not fit.
    """
    fields, patterns = scaled_fields(profile), options.compiled()
    own_sources(profile, meant="" if patterns else "1")
    names = [name for pattern in patterns for name in pattern.names]
    for field in fields if names else ():
        if (field.source or field.role) not in names:
            raise BadInputError(
                f"profile {profile.kind}",
                f"fields.{field.role}.source",
                f"{field.source or field.role!r} is not in the pattern",
                f"one of {', '.join(names)}",
            )
    return TextCodec(profile, options, fields)
