"""From a level's numbers to one tilt, whatever the level's convention.

`angle_deg` is 0 when the chord stands in the vertical with the leading edge up, and grows
with the blade angle: atan2(-n.z, c.z), where c, s, n are the chordwise, spanwise and normal
directions of the seat and z is up. A projection level keeps its own raw asin(c.z).
"""

import math
from dataclasses import dataclass

from shared.errors import BadInputError
from shared.profile import Axis, LevelProfile

Vector = tuple[float, float, float]
"""Chordwise, spanwise, normal part of the upward vertical, of length 1."""


@dataclass(slots=True)
class Tilt:
    """One sample as a tilt.

    Attributes:
        angle_deg: planar angle in (-180, 180]; for a projection level its raw reading.
        psi_deg: elevation of the span, asin(s.z), where the level knows it. The blade's
            azimuth psi follows from it with the shaft's tilt: sin(psi) = s.z / cos(theta).
        gravity: chordwise, spanwise and normal part of the upward vertical, where known.
    """

    angle_deg: float
    psi_deg: float | None
    gravity: Vector | None


def from_roll_pitch(roll_deg: float, pitch_deg: float) -> Vector:
    """Upward vertical in the level's own x, y, z.

    Inverse of roll = atan2(ay, az), pitch = atan2(-ax, hypot(ay, az)), the order of
    rotations in which roll is applied last (a level at rest shows +1 g along its upper axis).
    """
    roll, pitch = math.radians(roll_deg), math.radians(pitch_deg)
    return (
        -math.sin(pitch),
        math.sin(roll) * math.cos(pitch),
        math.cos(roll) * math.cos(pitch),
    )


def _signed(axis: Axis) -> tuple[int, float]:
    return "xyz".index(axis[1]), -1.0 if axis[0] == "-" else 1.0


def asin_deg(value: float) -> float:
    """Arc sine in degrees of a number that noise may have pushed past 1."""
    return math.degrees(math.asin(max(-1.0, min(1.0, value))))


class Tilter:
    """Turns the numbers of one kind of level into tilts.

    Raises:
        BadInputError: a planar level is mounted with its measuring plane across the blade.
    """

    def __init__(self, profile: LevelProfile) -> None:
        mounting = profile.mounting
        self._convention = profile.convention
        self._axes = [_signed(axis) for axis in (mounting.chord, mounting.span, mounting.normal)]
        if self._convention == "planar" and self._axes[1][0] != 1:
            raise BadInputError(
                profile.kind,
                "mounting.span",
                "a planar level measures in its x-z plane, which must stand across the blade",
                'span must be "+y" or "-y"',
            )

    def tilt(self, values: dict[str, float]) -> Tilt | str:
        """Return the tilt, or in words why these numbers give none."""
        if not all(map(math.isfinite, values.values())):
            return "not finite"
        try:
            if self._convention == "planar":
                return self._planar(values["angle"])
            if self._convention == "projection":
                return self._projection(values["angle"])
            if self._convention == "roll-pitch":
                return self._roll_pitch(values["roll"], values["pitch"])
            return self._vector(values["ax"], values["ay"], values["az"])
        except KeyError as missing:
            return f"no {missing.args[0]}"

    def _planar(self, angle_deg: float) -> Tilt:
        angle = math.radians(angle_deg)
        own = (math.cos(angle), 0.0, -math.sin(angle))
        chord, _, normal = self._seat(own)
        return Tilt(math.degrees(math.atan2(-normal, chord)) + 0.0, None, None)

    def _projection(self, angle_deg: float) -> Tilt | str:
        if not -90.0 <= angle_deg <= 90.0:
            return "a projection level cannot show more than 90"
        return Tilt(self._axes[0][1] * angle_deg + 0.0, None, None)

    def _roll_pitch(self, roll_deg: float, pitch_deg: float) -> Tilt | str:
        if abs(pitch_deg) > 90.0:
            return "pitch is more than 90"
        return self._from_gravity(from_roll_pitch(roll_deg, pitch_deg))

    def _vector(self, ax: float, ay: float, az: float) -> Tilt | str:
        length = math.sqrt(ax * ax + ay * ay + az * az)
        if not 0.5 < length < 2.0:
            return "not one g"
        return self._from_gravity((ax / length, ay / length, az / length))

    def _seat(self, own: Vector) -> Vector:
        (c, c_sign), (s, s_sign), (n, n_sign) = self._axes
        return (c_sign * own[c], s_sign * own[s], n_sign * own[n])

    def _from_gravity(self, own: Vector) -> Tilt:
        seat = self._seat(own)
        angle = math.degrees(math.atan2(-seat[2], seat[0])) + 0.0
        return Tilt(angle, asin_deg(seat[1]), seat)
