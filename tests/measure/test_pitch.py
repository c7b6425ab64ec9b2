"""Trade geometry against published tables."""

import math

import pytest

from daemon.measure.proving.pitch import (
    advance_ratio,
    angle_of_pitch,
    geometric_mph,
    geometric_pitch,
    slip,
    tip_mach,
    tip_speed,
    twist_deg_per_mm,
)


# geometric pitch 2 pi r tan(beta) at 0.75 R (FAA-H-8083-32), recomputed: inches
@pytest.mark.parametrize(
    ("diameter", "angle", "pitch"),
    [
        (60, 10, 24.9276), (60, 15, 37.8804), (60, 20, 51.4551), (60, 25, 65.9227),
        (68, 10, 28.2513), (68, 15, 42.9311), (68, 20, 58.3158), (68, 25, 74.7124),
        (72, 10, 29.9132), (72, 15, 45.4565), (72, 20, 61.7461), (72, 25, 79.1072),
    ],
)  # fmt: skip
def test_pitch_table(diameter: float, angle: float, pitch: float) -> None:
    radius = 0.75 * diameter / 2
    assert geometric_pitch(radius, angle) == pytest.approx(pitch, abs=5e-5)
    assert angle_of_pitch(radius, pitch) == pytest.approx(angle, abs=1e-4)


@pytest.mark.parametrize(("diameter", "pitch", "angle"), [(72, 48, 15.798443), (74, 60, 18.989303)])
def test_pitch_inverse(diameter: float, pitch: float, angle: float) -> None:
    # recomputed
    assert angle_of_pitch(0.375 * diameter, pitch) == pytest.approx(angle, abs=1e-6)


def test_speed_and_slip() -> None:
    # FAA-H-8083-32: 50 inches at 2,400 rpm; effective 44.0 inches, 12 % at 100 mph
    assert geometric_mph(50, 2400) == pytest.approx(113.636364, abs=1e-6)
    effective, lost = slip(50, 2400, 100)
    assert effective == pytest.approx(44.0)
    assert lost == pytest.approx(0.12)


def test_tip() -> None:
    # recomputed, ISA sea level (ICAO Doc 7488): 288.15 K
    assert tip_speed(1.8288, 2500) == pytest.approx(239.389360, abs=1e-6)
    assert tip_mach(1.8288, 2500) == pytest.approx(0.703478, abs=1e-6)
    assert tip_speed(1.8288, 2500, 50) == pytest.approx(math.hypot(239.389360, 50), abs=1e-6)


def test_advance_ratio_and_twist() -> None:
    assert advance_ratio(50.0, 2400, 1.8) == pytest.approx(50 / 40 / 1.8)
    # the derivative of constant pitch, numerically
    pitch = geometric_pitch(0.6, 20)
    step = angle_of_pitch(0.601, pitch) - angle_of_pitch(0.6, pitch)
    assert twist_deg_per_mm(20, 0.6) == pytest.approx(step, rel=0.01)
    assert twist_deg_per_mm(20, 0.6) == pytest.approx(-0.031, abs=5e-4)
