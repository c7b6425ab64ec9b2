"""From the raw number of a message to the number of its role, in the role's unit.

value = raw * scale + offset, then from the field's unit to the role's: degrees for angles,
standard gravity for accelerations, degrees Celsius, percent.
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

    def value(self, raw: float) -> float | None:
        """Return the number in the role's unit; None when it is not finite or impossible."""
        number = raw * self.scale + self.offset
        if not math.isfinite(number):
            return None
        value = self.convert(number)
        return value if math.isfinite(value) else None


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
    return Scaled(role, field.source, field.unit, field.scale, field.offset, convert)


def needed_roles(profile: LevelProfile) -> frozenset[Role]:
    """Return the roles without which a message of this convention has no tilt."""
    return _NEEDED[profile.convention]


def complete(values: dict[str, float], needed: Iterable[Role]) -> bool:
    """Tell whether `values` hold all of `needed`, or nothing of it (battery alone)."""
    present = [role in values for role in needed]
    return all(present) or not any(present)
