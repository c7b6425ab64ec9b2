"""NMEA 0183 XDR: transducer measurements, `$--XDR,A,14.6,D,PTCH*58`.

A sentence carries groups of four fields: transducer type, value, unit, name. Type A is an
angular displacement, unit D degrees. Talkers of any kind, other sentences in between,
several groups, empty values and values without decimals are all ordinary traffic.
(Sentence and checksum: NMEA 0183; the checksum is the exclusive or of all characters
between `$` and `*`, in two hexadecimal digits.)

A field's `source` is the transducer's name ("PTCH", capitals or not), its position in the
sentence ("#2", counted from 1), or empty: the only angle there is. An empty source never
chooses: a heading, or a second angle under another name, is refused as "several angles", and
so is a name that two groups of a sentence or two talkers use ("several sensors").
"""

from collections import Counter
from functools import lru_cache, reduce
from operator import xor
from typing import Literal

from drivers.codecs._gather import Gathered, Together
from drivers.codecs._lines import Lines
from drivers.codecs._numbers import decimal
from drivers.codecs._rivals import Rivals
from drivers.codecs._scale import NO_NUMBER, NOTHING, Scaled, own_sources, scaled_fields
from shared.errors import BadInputError
from shared.profile import LevelProfile
from shared.samples import Role, Sample

_HEX = b"0123456789ABCDEFabcdef"
_LETTERS = {"deg": b"D", "degC": b"C", "percent": b"P"}
"""Unit letters of the standard that contradict a profile when another one arrives."""
_HEADINGS = (
    b"HDG",
    b"HDT",
    b"HDM",
    b"HEAD",
    b"YAW",
    b"AZIM",
    b"COG",
    b"COURSE",
    b"COMPASS",
    b"BEARING",
)
"""Parts of names under which talkers send a direction on the compass: common practice."""

SEVERAL = "several angles"
"""Refusal: an empty source, and more than one angle that it could mean."""

Group = tuple[bytes, bytes, bytes, bytes]


class Options(Gathered):
    """What differs between talkers."""

    checksum: Literal["required", "if present"] = "required"
    """`if present` also accepts sentences that carry none; a wrong one is always refused."""
    talker: str = ""
    """Two letters: only this talker's sentences; empty = any."""


def checksum(body: bytes) -> int:
    """Return the exclusive or of all bytes (NMEA 0183)."""
    return reduce(xor, body, 0)


