"""Signs, zero error and cancelling, by truth put through the forward model."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.budget import difference
from daemon.measure.angle.geometry import planar_reading, projection_reading, seat
from daemon.measure.angle.means import mean_of
from daemon.measure.angle.placement import seat_angle_deg
from daemon.measure.angle.reference import (
    Reference,
    reference_angle,
)
from shared.events import Sense
from tests.measure.levels import job, profile, reading

PLANAR = profile()
THETA = st.floats(-14, 14)
BETA = st.floats(-25, 75)


def shown(beta: float, theta: float, sense: Sense, zero: float, psi: float = 0.0) -> float:
    """What a full-circle planar level with this zero error shows."""
    c, _, n = seat(beta, theta, psi)
    if sense == "reversed":
        c = -c
    return math.degrees(math.atan2(-n, c)) + zero


@given(BETA, THETA, st.floats(-1, 1), st.sampled_from(["normal", "reversed"]))
def test_zero_cancels_in_one_sense(beta: float, theta: float, zero: float, sense: Sense) -> None:
    reference = reference_angle([reading(shown(0, theta, sense, zero))], PLANAR, sense)
    taken = reading(shown(beta, theta, sense, zero))
    blade = blade_reading(taken, PLANAR, job(setup={"skew_u_deg": 0}), sense, reference)
    assert blade.angle_deg == pytest.approx(beta, abs=0.01)
    assert all(line.name != "zero" for line in blade.budget.lines)


@given(st.floats(5, 35), THETA, st.floats(-1, 1))
def test_zero_goes_in_twice_in_mixed_senses(beta: float, theta: float, zero: float) -> None:
    reference = reference_angle([reading(shown(0, theta, "reversed", zero))], PLANAR, "reversed")
    blade = blade_reading(
        reading(shown(beta, theta, "normal", zero)), PLANAR, job(), "normal", reference
    )
    assert blade.angle_deg - beta == pytest.approx(2 * zero, abs=0.05)
    line = next(line for line in blade.budget.lines if line.name == "zero")
    assert line.u_deg == pytest.approx(2 * 0.1 / math.sqrt(3), rel=0.01)


def test_opposite_senses_without_reference_lose_the_zero_in_their_mean() -> None:
    level = Reference(0.0, 0.0, math.inf, "normal", zero=0.0)
    pair = [
        blade_reading(reading(shown(18, 0, sense, 0.3)), PLANAR, job(), sense, level)
        for sense in ("normal", "reversed")
    ]
    both = mean_of(pair)
    assert both.angle_deg == pytest.approx(18, abs=0.02)
    assert all(line.name != "zero" for line in both.budget.lines)


def test_reversal_folds_at_ninety_or_half_a_turn_alike() -> None:
    assert seat_angle_deg(-20.0, PLANAR, "reversed") == pytest.approx(20)
    assert seat_angle_deg(160.0, PLANAR, "reversed") == pytest.approx(20)
    assert seat_angle_deg(20.0, PLANAR, "normal") == 20.0
    assert seat_angle_deg(-70.0, profile("projection"), "reversed") == 70.0


@given(st.floats(16, 35), st.floats(-8, 8))
def test_projection_level_on_a_known_shaft(beta: float, theta: float) -> None:
    level = profile("projection")
    z = seat(beta, theta, 0)
    reference = Reference(theta, 0.02, math.inf, "normal")
    blade = blade_reading(
        reading(projection_reading(z)),
        level,
        job(setup={"skew_u_deg": 0}),
        "normal",
        reference,
        (0.0, 0.0),
    )
    assert blade.angle_deg == pytest.approx(beta, abs=0.001)


def test_the_one_sided_effect_of_psi_is_in_the_mean() -> None:
    # the mean of a projection reading over psi ~ N(0, 3): simulated with the forward model
    level, n, wide = profile("projection"), 4001, 3.0
    points = [(-6 + 12 * (i + 0.5) / n) for i in range(n)]
    weights = [math.exp(-0.5 * x * x) for x in points]
    taken = reading(projection_reading(seat(20, 0, 0)))
    blade = blade_reading(
        taken, level, job(setup={"skew_u_deg": 0}),
        "normal", Reference(0.0, 0.0, math.inf, "normal"), (0.0, wide),
    )  # fmt: skip
    at = [
        blade_reading(taken, level, job(setup={"skew_u_deg": 0}), "normal",
                      Reference(0.0, 0.0, math.inf, "normal"), (wide * x, 0.0)).angle_deg
        for x in points[::40]
    ]  # fmt: skip
    some = weights[::40]
    mean = sum(a * w for a, w in zip(at, some, strict=True)) / sum(some)
    spread = math.sqrt(sum((a - mean) ** 2 * w for a, w in zip(at, some, strict=True)) / sum(some))
    assert blade.angle_deg == pytest.approx(mean, abs=0.03)
    line = next(line for line in blade.budget.lines if line.name == "psi")
    assert line.u_deg == pytest.approx(spread, rel=0.15)


def test_fresh_placements_shrink_and_shared_causes_stay() -> None:
    reference = reference_angle([reading(-3.0), reading(-3.02)], PLANAR, "normal")
    one = blade_reading(reading(15.0), PLANAR, job(), "normal", reference)
    two = mean_of([one, one])
    lines = {line.name: line.u_deg for line in one.budget.lines}
    shrunk = {line.name: line.u_deg for line in two.budget.lines}
    assert shrunk["seating"] == pytest.approx(lines["seating"] / math.sqrt(2))
    assert shrunk["averaging"] == pytest.approx(lines["averaging"] / math.sqrt(2))
    assert shrunk["reference"] == pytest.approx(lines["reference"])
    assert two.budget.u95_deg < 0.13
    assert "reference" not in {line.name for line in difference(one.budget, two.budget).lines}


def test_station_and_twist() -> None:
    # d(beta)/dr = -sin cos / r for constant pitch: 0.031 degrees a millimetre at 0.6 m, 20
    blade = blade_reading(
        reading(20.0), PLANAR, job(propeller={"radius_m": 0.6, "station_u_mm": 2.0}),
        "normal", Reference(0.0, 0.01, math.inf, "normal"),
    )  # fmt: skip
    line = next(line for line in blade.budget.lines if line.name == "station")
    assert line.u_deg == pytest.approx(0.062, abs=0.001)


def test_no_reference_is_said_in_numbers() -> None:
    blade = blade_reading(reading(20.0), PLANAR, job(), "normal", None)
    assert blade.budget.u95_deg > 5


def test_empty_means_are_errors() -> None:
    with pytest.raises(ValueError, match="placement"):
        mean_of([])
    with pytest.raises(ValueError, match="reading"):
        reference_angle([], PLANAR, "normal")


def test_planar_reading_matches_the_sense_convention() -> None:
    assert planar_reading(seat(20, 5)) == pytest.approx(15)
