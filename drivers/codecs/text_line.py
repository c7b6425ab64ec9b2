"""Lines of text: a pattern with named fields, or numbers between separators.

With `pattern` ("X={x} Y={y}") a field's `source` is a name of the pattern; without, it is a
position from 1 ("2"), or the label in front of the number ("X" of "X: 12.3"). An empty source
is the role's own name in a pattern, else the first position.

A unit behind a number must be one that means the profile's unit: a level that was switched
to percent must not be read as degrees.
"""

from collections import Counter
from typing import Literal, Self

from pydantic import model_validator

from drivers.codecs._lines import Lines
from drivers.codecs._scale import Scaled, needed_roles, scaled_fields
from drivers.codecs._text_numbers import Token, decimal_text, tokens, unit_fits
from drivers.codecs._text_pattern import Pattern, compile_pattern
from drivers.codecs.nmea_xdr import checksum
from shared.errors import BadInputError
from shared.model import Written
from shared.profile import LevelProfile
from shared.samples import Sample

_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "space": None}


class Options(Written):
    """The shape of a line."""

    pattern: str = ""
    separator: Literal["comma", "semicolon", "tab", "space"] = "space"
    decimal: Literal["point", "comma"] = "point"
    checksum: Literal["none", "xor"] = "none"
    """xor: the line ends in `*` and two hexadecimal digits over all before the star (a
    leading `$` not counted)."""
    first_line: Literal["by mode", "skip", "keep"] = "by mode"
    """After connecting to a stream, what comes before the first line end may be half a line;
    by mode: skipped for a stream, kept for a level that sends on change or on a press."""
    comment: str = ""
    """Lines that begin with this are not data."""

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.pattern:
            compile_pattern(self.pattern)
        elif self.separator == "comma" and self.decimal == "comma":
            raise ValueError("a comma cannot both separate numbers and be their decimal mark")
        return self


class TextCodec:
    """Reads one level's lines; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, options: Options, fields: list[Scaled]) -> None:
        self.refused: Counter[str] = Counter()
        self._fields = fields
        self._needed = needed_roles(profile)
        self._options = options
        self._comma = options.decimal == "comma"
        self._comment = options.comment.encode()
        self._pattern: Pattern | None = (
            compile_pattern(options.pattern) if options.pattern else None
        )
        streams = profile.reporting.mode == "stream"
        skip = options.first_line == "skip" or (options.first_line == "by mode" and streams)
        self._lines = Lines(self.refused, skip_first=skip)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the line; the channel does not matter."""
        del channel
        samples = (self._line(line) for line in self._lines.feed(data))
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget the half-received line."""
        self._lines.reset()

    def _line(self, line: bytes) -> Sample | None:
        if self._comment and line.startswith(self._comment):
            return None
        if self._options.checksum == "xor":
            body, star, sent = line.lstrip(b"$").rpartition(b"*")
            if not star or sent.rstrip().upper() != b"%02X" % checksum(body):
                self.refused["checksum"] += 1
                return None
            line = body
        found = self._tokens(_text(line))
        problem = "format" if not found else ""
        values: dict[str, float] = {}
        for field in self._fields if found else ():
            problem = problem or self._take(field, found, values)
        if problem or not self._complete(values):
            self.refused[problem or "incomplete"] += 1
            return None
        return Sample(values)

    def _tokens(self, text: str) -> dict[str, Token]:
        """Return number and unit by source; empty when the line has another shape."""
        if self._pattern is None:
            return tokens(text, _SEPARATORS[self._options.separator])
        match = self._pattern.expression.match(text)
        if match is None:
            return {}
        return {name: (match[name], match[f"{name}_unit"]) for name in self._pattern.names}

    def _take(self, field: Scaled, found: dict[str, Token], values: dict[str, float]) -> str:
        """Put one field's number into `values`; return what is wrong with it, or ""."""
        token = found.get(field.source or (field.role if self._pattern else "1"))
        if token is None:
            return ""
        text, unit = token
        if not unit_fits(unit, field.role, field.unit):
            return "unit"
        raw = decimal_text(text, comma=self._comma)
        value = None if raw is None else field.value(raw)
        if value is None:
            return "number"
        values[field.role] = value
        return ""

    def _complete(self, values: dict[str, float]) -> bool:
        return bool(values) and all(role in values for role in self._needed)


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
    fields = scaled_fields(profile)
    if options.pattern:
        names = compile_pattern(options.pattern).names
        for field in fields:
            if (field.source or field.role) not in names:
                raise BadInputError(
                    f"profile {profile.kind}",
                    f"fields.{field.role}.source",
                    f"{field.source or field.role!r} is not in the pattern",
                    f"one of {', '.join(names)}",
                )
    return TextCodec(profile, options, fields)
