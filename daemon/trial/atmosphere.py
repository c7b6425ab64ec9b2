"""The standard atmosphere below 11 km, and the density altitude of dry air.

ICAO Doc 7488/3 (1993) and the U.S. Standard Atmosphere, 1976, which are the same there: 288.15 K and
101 325 Pa at sea level, 6.5 K a kilometre, dry air with R = 287.05287 J/(kg K), g = 9.80665 m/s2.
Altitudes are geopotential. Humidity is left out: at 30 degrees Celsius and saturated it would add
about 600 ft to a density altitude at sea level (from memory).
"""

SEA_LEVEL_K = 288.15
SEA_LEVEL_PA = 101_325.0
LAPSE_K_M = 0.0065
R_AIR = 287.05287
GRAVITY = 9.80665
FOOT_M = 0.3048
ZERO_CELSIUS_K = 273.15
TROPOPAUSE_M = 11_000.0
PRESSURE_POWER = GRAVITY / (R_AIR * LAPSE_K_M)
DENSITY_POWER = PRESSURE_POWER - 1.0
SEA_LEVEL_DENSITY = SEA_LEVEL_PA / (R_AIR * SEA_LEVEL_K)


def temperature_k(altitude_m: float) -> float:
    """Return the standard temperature at an altitude below 11 km, kelvin."""
    return SEA_LEVEL_K - LAPSE_K_M * altitude_m


def pressure_pa(altitude_m: float) -> float:
    """Return the standard pressure at an altitude below 11 km, pascal."""
    return SEA_LEVEL_PA * float((temperature_k(altitude_m) / SEA_LEVEL_K) ** PRESSURE_POWER)


def density_kg_m3(altitude_m: float, kelvin: float) -> float:
    """Return the density of dry air at a pressure altitude below 11 km."""
    return pressure_pa(altitude_m) / (R_AIR * kelvin)


def density_altitude_ft(pressure_altitude_ft: float, celsius: float) -> float:
    """Return at which altitude of the standard atmosphere dry air is as dense as this, feet.

    pressure_altitude_ft: what an altimeter set to 1013.25 hPa shows. celsius: of the outside air.

    Raises:
        ValueError: above the tropopause, or below absolute zero.
    """
    altitude_m = pressure_altitude_ft * FOOT_M
    kelvin = celsius + ZERO_CELSIUS_K
    if not (altitude_m < TROPOPAUSE_M and kelvin > 0.0):
        raise ValueError(f"{pressure_altitude_ft:g} ft at {celsius:g} °C is no air to fly in")
    density = density_kg_m3(altitude_m, kelvin)
    standing = float((density / SEA_LEVEL_DENSITY) ** (1.0 / DENSITY_POWER))
    return (1.0 - standing) * SEA_LEVEL_K / LAPSE_K_M / FOOT_M
