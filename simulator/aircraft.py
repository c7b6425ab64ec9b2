"""An aircraft in front of a propeller: the rpm that an engine's torque, the blades and an airframe's drag agree on.

It is no straight line, and knows nothing of one. Torque falls with the air's density as Gagg and Farrar found for
engines without a blower (Altitude Performance of Aircraft Engines, S.A.E., 1934).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from simulator.blade_elements import Blades, Section, coefficients
from simulator.draws import Draws

Array = npt.NDArray[np.float64]
SEA_LEVEL_DENSITY = 1.225
GRAVITY = 9.80665
KNOT_M_S = 1852.0 / 3600.0
ADVANCE_STEP = 0.05
ADVANCES = np.linspace(0.0, 26 * ADVANCE_STEP, 27)
Curve = list[float]
"""A coefficient at each of these advance ratios."""
MOST_SPEED = 140.0
TURNS_HZ = (5.0, 100.0)
REACH_DEG = 6.0
"""So far to either side of its design angle a propeller is worked out."""
CLIMB_SPEED = 1.35
"""Of the speed of least drag times 0.76, where least power is needed; a climb is flown a little faster."""


@dataclass(frozen=True, slots=True)
class Engine:
    """Full-throttle torque at the propeller against its turns: a hump.

    torque_nm: the most, at peak_hz turns a second at sea level. fall: how fast it falls beside that.
    """

    torque_nm: float
    peak_hz: float
    fall: float

    def torque(self, hz: float, relative_density: float) -> float:
        """Return the torque at so many turns a second in air of this density."""
        breathing = relative_density - (1.0 - relative_density) / 7.55
        beside = hz / self.peak_hz - 1.0
        return self.torque_nm * (1.0 - self.fall * beside * beside) * breathing


@dataclass(frozen=True, slots=True)
class Airframe:
    """What must be pulled: drag area at no lift, mass, and span with its efficiency."""

    drag_area_m2: float
    mass_kg: float
    span_m: float
    efficiency: float = 0.8

    def drag_n(self, speed: float, density: float) -> float:
        """Return the drag in level flight."""
        pressure = 0.5 * density * speed * speed
        weight = self.mass_kg * GRAVITY
        induced = weight**2 / (pressure * math.pi * self.span_m**2 * self.efficiency)
        return pressure * self.drag_area_m2 + induced

    def best_glide_m_s(self, density: float) -> float:
        """Return the speed of least drag."""
        weight = self.mass_kg * GRAVITY
        area = self.drag_area_m2 * math.pi * self.span_m**2 * self.efficiency
        return math.sqrt(2.0 * weight / density / math.sqrt(area))


@dataclass(slots=True)
class Aircraft:
    """One aircraft; blade angles at 75 % radius, degrees."""

    blades: Blades
    engine: Engine
    airframe: Airframe
    _angles: Array = field(init=False)
    _thrust: Array = field(init=False)
    _torque: Array = field(init=False)

    def __post_init__(self) -> None:
        middle = self.blades.design_deg
        self._angles = np.linspace(middle - REACH_DEG, middle + REACH_DEG, 25)
        self._thrust, self._torque = coefficients(self.blades, self._angles, ADVANCES)

    def static_rpm(
        self, angle_deg: float, relative_density: float = 1.0, wind_m_s: float = 0.0
    ) -> float:
        """Return the turns a minute of a full-throttle run, tied down with the wind from ahead."""
        return 60.0 * self._turns(self._of(angle_deg), wind_m_s, relative_density)[0]

    def climb_rpm(self, angle_deg: float, relative_density: float = 1.0) -> float:
        """Return the turns a minute at full throttle a little faster than where least power is needed."""
        density = SEA_LEVEL_DENSITY * relative_density
        speed = CLIMB_SPEED * 0.76 * self.airframe.best_glide_m_s(density)
        return 60.0 * self._turns(self._of(angle_deg), speed, relative_density)[0]

    def level_rpm(self, angle_deg: float, relative_density: float = 1.0) -> float:
        """Return the turns a minute in level flight at full throttle."""
        return self.level(angle_deg, relative_density)[0]

    def level(self, angle_deg: float, relative_density: float = 1.0) -> tuple[float, float]:
        """Return turns a minute and true airspeed (m/s) in level flight at full throttle."""
        curves = self._of(angle_deg)

        def spare_n(speed: float) -> float:
            return self._spare_n(curves, speed, relative_density)

        slow = self.airframe.best_glide_m_s(SEA_LEVEL_DENSITY * relative_density)
        speed = falls_to_zero(spare_n, slow, MOST_SPEED)
        return 60.0 * self._turns(curves, speed, relative_density)[0], speed

    def dive_rpm(self, angle_deg: float, speed_m_s: float) -> float:
        """Return the turns a minute at full throttle at a speed, at sea level."""
        return 60.0 * self._turns(self._of(angle_deg), speed_m_s, 1.0)[0]

    def _spare_n(self, curves: tuple[Curve, Curve], speed: float, relative: float) -> float:
        density = SEA_LEVEL_DENSITY * relative
        hz, thrust = self._turns(curves, speed, relative)
        force = thrust * density * hz * hz * self.blades.diameter_m**4
        return force - self.airframe.drag_n(speed, density)

    def _of(self, angle_deg: float) -> tuple[Curve, Curve]:
        """Return thrust and torque coefficients of one setting over the advance ratios."""
        at = float(np.interp(angle_deg, self._angles, np.arange(len(self._angles))))
        below = min(int(at), len(self._angles) - 2)
        part = at - below
        thrust = (1.0 - part) * self._thrust[below] + part * self._thrust[below + 1]
        torque = (1.0 - part) * self._torque[below] + part * self._torque[below + 1]
        return thrust.tolist(), torque.tolist()

    def _turns(
        self, curves: tuple[Curve, Curve], speed: float, relative: float
    ) -> tuple[float, float]:
        """Return turns a second at which engine and blades agree, and the thrust coefficient there."""
        density, diameter = SEA_LEVEL_DENSITY * relative, self.blades.diameter_m

        def left(hz: float) -> float:
            asked = _along(curves[1], speed / (hz * diameter)) * density * hz**2 * diameter**5
            return self.engine.torque(hz, relative) - asked

        hz = falls_to_zero(left, *TURNS_HZ)
        return hz, _along(curves[0], speed / (hz * diameter))


def falls_to_zero(falling: Callable[[float], float], low: float, high: float) -> float:
    """Return where a falling function is zero, to 1e-9; the end next to it where that is not between.

    False position with the Illinois rule (Dowell and Jarratt, BIT 11, 1971).
    """
    above, below = falling(low), falling(high)
    if above <= 0.0 or below >= 0.0:
        return low if above <= 0.0 else high
    side, before = 0, math.inf
    for _ in range(100):
        at = high - below * (high - low) / (below - above)
        here = falling(at)
        if here == 0.0 or abs(at - before) < 1e-9 * abs(at):
            break
        if here > 0.0:
            low, above, below, side = at, here, below * (0.5 if side > 0 else 1.0), 1
        else:
            high, below, above, side = at, here, above * (0.5 if side < 0 else 1.0), -1
        before = at
    return at


def _along(curve: Curve, advance: float) -> float:
    """Return a coefficient at an advance ratio; beyond the last one the last."""
    at = min(advance / ADVANCE_STEP, len(curve) - 1.0)
    below = min(int(at), len(curve) - 2)
    return curve[below] + (at - below) * (curve[below + 1] - curve[below])


def drawn(draws: Draws) -> Aircraft:
    """Draw an aircraft: two to four blades, an engine and an airframe that suit one another."""
    blades = Blades(
        count=2 + int(draws.between(0.0, 3.0)),
        diameter_m=draws.between(1.45, 2.0),
        chord_part=draws.between(0.11, 0.16),
        taper=draws.between(0.3, 0.7),
        design_deg=draws.between(13.0, 23.0),
        section=Section(
            zero_lift_deg=-draws.between(2.5, 5.0),
            slope_per_rad=draws.between(5.3, 6.0),
            most_lift=draws.between(1.2, 1.5),
            least_drag=draws.between(0.009, 0.014),
        ),
    )
    hz = draws.between(225.0, 260.0) / (math.pi * blades.diameter_m)
    _, torque = coefficients(blades, np.array([blades.design_deg]), np.array([0.0]))
    asked = float(torque[0, 0]) * SEA_LEVEL_DENSITY * hz**2 * blades.diameter_m**5
    engine = Engine(
        asked * draws.between(0.98, 1.02), hz * draws.between(0.75, 1.0), draws.between(0.4, 1.2)
    )
    power = 2.0 * math.pi * hz * asked
    return Aircraft(blades, engine, _airframe(draws, power, blades, hz))


def _airframe(draws: Draws, power_w: float, blades: Blades, hz: float) -> Airframe:
    """Draw one that flies level at full throttle at about the speed that the twist is made for."""
    pitch = (
        2.0 * math.pi * 0.75 * 0.5 * blades.diameter_m * math.tan(math.radians(blades.design_deg))
    )
    speed = max(30.0, pitch * hz * draws.between(0.8, 1.0))
    mass = power_w / draws.between(90.0, 140.0)
    drag = 0.75 * power_w / speed
    area = 0.9 * drag / (0.5 * SEA_LEVEL_DENSITY * speed**2)
    return Airframe(area, mass, draws.between(8.0, 11.0))
