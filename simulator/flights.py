"""Trial flights with a simulated aircraft: what its manual allows, and what its instruments show on a day.

All angles are those at which the blades truly stand at 75 % radius. Rpm are the propeller's.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from simulator.aircraft import KNOT_M_S, SEA_LEVEL_DENSITY, Aircraft, falls_to_zero
from simulator.draws import Draws

FOOT_M = 0.3048
ALONG = 0.8
"""How much of the wind comes from ahead where an aircraft is turned into it."""


@dataclass(frozen=True, slots=True)
class Papers:
    """What the manuals allow, at sea level on a standard day, and which settings meet all of it.

    finest_deg, coarsest_deg: the ends of what is allowed; where none is, the finest is above the coarsest.
    """

    least_static_rpm: float
    most_static_rpm: float
    redline_rpm: float
    finest_deg: float
    coarsest_deg: float

    @property
    def best_deg(self) -> float:
        """The middle of what is allowed."""
        return 0.5 * (self.finest_deg + self.coarsest_deg)

    @property
    def possible(self) -> bool:
        """Some setting meets every limit."""
        return self.coarsest_deg > self.finest_deg


def papers(aircraft: Aircraft, draws: Draws, apart_deg: float = 0.0) -> Papers:
    """Draw the limits of an aircraft, to 10 rpm.

    apart_deg: 0: settings 0.5 to 1.5 degrees to either side of about the design angle meet all of them. More: the
    redline wants a setting by so much coarser than the least static rpm allows.
    """
    middle = aircraft.blades.design_deg + draws.between(-1.0, 1.0)
    coarse, fine, red = (draws.between(0.5, 1.5) for _ in range(3))
    if apart_deg:
        coarse, red, fine = 0.0, -apart_deg, 0.5
    least = _ten(aircraft.static_rpm(middle + coarse))
    most = _ten(aircraft.static_rpm(middle - fine))
    redline = _ten(aircraft.level_rpm(middle - red))
    coarsest = turning(aircraft.static_rpm, least, middle)
    finest = max(
        turning(aircraft.static_rpm, most, middle), turning(aircraft.level_rpm, redline, middle)
    )
    return Papers(least, most, redline, finest, coarsest)


def _ten(rpm: float) -> float:
    return 10.0 * round(rpm / 10.0)


def turning(rpm_at: Callable[[float], float], rpm: float, near_deg: float) -> float:
    """Return the setting within 4 degrees at which a run turns so many rpm."""
    return falls_to_zero(lambda angle: rpm_at(angle) - rpm, near_deg - 4.0, near_deg + 4.0)


@dataclass(frozen=True, slots=True)
class Habits:
    """What goes wrong with this aircraft's numbers. Percent of rpm, but for feet and knots.

    scatter: standard deviation of one reading. bias: of the tachometer, always the same. day: standard deviation of
    what a day does to all runs. gust_kt: of the wind beside what is entered. wrong_air_ft: how far off the entered
    altitude may be.
    """

    scatter: float
    bias: float
    day: float = 0.15
    gust_kt: float = 2.0
    wrong_air_ft: float = 300.0


def habits(draws: Draws) -> Habits:
    """Draw them: readings repeat to 1 % (19 in 20) in the middle, tachometers are good to 1 % (two in three)."""
    return Habits(0.5 * math.exp(draws.normal(0.2)), draws.normal(1.0))


@dataclass(frozen=True, slots=True)
class Shown:
    """What was written down after a trial: rpm as shown, feet of pressure altitude, degrees Celsius, knots.

    check_shown, check_true: what the tachometer and an optical one showed at the same moment.
    """

    static_rpm: float
    climb_rpm: float
    level_rpm: float
    true_airspeed_kt: float
    ground_ft: float
    ground_celsius: float
    altitude_ft: float
    celsius: float
    wind_kt: float
    check_shown: float
    check_true: float


def flown(
    aircraft: Aircraft, angle_deg: float, habit: Habits, draws: Draws, bias: float = 0.0
) -> Shown:
    """Fly a setting once. bias: percent that all rpm of this flight show too much, beside the tachometer's own."""
    ground, warm = draws.between(0.0, 1500.0), draws.normal(8.0)
    high = ground + draws.between(500.0, 2500.0)
    wind = draws.between(0.0, 8.0)
    felt = max(0.0, wind * ALONG + draws.normal(habit.gust_kt)) * KNOT_M_S
    day = draws.normal(habit.day)

    def shown(rpm: float) -> float:
        percent = habit.bias + bias + day + draws.normal(habit.scatter)
        return 5.0 * round(rpm * math.exp(percent / 100.0) / 5.0)

    below, above = _air(ground, warm), _air(high, warm)
    rpm, speed = aircraft.level(angle_deg, above)
    static = aircraft.static_rpm(angle_deg, below, felt)
    return Shown(
        static_rpm=shown(static),
        climb_rpm=shown(aircraft.climb_rpm(angle_deg, above)),
        level_rpm=shown(rpm),
        true_airspeed_kt=speed / KNOT_M_S + draws.normal(1.5),
        ground_ft=ground + draws.normal(habit.wrong_air_ft),
        ground_celsius=_celsius(ground, warm) + draws.normal(1.0),
        altitude_ft=high + draws.normal(habit.wrong_air_ft),
        celsius=_celsius(high, warm) + draws.normal(1.0),
        wind_kt=wind,
        check_shown=1800.0 * math.exp(habit.bias / 100.0),
        check_true=1800.0 * math.exp(draws.normal(0.2) / 100.0),
    )


def _celsius(feet: float, warm: float) -> float:
    return 15.0 - 0.0065 * feet * FOOT_M + warm


def _air(feet: float, warm: float) -> float:
    """Return the density at a pressure altitude, warm degrees off the standard one, over that at sea level."""
    standard = 288.15 - 0.0065 * feet * FOOT_M
    pascal = 101_325.0 * (standard / 288.15) ** 5.255880
    return float(pascal / (287.05287 * (standard + warm)) / SEA_LEVEL_DENSITY)
