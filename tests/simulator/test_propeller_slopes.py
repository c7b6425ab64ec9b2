"""How rpm goes with the blade angle: simulated propellers against published full-scale tests.

NACA Report 640 (Hartman and Biermann, 1938), full-scale propellers with blades of Clark Y section: its curves of the
power coefficient against V/nD, as a public set of numbers read off its charts has them. That set does not say whether
these are the curves of three blades or of four, so only ratios and slopes are held, and both counts are tried.
"""

import math

import numpy as np
import pytest

from daemon.trial.evidence import ABOVE, SLOPES
from simulator.aircraft import drawn
from simulator.blade_elements import Blades, coefficients
from simulator.draws import Draws

ADVANCES = np.arange(11) / 10.0
PUBLISHED = {
    15.0: [0.0588, 0.0580, 0.0569, 0.0541, 0.0498, 0.0437, 0.0338, 0.0210, 0.0067],
    20.0: [0.0889, 0.0888, 0.0881, 0.0870, 0.0847, 0.0797, 0.0728, 0.0622, 0.0480, 0.0314, 0.0127],
    25.0: [0.1498, 0.1424, 0.1365, 0.1315, 0.1268, 0.1218, 0.1165, 0.1100, 0.0994, 0.0863, 0.0696],
}
"""Power coefficient at V/nD of 0, 0.1, 0.2 and so on, by blade angle at 75 % radius, degrees."""
ANGLES = sorted(PUBLISHED)
NO_POWER = {15.0: 0.845, 20.0: 1.065, 25.0: 1.31}
"""V/nD at which they take none; the last one drawn on."""
Curves = dict[float, list[float]]


def simulated(count: int) -> Curves:
    """The same coefficients of a propeller like those, by blade elements."""
    blades = Blades(count=count, diameter_m=3.05, chord_part=0.135, taper=0.45, design_deg=22.0)
    _, torque = coefficients(blades, np.array(ANGLES), ADVANCES)
    return dict(zip(ANGLES, (2.0 * math.pi * torque).tolist(), strict=True))


def static_slope(curves: Curves, fine: float, coarse: float) -> float:
    """Percent of rpm a degree, standing still, at one torque: n^2 times the coefficient stays."""
    return -50.0 * math.log(curves[coarse][0] / curves[fine][0]) / (coarse - fine)


def level_slope(curves: Curves, fine: float, coarse: float, advance: float) -> float:
    """The same at one speed: the coefficient over the square of V/nD stays."""
    fines, coarses = ADVANCES[: len(curves[fine])], ADVANCES[: len(curves[coarse])]
    wanted = float(np.interp(advance, fines, curves[fine])) / advance**2
    tried = np.linspace(0.2, 1.0, 4001)
    at = np.interp(tried, coarses, curves[coarse]) / tried**2
    return -100.0 * math.log(tried[np.argmin(np.abs(at - wanted))] / advance) / (coarse - fine)


@pytest.mark.parametrize("count", [3, 4])
@pytest.mark.parametrize(("fine", "coarse"), [(15.0, 20.0), (20.0, 25.0)])
def test_static_rpm_falls_with_the_angle_as_published(
    count: int, fine: float, coarse: float
) -> None:
    """Published: 4.1 and 5.2 % a degree at one torque; an engine's own fall makes both less."""
    published = static_slope(PUBLISHED, fine, coarse)
    assert -5.3 < published < -4.0
    assert static_slope(simulated(count), fine, coarse) == pytest.approx(published, rel=0.2)


@pytest.mark.parametrize("count", [3, 4])
@pytest.mark.parametrize("advance", [0.4, 0.5, 0.6])
@pytest.mark.parametrize(("fine", "coarse"), [(15.0, 20.0), (20.0, 25.0)])
def test_rpm_at_a_speed_falls_with_the_angle_as_published(
    count: int, advance: float, fine: float, coarse: float
) -> None:
    """Published: 3.7 to 4.7 % a degree at one torque and one speed."""
    published = level_slope(PUBLISHED, fine, coarse, advance)
    assert -4.8 < published < -3.6
    found = level_slope(simulated(count), fine, coarse, advance)
    assert found == pytest.approx(published, rel=0.15)


def test_what_is_believed_before_a_point_holds_the_published_slopes() -> None:
    static = [static_slope(PUBLISHED, 15.0, 20.0), static_slope(PUBLISHED, 20.0, 25.0)]
    level = [level_slope(PUBLISHED, a, a + 5.0, j) for a in (15.0, 20.0) for j in (0.4, 0.5, 0.6)]
    for run, slopes in (("static", static), ("level", level)):
        mean, sd = SLOPES[run]  # type: ignore[index]
        assert all(abs(slope - mean) < 1.5 * sd for slope in slopes)


def above_static(curves: Curves, angle: float, part: float) -> float:
    """Percent of rpm above the static run at one torque, at a part of the advance at which no power is taken."""
    advance = part * NO_POWER[angle]
    here = float(np.interp(advance, ADVANCES[: len(curves[angle])], curves[angle]))
    return 50.0 * math.log(curves[angle][0] / here)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("part", [0.5, 0.6, 0.65])
def test_what_is_believed_of_level_flight_before_it_holds_the_published_curves(
    angle: float, part: float
) -> None:
    """At one torque, so an upper bound: an engine's torque falls with its turns."""
    mean, sd = ABOVE["level"]
    published = above_static(PUBLISHED, angle, part)
    assert mean - 2.0 * sd < published < mean + 2.7 * sd


def test_simulated_aircraft_fly_within_what_is_believed_of_them() -> None:
    mean, sd = ABOVE["level"]
    for seed in range(30):
        aircraft = drawn(Draws(seed, 9))
        angle = aircraft.blades.design_deg
        above = 100.0 * math.log(aircraft.level_rpm(angle) / aircraft.static_rpm(angle))
        assert abs(above - mean) < 2.5 * sd