class XdrCodec:
    """Reads one level's line; see `shared.samples.Codec`."""

    def __init__(self, profile: LevelProfile, options: Options) -> None:
        self.refused: Counter[str] = Counter()
        self._fields = scaled_fields(profile)
        self._options = options
        self._talker = options.talker.encode()
        self._lines = Lines(self.refused)
        self._together = Together(profile, options, self.refused)
        self._rivals = Rivals()

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the line; the channel does not matter."""
        del channel
        samples = (self._sentence(line) for line in self._lines.feed(data))
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget the half-received sentence, and the half-gathered tilt."""
        self._lines.reset()
        self._together.clear()

    def _sentence(self, line: bytes) -> Sample | None:
        # A sentence cut off in the middle may be followed by the next one in the same line.
        start = line.rfind(b"$")
        if start < 0:
            self._refuse_unless_other(line)
            return None
        body, star, sent = line[start + 1 :].partition(b"*")
        if star and not self._checked(body, sent.rstrip(b" ")):
            return None
        if body[2:6] != b"XDR," or (self._talker and body[:2] != self._talker):
            return None
        if not star and self._options.checksum == "required":
            self.refused["no checksum"] += 1
            return None
        return self._sample(body[:2], body[6:].split(b","))

    def _refuse_unless_other(self, line: bytes) -> None:
        if not line.startswith(b"!"):  # an encapsulated sentence of someone else
            self.refused["format"] += 1

    def _checked(self, body: bytes, sent: bytes) -> bool:
        good = len(sent) == 2 and not sent.strip(_HEX) and int(sent, 16) == checksum(body)
        if not good:
            self.refused["checksum"] += 1
        return good

    def _sample(self, talker: bytes, parts: list[bytes]) -> Sample | None:
        if len(parts) % 4 == 1 and not parts[-1]:
            del parts[-1]  # some talkers end the last group with a comma too
        if len(parts) % 4:
            self.refused["format"] += 1
            return None
        groups: list[Group] = [
            (parts[i], parts[i + 1], parts[i + 2], parts[i + 3]) for i in range(0, len(parts), 4)
        ]
        self._rivals.step()
        values: dict[Role, float] = {}
        refused: set[str] = set()
        for field in self._fields:
            self._take(field, talker, groups, values, refused)
        self.refused.update(refused)
        return self._together.add(values) if values else None

    def _take(
        self,
        field: Scaled,
        talker: bytes,
        groups: list[Group],
        values: dict[Role, float],
        refused: set[str],
    ) -> None:
        group = self._group(field, talker, groups)
        if group is None or isinstance(group, str):
            refused.update([group] if group else [])
            return
        value = _value(field, group)
        if isinstance(value, float):
            values[field.role] = value
        elif value != NOTHING:
            refused.add(value)

    def _group(self, field: Scaled, talker: bytes, groups: list[Group]) -> Group | str | None:
        """Return the field's group, why it cannot be told from others, or None for none."""
        if field.source.startswith("#"):
            return self._at(field, groups)
        if not field.source:
            return self._only_angle(field, groups)
        name = field.source.upper().encode()
        named = [group for group in groups if group[3].upper() == name]
        if not named:
            return None
        alone = self._rivals.alone(name, talker)
        return named[0] if len(named) == 1 and alone else "several sensors"

    def _at(self, field: Scaled, groups: list[Group]) -> Group | str | None:
        """Return the group at a position, which must carry the same name every time."""
        index = int(field.source[1:]) - 1
        if index >= len(groups):
            return None
        group = groups[index]
        same = not group[1] or self._rivals.alone(field.source.encode(), group[3].upper())
        return group if same else "several sensors"

    def _only_angle(self, field: Scaled, groups: list[Group]) -> Group | str | None:
        """Return the one angle in the field's unit; a heading is never it."""
        units = (_LETTERS.get(field.unit), b"")
        angular = [group for group in groups if group[0] in {b"A", b"a"}]
        fitting = [one for one in angular if one[2] in units]
        valued = [group for group in fitting if decimal(group[1]) is not None]
        names = [group[3].upper() for group in valued]
        alone = [self._rivals.alone(field.role.encode(), name) for name in names]
        if len(valued) > 1 or not all(alone) or any(map(_is_heading, names)):
            return SEVERAL
        return next(iter(valued or fitting or angular), None)


@lru_cache(maxsize=64)
def _is_heading(name: bytes) -> bool:
    return any(word in name for word in _HEADINGS)


def _value(field: Scaled, group: Group) -> float | str:
    """Return the group's number for the field, or in a word why there is none."""
    _kind, text, unit, _name = group
    expected = _LETTERS.get(field.unit)
    if not text:
        return "empty"
    if unit and expected is not None and unit != expected:
        return "unit"
    value = decimal(text)
    return NO_NUMBER if value is None else field.value(value, "text")


def make(profile: LevelProfile, options: Options) -> XdrCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field's unit does not fit, or its source is no position.
    """
    own_sources(profile, meant="the only angle")
    for role, field in profile.fields.items():
        position = field.source[1:]
        if field.source.startswith("#") and (not position.isdecimal() or int(position) < 1):
            raise BadInputError(
                f"profile {profile.kind}",
                f"fields.{role}.source",
                f"{field.source!r} is no position",
                'a transducer name, or "#1" for the first group',
            )
    return XdrCodec(profile, options)
