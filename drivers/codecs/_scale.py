"""From the raw number of a message to the number of its role, in the role's unit.

value = raw * scale + offset, then from the field's unit to the role's: degrees for angles,
standard gravity for accelerations, degrees Celsius, percent.

What stands for "no angle" must not become one. A number is refused before anything wraps it
round the circle: when the profile says that it means nothing (`none`), when it is the end of
its type (32767, 65535: what level makers send for "no data", and where a number that grew too
large stays), and when it lies outside one turn, -180 to 360 degrees.
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from shared.errors import BadInputError
from shared.profile import FieldOf, LevelProfile
from shared.samples import Role

STANDARD_GRAVITY = 9.80665
"""m/s2, exact: 3rd CGPM, 1901."""

_ANGLES: frozenset[Role] = frozenset({"angle", "roll", "pitch"})
_GRAVITY: frozenset[Role] = frozenset({"ax", "ay", "az"})
_NEEDED: dict[str, frozenset[Role]] = {
    "planar": frozenset({"angle"}),
    "projection": frozenset({"angle"}),
    "roll-pitch": frozenset({"roll", "pitch"}),
    "vector": _GRAVITY,
}

Convert = Callable[[float], float]
Kind = str
"""Type of a number in its message: "i16", "u8", "f32"; "text" for digits, "" for unknown."""

ENDS: dict[Kind, frozenset[float]] = {
    f"{sign}{bits}": frozenset(
        {float(2**bits - 1)}
        if sign == "u"
        else {float(2 ** (bits - 1) - 1), -float(2 ** (bits - 1))}
    )
    for sign in "ui"
    for bits in (8, 16, 24, 32)
}
"""Largest and smallest numbers of a type; 0 is the smallest unsigned one and an angle."""
ENDS["text"] = ENDS["i16"] | ENDS["u16"] | ENDS["i32"] | ENDS["u32"]
_BITS: dict[Kind, int] = {kind: int(kind[1:]) for kind in ENDS if kind != "text"} | {"text": 16}
_LOWEST_DEG, _HIGHEST_DEG, _ROUNDING_DEG = -180.0, 360.0, 0.01
_TURN = 0.005
"""Relative tolerance of a type that spans the whole circle: 360/65535 is meant so too."""

NO_ANGLE = "no angle"
OUT_OF_RANGE = "out of range"
NO_NUMBER = "number"
NOTHING = "nothing"
"""Refusals. NOTHING: the profile's `none` in a field the tilt does not need; no harm."""


def _same(value: float) -> float:
    return value


def _slope(whole: float) -> Convert:
    return lambda value: math.degrees(math.atan(value / whole))


def _arcsine(one_g: float) -> Convert:
    """One axis of gravity as an angle; more than 1 g has no angle and is refused as NaN."""

    def convert(value: float) -> float:
        ratio = value / one_g
        return math.degrees(math.asin(ratio)) if -1.0 <= ratio <= 1.0 else math.nan

    return convert


_TO_DEG: dict[str, Convert] = {
    "deg": _same,
    "1": _same,
    "rad": math.degrees,
    "percent": _slope(100.0),
    "mm/m": _slope(1000.0),
}
_ONE_G = {"g": 1.0, "mg": 1000.0, "m/s2": STANDARD_GRAVITY}
_TO_CELSIUS: dict[str, Convert] = {
    "degC": _same,
    "deg": _same,
    "1": _same,
    "degF": lambda value: (value - 32.0) / 1.8,
}


def _divide(by: float) -> Convert:
    return lambda value: value / by


def _conversion(role: Role, unit: str, convention: str) -> Convert | None:
    """None: the unit makes no sense for the role."""
    if role == "angle" and convention == "projection" and unit in _ONE_G:
        return _arcsine(_ONE_G[unit])
    if role in _ANGLES:
        return _TO_DEG.get(unit)
    if role in _GRAVITY:
        return _divide(_ONE_G[unit]) if unit in _ONE_G else _same if unit in {"deg", "1"} else None
    if role == "temperature":
        return _TO_CELSIUS.get(unit)
    if role == "battery":
        return _same if unit in {"percent", "deg", "1"} else None
    return _same if unit in {"deg", "1"} else None


