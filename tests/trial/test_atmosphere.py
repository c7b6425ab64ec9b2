"""The standard atmosphere against printed values: ICAO Doc 7488/3, U.S. Standard Atmosphere, 1976."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.trial.atmosphere import (
    FOOT_M,
    density_altitude_ft,
    density_kg_m3,
    pressure_pa,
    temperature_k,
)

TABLE = [
    (0.0, 288.15, 101_325.0, 1.225000),
    (1000.0, 281.65, 89_874.563, 1.111643),
    (3000.0, 268.65, 70_108.526, 0.909122),
]
"""Geopotential metres, kelvin, pascal, kg/m3: ICAO Doc 7488/3."""


@pytest.mark.parametrize(("metres", "kelvin", "pascal", "density"), TABLE)
def test_the_table_of_the_standard_atmosphere(
    metres: float, kelvin: float, pascal: float, density: float
) -> None:
    assert temperature_k(metres) == pytest.approx(kelvin)
    assert pressure_pa(metres) == pytest.approx(pascal, rel=1e-7)
    assert density_kg_m3(metres, kelvin) == pytest.approx(density, abs=1e-6)


@pytest.mark.parametrize(
    ("pressure_ft", "celsius", "density_ft"),
    [(0.0, 30.0, 1723.9), (3000.0, 25.0, 4827.6), (5000.0, 30.0, 7800.7)],
)
def test_density_altitude_of_dry_air(pressure_ft: float, celsius: float, density_ft: float) -> None:
    """Worked out anew from the same standard by another program, dry air."""
    assert density_altitude_ft(pressure_ft, celsius) == pytest.approx(density_ft, abs=0.05)


@given(st.floats(-1000, 30_000))
def test_standard_air_has_the_altitude_it_has(feet: float) -> None:
    celsius = temperature_k(feet * FOOT_M) - 273.15
    assert density_altitude_ft(feet, celsius) == pytest.approx(feet, abs=1e-6)


@given(st.floats(-1000, 20_000), st.floats(-40, 40), st.floats(0.1, 10))
def test_warmer_is_higher(feet: float, celsius: float, warmer: float) -> None:
    assert density_altitude_ft(feet, celsius + warmer) > density_altitude_ft(feet, celsius)


@pytest.mark.parametrize(("feet", "celsius"), [(40_000.0, -50.0), (0.0, -280.0)])
def test_no_air_to_fly_in_is_refused(feet: float, celsius: float) -> None:
    with pytest.raises(ValueError, match="no air to fly in"):
        density_altitude_ft(feet, celsius)
