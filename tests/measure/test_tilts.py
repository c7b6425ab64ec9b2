"""Tilts from all four conventions agree with one another and with the accelerometer formula."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.angle.geometry import planar_reading, seat
from daemon.measure.tilts import Tilt, Tilter, from_roll_pitch
from shared.errors import BadInputError
from tests.measure.levels import profile


def tilt(convention: str, values: dict[str, float], **changes: object) -> Tilt:
    got = Tilter(profile(convention, **changes)).tilt(values)
    assert isinstance(got, Tilt)
    return got


def test_roll_and_pitch_as_an_accelerometer_feels_them() -> None:
    # tilt sensing with a three-axis accelerometer, ZYX order; recomputed with scipy rotations
    up = from_roll_pitch(30, 15)
    assert up == pytest.approx((-0.25881905, 0.48296291, 0.83651630), abs=1e-8)


@given(st.floats(-29, 79), st.floats(-15, 15), st.floats(-20, 20))
def test_the_conventions_agree(beta: float, theta: float, psi: float) -> None:
    z = seat(beta, theta, psi)
    angle = planar_reading(z)
    roll = math.degrees(math.atan2(z[1], z[2]))
    pitch = math.degrees(math.atan2(-z[0], math.hypot(z[1], z[2])))
    for got in (
        tilt("planar", {"angle": angle}),
        tilt("roll-pitch", {"roll": roll, "pitch": pitch}),
        tilt("vector", {"ax": 0.99 * z[0], "ay": 0.99 * z[1], "az": 0.99 * z[2]}),
    ):
        assert got.angle_deg == pytest.approx(angle, abs=1e-6)
        if got.psi_deg is not None:
            assert got.psi_deg == pytest.approx(math.degrees(math.asin(z[1])), abs=1e-6)


def test_a_mounting_turned_about_the_normal_is_undone() -> None:
    z = seat(20, 3, 2)
    own = {"ax": -z[0], "ay": -z[1], "az": z[2]}
    got = tilt("vector", own, mounting={"chord": "-x", "span": "-y", "normal": "+z"})
    assert got.angle_deg == pytest.approx(planar_reading(z), abs=1e-9)
    got = tilt("planar", {"angle": -20.0}, mounting={"chord": "+x", "span": "-y", "normal": "-z"})
    assert got.angle_deg == pytest.approx(20.0)
    got = tilt("planar", {"angle": 160.0}, mounting={"chord": "-x", "span": "-y", "normal": "+z"})
    assert got.angle_deg == pytest.approx(20.0)


def test_a_projection_level_keeps_its_raw_reading() -> None:
    got = tilt("projection", {"angle": 72.0})
    assert (got.angle_deg, got.psi_deg, got.gravity) == (72.0, None, None)


@pytest.mark.parametrize(
    ("convention", "values", "reason"),
    [
        ("planar", {}, "no angle"),
        ("planar", {"angle": math.nan}, "not finite"),
        ("projection", {"angle": 91.0}, "a projection level cannot show more than 90"),
        ("roll-pitch", {"roll": 1.0, "pitch": 95.0}, "pitch is more than 90"),
        ("vector", {"ax": 0.0, "ay": 0.0, "az": 0.2}, "not one g"),
        ("vector", {"ax": 9.8, "ay": 0.0, "az": 0.0}, "not one g"),
    ],
)
def test_numbers_that_give_no_tilt_say_why(
    convention: str, values: dict[str, float], reason: str
) -> None:
    assert Tilter(profile(convention)).tilt(values) == reason


def test_a_planar_level_across_the_blade_is_bad_input() -> None:
    with pytest.raises(BadInputError, match="span"):
        Tilter(profile(mounting={"chord": "+y", "span": "+x", "normal": "+z"}))
