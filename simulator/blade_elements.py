"""A propeller by blade elements and momentum: thrust and torque of a blade of given chord and twist.

Glauert's theory (Airplane Propellers, in Durand, Aerodynamic Theory IV, 1935): each annulus takes from the air the
thrust that momentum gives for its induced velocity v, 4 pi r rho F v (V + v), and the induced velocity stands across
the resultant one, so that the swirl u obeys u (omega r - u) = v (V + v). F is Prandtl's factor for the tips. Standing
still (V = 0) is a case like any other.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
STATIONS = np.linspace(0.24, 0.985, 14)
"""Radii of the elements as parts of the tip's."""
HALVINGS = 40
REFERENCE = 0.75
"""The station at which the blade angle is stated."""


@dataclass(frozen=True, slots=True)
class Section:
    """A blade section: lift and drag against the angle of attack."""

    zero_lift_deg: float = -4.0
    slope_per_rad: float = 5.7
    most_lift: float = 1.35
    least_drag: float = 0.011
    drag_rise: float = 0.012
    """Of the square of lift away from the best."""
    best_lift: float = 0.4

    def lift_and_drag(self, attack_rad: Array) -> tuple[Array, Array]:
        """Return both coefficients; past the stall lift stays flat and drag grows fast."""
        line = self.slope_per_rad * (attack_rad - math.radians(self.zero_lift_deg))
        lift = self.most_lift * np.tanh(line / self.most_lift)
        beyond = np.abs(line - lift)
        drag = self.least_drag + self.drag_rise * (lift - self.best_lift) ** 2 + 0.25 * beyond**2
        return lift, np.minimum(drag, 1.6)


@dataclass(frozen=True, slots=True)
class Blades:
    """A set of equal blades; turned in their sockets, every station turns alike.

    chord_part: the widest chord as a part of the radius. taper: how much narrower the tip is than that, 0 to 1.
    design_deg: blade angle at 75 % radius at which the twist gives one pitch at every station.
    """

    count: int
    diameter_m: float
    chord_part: float
    taper: float
    design_deg: float
    section: Section = Section()

    @property
    def radii_m(self) -> Array:
        """Radii of the elements."""
        return 0.5 * self.diameter_m * STATIONS

    @property
    def chords_m(self) -> Array:
        """Chords of the elements: widest near half the radius, rounded at the tip."""
        narrowing = 1.0 - self.taper * np.abs(STATIONS - 0.5) / 0.5
        rounded = np.sqrt(np.clip(1.0 - np.clip((STATIONS - 0.9) / 0.1, 0.0, 1.0) ** 2, 0.05, 1.0))
        return 0.5 * self.diameter_m * self.chord_part * narrowing * rounded

    def angles_rad(self, at_reference_deg: float) -> Array:
        """Return the blade angle of every element when this is set at 75 % radius."""
        pitch = REFERENCE * math.tan(math.radians(self.design_deg))
        twist = np.arctan(pitch / STATIONS) - math.radians(self.design_deg)
        return math.radians(at_reference_deg) + twist


def coefficients(blades: Blades, angles_deg: Array, advance: Array) -> tuple[Array, Array]:
    """Return the thrust and the torque coefficient, T / (rho n^2 D^4) and Q / (rho n^2 D^5).

    angles_deg: blade angles at 75 % radius. advance: V / (n D), 0 or more. Both answers have one row an angle and
    one column an advance ratio.
    """
    radius = 0.5 * blades.diameter_m
    omega = (
        2.0 * math.pi / blades.diameter_m
    )  # of n = 1/D, so that a tip speed of pi belongs to V = J
    r, chord = blades.radii_m, blades.chords_m
    angle = np.stack([blades.angles_rad(float(one)) for one in angles_deg])[:, None, :]
    forward = advance[None, :, None] + np.zeros_like(angle)
    turning = np.broadcast_to(omega * r, forward.shape)
    low = np.full(forward.shape, -0.45) * forward
    high = 0.9 * turning + 0.0 * forward
    for _ in range(HALVINGS):
        induced = 0.5 * (low + high)
        axial, _ = _forces(blades, angle, forward, turning, induced, chord)
        more = axial > _momentum(blades, forward, turning, induced, r, radius)
        low, high = np.where(more, induced, low), np.where(more, high, induced)
    axial, tangential = _forces(blades, angle, forward, turning, 0.5 * (low + high), chord)
    scale = 1.0 / blades.diameter_m**2  # rho = 1, n = 1/D: rho n^2 D^4 = D^2
    thrust = np.asarray(np.trapezoid(axial, r, axis=-1)) * scale
    torque = np.asarray(np.trapezoid(tangential * r, r, axis=-1)) * scale / blades.diameter_m
    return thrust, torque


def _swirl(forward: Array, turning: Array, induced: Array) -> Array:
    left = 1.0 - 4.0 * induced * (forward + induced) / turning**2
    return 0.5 * turning * (1.0 - np.sqrt(np.clip(left, 0.0, None)))


def _momentum(
    blades: Blades, forward: Array, turning: Array, induced: Array, r: Array, radius: float
) -> Array:
    """Thrust a metre of radius that the annulus takes; rho = 1."""
    through = np.maximum(forward + induced, 1e-6)
    along = np.hypot(through, turning - _swirl(forward, turning, induced))
    loss = 0.5 * blades.count * (radius - r) / r * along / through
    factor = 2.0 / math.pi * np.arccos(np.exp(-np.minimum(loss, 50.0)))
    return 4.0 * math.pi * r * factor * induced * (forward + induced)


def _forces(
    blades: Blades,
    angle: Array,
    forward: Array,
    turning: Array,
    induced: Array,
    chord: Array,
) -> tuple[Array, Array]:
    """Axial and tangential force a metre of radius of all blades; rho = 1."""
    through, across = forward + induced, turning - _swirl(forward, turning, induced)
    inflow = np.arctan2(through, across)
    lift, drag = blades.section.lift_and_drag(angle - inflow)
    pressed = 0.5 * (through**2 + across**2) * blades.count * chord
    axial = pressed * (lift * np.cos(inflow) - drag * np.sin(inflow))
    tangential = pressed * (lift * np.sin(inflow) + drag * np.cos(inflow))
    return axial, tangential
