"""A small, seeded share of benchmarks/coverage.py: stated intervals hold the truth."""

import pytest

from benchmarks.coverage import ROWS, table

CHOSEN = {row.name: row for row in ROWS}


@pytest.mark.parametrize(
    "name",
    ["white", "quantised 0.1", "psi, projection, hub witness", "face 3, planar"],
)
def test_stated_intervals_hold_the_blade_angle(name: str) -> None:
    inside, half, best, _ = table(CHOSEN[name], 400, 11, 20_000)
    assert inside > 0.92  # 94 % less three standard deviations of 400 readings
    assert half / best < 1.2