@dataclass(frozen=True, slots=True)
class Scaled:
    """One field of a profile, ready to turn raw numbers into the role's."""

    role: Role
    source: str
    unit: str
    scale: float
    offset: float
    convert: Convert
    none: frozenset[float] = frozenset()

    def value(self, raw: float, kind: Kind = "") -> float | str:
        """Return the number in the role's unit, or in a word why there is none."""
        tilts = self.role in _ANGLES or self.role in _GRAVITY
        if raw in self.none:
            return NO_ANGLE if tilts else NOTHING
        if tilts and raw in ENDS.get(kind, ()) and not self._spans_a_turn(kind):
            return NO_ANGLE
        value = self._converted(raw * self.scale + self.offset)
        if not math.isfinite(value):
            return NO_NUMBER
        if self.role in _ANGLES and not (_in_one_turn(value) or self._sent_in_one_turn(raw)):
            return OUT_OF_RANGE
        return value

    @property
    def is_angle(self) -> bool:
        """The role is an angle, not one axis of gravity or something beside it."""
        return self.role in _ANGLES

    def _converted(self, number: float) -> float:
        return self.convert(number) if math.isfinite(number) else math.nan

    def _spans_a_turn(self, kind: Kind) -> bool:
        """Every number of the type is an angle: 65536 steps are 360 degrees."""
        if self.unit not in {"deg", "rad", "1"} or self.role not in _ANGLES:
            return False
        turn = self._converted(abs(self.scale) * 2.0 ** _BITS[kind])
        return abs(turn / 360.0 - 1.0) < _TURN

    def _sent_in_one_turn(self, raw: float) -> bool:
        """An offset may carry an angle out of the turn it was sent in: mounting, zero error."""
        return _in_one_turn(self._converted(raw * abs(self.scale)))


def _in_one_turn(angle_deg: float) -> bool:
    return _LOWEST_DEG - _ROUNDING_DEG <= angle_deg <= _HIGHEST_DEG + _ROUNDING_DEG


def scaled_fields(profile: LevelProfile) -> list[Scaled]:
    """Return every field of the profile with its conversion.

    Raises:
        BadInputError: a unit does not fit its role.
    """
    return [_scaled(profile, role, field) for role, field in profile.fields.items()]


def _scaled(profile: LevelProfile, role: Role, field: FieldOf) -> Scaled:
    convert = _conversion(role, field.unit, profile.convention)
    if convert is None:
        raise BadInputError(
            f"profile {profile.kind}",
            f"fields.{role}.unit",
            f"{field.unit!r} is no unit for {role} of a {profile.convention} level",
        )
    none = frozenset(field.none)
    return Scaled(role, field.source, field.unit, field.scale, field.offset, convert, none)


def needed_roles(profile: LevelProfile) -> frozenset[Role]:
    """Return the roles without which a message of this convention has no tilt."""
    return _NEEDED[profile.convention]


def complete(values: dict[str, float], needed: Iterable[Role]) -> bool:
    """Tell whether `values` hold all of `needed`, or nothing of it (battery alone)."""
    present = [role in values for role in needed]
    return all(present) or not any(present)


def own_sources(profile: LevelProfile, *, meant: str = "") -> None:
    """Demand that the parts of one tilt come from places of their own.

    meant: what an empty source stands for, where that is the same for every role.

    Raises:
        BadInputError: two of them name the same place, so one number would be taken for both.
    """
    taken: dict[str, Role] = {}
    for role, field in profile.fields.items():
        source = field.source or meant or role
        if role in needed_roles(profile) and taken.setdefault(source, role) != role:
            raise BadInputError(
                f"profile {profile.kind}",
                f"fields.{role}.source",
                f"{role} and {taken[source]} come from the same place",
                "give each a source of its own",
            )
