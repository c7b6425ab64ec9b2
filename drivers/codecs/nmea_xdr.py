"""NMEA 0183 XDR: transducer measurements, `$--XDR,A,14.6,D,PTCH*58`.

A sentence carries groups of four fields: transducer type, value, unit, name. Type A is an
angular displacement, unit D degrees. Talkers of any kind, other sentences in between,
several groups, empty values and values without decimals are all ordinary traffic.
(Sentence and checksum: NMEA 0183; the checksum is the exclusive or of all characters
between `$` and `*`, in two hexadecimal digits.)

A field's `source` is the transducer's name ("PTCH", capitals or not), its position in the
sentence ("#2", counted from 1), or empty: the first group of type A, one in the field's unit
before others.
"""

from collections import Counter
from functools import reduce
from operator import xor
from typing import Literal

from drivers.codecs._lines import Lines
from drivers.codecs._numbers import decimal
from drivers.codecs._scale import Scaled, needed_roles, scaled_fields
from shared.errors import BadInputError
from shared.model import Written
from shared.profile import LevelProfile
from shared.samples import Sample

_HEX = b"0123456789ABCDEFabcdef"
_LETTERS = {"deg": b"D", "degC": b"C", "percent": b"P"}
"""Unit letters of the standard that contradict a profile when another one arrives."""

Group = tuple[bytes, bytes, bytes, bytes]


class Options(Written):
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
        self._needed = needed_roles(profile)
        self._options = options
        self._talker = options.talker.encode()
        self._lines = Lines(self.refused)

    def feed(self, channel: int, data: bytes) -> list[Sample]:
        """Take one chunk of the line; the channel does not matter."""
        del channel
        samples = (self._sentence(line) for line in self._lines.feed(data))
        return [sample for sample in samples if sample is not None]

    def reset(self) -> None:
        """Forget the half-received sentence."""
        self._lines.reset()

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
        return self._sample(body[6:].split(b","))

    def _refuse_unless_other(self, line: bytes) -> None:
        if not line.startswith(b"!"):  # an encapsulated sentence of someone else
            self.refused["format"] += 1

    def _checked(self, body: bytes, sent: bytes) -> bool:
        good = len(sent) == 2 and all(c in _HEX for c in sent) and int(sent, 16) == checksum(body)
        if not good:
            self.refused["checksum"] += 1
        return good

    def _sample(self, parts: list[bytes]) -> Sample | None:
        if len(parts) % 4 == 1 and not parts[-1]:
            del parts[-1]  # some talkers end the last group with a comma too
        if len(parts) % 4:
            self.refused["format"] += 1
            return None
        groups: list[Group] = [
            (parts[i], parts[i + 1], parts[i + 2], parts[i + 3]) for i in range(0, len(parts), 4)
        ]
        values: dict[str, float] = {}
        refused: set[str] = set()
        for field in self._fields:
            self._take(field, groups, values, refused)
        missing = [role for role in self._needed if role not in values]
        if missing and len(missing) < len(self._needed):
            refused.add("incomplete")
            for role in self._needed:
                values.pop(role, None)
        self.refused.update(refused)
        return Sample(values) if values else None

    def _take(
        self, field: Scaled, groups: list[Group], values: dict[str, float], refused: set[str]
    ) -> None:
        expected = _LETTERS.get(field.unit)
        group = _find(field.source, expected, groups)
        if group is None:
            return
        _kind, text, unit, _name = group
        value = decimal(text)
        if not text:
            refused.add("empty")
        elif unit and expected is not None and unit != expected:
            refused.add("unit")
        elif value is None or (scaled := field.value(value)) is None:
            refused.add("number")
        else:
            values[field.role] = scaled


def _find(source: str, unit: bytes | None, groups: list[Group]) -> Group | None:
    if source.startswith("#"):
        index = int(source[1:]) - 1
        return groups[index] if index < len(groups) else None
    if source:
        name = source.upper().encode()
        return next((group for group in groups if group[3].upper() == name), None)
    angular = [group for group in groups if group[0] in {b"A", b"a"}]
    fitting = [group for group in angular if group[2] in {unit, b""}]
    return next(iter(fitting or angular), None)


def make(profile: LevelProfile, options: Options) -> XdrCodec:
    """Return a codec for one level.

    Raises:
        BadInputError: a field's unit does not fit, or its source is no position.
    """
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
