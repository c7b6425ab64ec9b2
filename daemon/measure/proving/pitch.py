"""What a blade angle means to the trade: pitch, slip, tip speed, advance ratio, twist.

FAA-H-8083-32 (Aviation Maintenance Technician Handbook - Powerplant), propellers; the
international standard atmosphere (ICAO Doc 7488) for the speed of sound.
"""

import math

MILE_INCHES = 63360.0
GAS, GAMMA = 287.05287, 1.4
"""Specific gas constant of dry air, J/(kg K), and its ratio of specific heats."""


def geometric_pitch(radius: float, angle_deg: float) -> float:
    """Advance of one turn without slip, in the unit of `radius`: 2 pi r tan(beta)."""
    return 2.0 * math.pi * radius * math.tan(math.radians(angle_deg))


def angle_of_pitch(radius: float, pitch: float) -> float:
    """Blade angle in degrees that has this geometric pitch at this radius, same unit."""
    return math.degrees(math.atan(pitch / (2.0 * math.pi * radius)))


def geometric_mph(pitch_in: float, rpm: float) -> float:
    """Speed without slip, statute miles an hour, of a pitch in inches."""
    return pitch_in * rpm * 60.0 / MILE_INCHES


def slip(pitch_in: float, rpm: float, true_mph: float) -> tuple[float, float]:
    """Return the effective pitch in inches and the slip as a fraction of the geometric pitch."""
    effective = true_mph * MILE_INCHES / (rpm * 60.0)
    return effective, 1.0 - effective / pitch_in


def tip_speed(diameter_m: float, rpm: float, forward_m_s: float = 0.0) -> float:
    """Helical speed of the tip, m/s."""
    return math.hypot(math.pi * diameter_m * rpm / 60.0, forward_m_s)


def speed_of_sound(temperature_k: float) -> float:
    """In dry air, m/s."""
    return math.sqrt(GAMMA * GAS * temperature_k)


def tip_mach(
    diameter_m: float, rpm: float, temperature_k: float = 288.15, forward_m_s: float = 0.0
) -> float:
    """Mach number of the tip."""
    return tip_speed(diameter_m, rpm, forward_m_s) / speed_of_sound(temperature_k)


def advance_ratio(forward_m_s: float, rpm: float, diameter_m: float) -> float:
    """J = V / (n D), n in turns a second."""
    return forward_m_s / (rpm / 60.0 * diameter_m)


def twist_deg_per_mm(angle_deg: float, radius_m: float) -> float:
    """Change of the blade angle along a blade of constant pitch: -sin(beta) cos(beta) / r."""
    beta = math.radians(angle_deg)
    return -math.degrees(math.sin(beta) * math.cos(beta) / radius_m) / 1000.0
