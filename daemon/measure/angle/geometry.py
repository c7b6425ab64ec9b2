"""The blade, the shaft and the level's seat: exact both ways.

World z is up. The shaft's axis is nose-up by theta. The blade's span stands at azimuth psi
above the horizontal on the side where its leading edge is up; beta is the blade angle. The
level's seat may be skewed by `skew_deg` on the face, and the face inclined by `face_deg` to
the span (taper, droop, pre-cone). Rotation matrices written out; checked in the tests
against another make of rotations.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from shared.angles import difference_deg

Vector = tuple[float, float, float]
Layout = Literal["tractor", "pusher"]
Rotation = Literal["clockwise", "anticlockwise"]


def seat(
    beta_deg: float,
    theta_deg: float = 0.0,
    psi_deg: float = 0.0,
    skew_deg: float = 0.0,
    face_deg: float = 0.0,
) -> Vector:
    """Return the vertical parts (c.z, s.z, n.z) of the seat's chord, span and normal."""
    beta, theta, psi = math.radians(beta_deg), math.radians(theta_deg), math.radians(psi_deg)
    skew, face = math.radians(skew_deg), math.radians(face_deg)
    level, nose = math.cos(theta) * math.cos(psi), math.sin(theta)
    chord = math.cos(beta) * level + math.sin(beta) * nose
    normal = -math.sin(beta) * level + math.cos(beta) * nose
    span = math.cos(theta) * math.sin(psi)
    # the face turned about the chord, then the level turned on the face
    span, normal = (
        span * math.cos(face) - normal * math.sin(face),
        normal * math.cos(face) + span * math.sin(face),
    )
    chord, span = (
        chord * math.cos(skew) + span * math.sin(skew),
        span * math.cos(skew) - chord * math.sin(skew),
    )
    return chord, span, normal


def planar_reading(seat_z: Vector) -> float:
    """What a planar level shows on this seat: atan2(-n.z, c.z)."""
    return math.degrees(math.atan2(-seat_z[2], seat_z[0]))


def projection_reading(seat_z: Vector) -> float:
    """What a projection level shows on this seat: asin(c.z)."""
    return math.degrees(math.asin(max(-1.0, min(1.0, seat_z[0]))))


def phi_deg(theta_deg: float, psi_deg: float = 0.0) -> float:
    """Tilt of the plane of rotation as the blade sees it: a clean planar reading is beta - phi."""
    theta, psi = math.radians(theta_deg), math.radians(psi_deg)
    return math.degrees(math.atan2(math.sin(theta), math.cos(theta) * math.cos(psi)))


def azimuth_deg(elevation_deg: float, theta_deg: float) -> float:
    """Azimuth psi of a span whose elevation, asin(s.z), is known: sin(psi) = s.z / cos(theta)."""
    value = math.sin(math.radians(elevation_deg)) / math.cos(math.radians(theta_deg))
    return math.degrees(math.asin(max(-1.0, min(1.0, value))))


def _solve(a: float, b: float, k: float) -> tuple[float, float]:
    """Both x of a cos(x) + b sin(x) = k; where none exists, the nearest miss twice."""
    middle = math.atan2(b, a)
    half = math.acos(max(-1.0, min(1.0, k / math.hypot(a, b))))
    return middle + half, middle - half


@dataclass(frozen=True, slots=True)
class _Pose:
    """Everything but the blade angle, in radians: h and s are the level and upright parts."""

    reading: float
    phi: float
    h: float
    s: float
    skew: float
    face: float


def _planar_angle(at: _Pose) -> float:
    sin_r, cos_r = math.sin(at.reading), math.cos(at.reading)
    a = at.h * math.cos(at.skew) * sin_r
    b = at.h * (math.sin(at.skew) * math.sin(at.face) * sin_r - math.cos(at.face) * cos_r)
    k = -at.s * (math.cos(at.face) * math.sin(at.skew) * sin_r + math.sin(at.face) * cos_r)
    both = _solve(a, b, k)
    # of two opposite solutions the one that points the same way as the reading
    nearest = max(both, key=lambda x: math.cos(x - at.reading))
    return nearest + at.phi


