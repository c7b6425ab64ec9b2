"""Lines of JSON: one object a line, `{"tilt": {"roll": 1.5, "pitch": -2.0}}` (RFC 8259).

A field's `source` is a key, or keys with points between for objects inside objects
("tilt.roll"); a number picks an element of an array from 0 ("acc.2"). An empty source is the
role's own name. A number may be written as text ("12.5"); true and false are 1 and 0 for a
button and nothing for an angle. A key that is there twice, NaN and Infinity are refused.
"""

import json
from collections import Counter
from typing import Annotated, Any, Literal

from pydantic import Field

from drivers.codecs._gather import Gathered, Together
from drivers.codecs._lines import Lines
from drivers.codecs._numbers import decimal
from drivers.codecs._scale import NO_NUMBER, NOTHING, Scaled, own_sources, scaled_fields
from shared.profile import LevelProfile
from shared.samples import Role, Sample


class Options(Gathered):
    """The shape of a line."""

    only: Annotated[dict[str, str], Field(default_factory=dict)]
    """Keys that must have these values, as text; other objects are someone else's."""
    first_line: Literal["by mode", "skip", "keep"] = "by mode"
    """After connecting to a stream, what comes before the first line end may be half a line;
    by mode: skipped for a stream, kept for a level that sends on change or on a press."""


class JsonCodec:
    """Reads one level's lines; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, options: Options) -> None:
        self.refused: Counter[str] = Counter()
        self._fields = scaled_fields(profile)
        self._only = options.only
        streams = profile.reporting.mode == "stream"
        skip = options.first_line == "skip" or (options.first_line == "by mode" and streams)
        self._lines = Lines(self.refused, skip_first=skip)
        self._together = Together(profile, options, self.refused)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the stream; the channel does not matter."""
        del channel
        samples = (self._line(line) for line in self._lines.feed(data))
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget the half-received line, and the half-gathered tilt."""
        self._lines.reset()
        self._together.clear()

    def _line(self, line: bytes) -> Sample | None:
        found = _object(line)
        if isinstance(found, str):
            self.refused[found] += 1
            return None
        if any(_written(_at(found, key)) != value for key, value in self._only.items()):
            return None
        values: dict[Role, float] = {}
        problem = ""
        for field in self._fields:
            value = self._value(field, found)
            if isinstance(value, float):
                values[field.role] = value
            elif value != NOTHING:
                problem = problem or value
        if problem:
            self.refused[problem] += 1
            return None
        return self._together.add(values) if values else None

    def _value(self, field: Scaled, found: Any) -> float | str:
        """Return a field's number, or in a word why there is none."""
        item = _at(found, field.source or field.role)
        if item is None:
            return NOTHING
        raw = _number(item, truth=field.role == "button")
        return NO_NUMBER if raw is None else field.value(raw, "text")


def _object(line: bytes) -> dict[str, Any] | str:
    """Return the object of a line, or in a word what is wrong with it."""
    try:
        found = json.loads(line, object_pairs_hook=_once, parse_constant=_no_constant)
    except _TwiceError:
        return "several sensors"
    except (ValueError, RecursionError):
        return "format"
    return found if isinstance(found, dict) else "format"


class _TwiceError(Exception):
    """A key is there twice: nobody can say which one is meant."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _TwiceError
    return found


def _no_constant(name: str) -> None:
    raise ValueError(name)


def _at(found: Any, source: str) -> Any:
    """Return what stands at keys with points between; None for nothing."""
    for key in source.split("."):
        if isinstance(found, dict):
            found = found.get(key)
        elif isinstance(found, list) and key.isdecimal() and int(key) < len(found):
            found = found[int(key)]
        else:
            return None
    return found


def _written(item: Any) -> str:
    return item if isinstance(item, str) else json.dumps(item)


def _number(item: Any, *, truth: bool) -> float | None:
    if isinstance(item, bool):
        return float(item) if truth else None
    if isinstance(item, str):
        return decimal(item.encode("utf-8", "replace"))
    if not isinstance(item, int | float):
        return None
    return float(item) if abs(item) < 1e300 else None


def make(profile: LevelProfile, options: Options) -> JsonCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: two parts of the tilt have one key, or a unit does not fit.
    """
    own_sources(profile)
    return JsonCodec(profile, options)