def _projection_angles(at: _Pose) -> tuple[float, float]:
    a, b = at.h * math.cos(at.skew), at.h * math.sin(at.skew) * math.sin(at.face)
    k = math.sin(at.reading) - at.s * math.cos(at.face) * math.sin(at.skew)
    first, second = _solve(a, b, k)
    return first + at.phi, second + at.phi


def _wrapped_deg(angle: float) -> float:
    return math.degrees(math.atan2(math.sin(angle), math.cos(angle)))


def blade_angles(
    convention: str,
    reading_deg: float,
    theta_deg: float = 0.0,
    psi_deg: float = 0.0,
    *,
    skew_deg: float = 0.0,
    face_deg: float = 0.0,
) -> tuple[float, ...]:
    """Return every blade angle that gives this reading: one, or two for a projection level.

    Exact inverse of `seat`. A projection reading no blade angle can give (noise at its fold)
    returns the fold itself, twice.
    """
    theta, psi = math.radians(theta_deg), math.radians(psi_deg)
    level, nose = math.cos(theta) * math.cos(psi), math.sin(theta)
    at = _Pose(
        math.radians(reading_deg),
        math.atan2(nose, level),
        math.hypot(level, nose),
        math.cos(theta) * math.sin(psi),
        math.radians(skew_deg),
        math.radians(face_deg),
    )
    if convention == "projection":
        return tuple(_wrapped_deg(angle) for angle in _projection_angles(at))
    return (_wrapped_deg(_planar_angle(at)),)


def blade_angle(
    convention: str,
    reading_deg: float,
    theta_deg: float = 0.0,
    psi_deg: float = 0.0,
    *,
    skew_deg: float = 0.0,
    face_deg: float = 0.0,
    near_deg: float = 90.0,
) -> float:
    """Return the blade angle behind a reading, in (-180, 180].

    Of a projection level's two solutions it is the one nearer `near_deg`, the angle the blade
    is set to. Whether that is so must be asked (see `suspicion`).
    """
    both = blade_angles(
        convention, reading_deg, theta_deg, psi_deg, skew_deg=skew_deg, face_deg=face_deg
    )
    if len(both) == 1:
        return both[0]
    return min(both, key=lambda angle: abs(difference_deg(angle, near_deg)))


def blade_angles_at(
    convention: str, points: Sequence[tuple[float, Sequence[float]]], near_deg: float = 90.0
) -> list[float]:
    """Return `blade_angle` at each point: a reading, and (theta, face, psi, skew), degrees."""
    return [
        blade_angle(
            convention, reading, theta, psi, skew_deg=skew, face_deg=face, near_deg=near_deg
        )
        for reading, (theta, face, psi, skew) in points
    ]


def rising_side(rotation: Rotation) -> Literal["left", "right"]:
    """Side of the aircraft where a horizontal blade has its leading edge up."""
    return "left" if rotation == "clockwise" else "right"


def side_in_words(layout: Layout, rotation: Rotation, *, beyond: bool = False) -> str:
    """Where to stand and how the blade lies.

    Seen from behind the aircraft a clockwise propeller rises on the aircraft's left: there a
    horizontal blade has its leading edge up.
    beyond: on the other side, where it has its leading edge down.
    """
    rising = rising_side(rotation)
    side, edge = (_other(rising), "down") if beyond else (rising, "up")
    if layout == "tractor":
        place, hand = "in front of the propeller, facing aft", _other(side)
        face = "its flat face looks at the cowling: the level goes behind the blade"
    else:
        place, hand = "behind the propeller, facing forward", side
        face = "its flat face looks at you: the level goes on the near side of the blade"
    return (
        f"Stand {place}. Turn the blade horizontal on your {hand} (the aircraft's {side}), "
        f"leading edge {edge}; {face}."
    )


def _other(side: str) -> str:
    return "right" if side == "left" else "left"
