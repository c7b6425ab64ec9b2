"""Tilts from all four conventions agree with one another and with the accelerometer formula."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.angle.geometry import planar_reading, seat
from daemon.measure.stream.tilts import Tilt, Tilter, asin_deg, from_roll_pitch
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
        ("projection", {"angle": 90.01}, "a projection level cannot show more than 90"),
        ("projection", {"angle": -90.01}, "a projection level cannot show more than 90"),
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


def test_the_ends_of_what_a_convention_can_show_are_inside() -> None:
    assert tilt("projection", {"angle": 90.0}).angle_deg == 90.0
    assert tilt("projection", {"angle": -90.0}).angle_deg == -90.0
    assert tilt("roll-pitch", {"roll": 0.0, "pitch": 90.0}).angle_deg is not None
    for g, reason in ((0.5, "not one g"), (2.0, "not one g"), (0.51, None), (1.99, None)):
        got = Tilter(profile("vector")).tilt({"ax": g, "ay": 0.0, "az": 0.0})
        assert (got if isinstance(got, str) else None) == reason


def test_a_projection_level_mounted_end_for_end_changes_its_sign() -> None:
    turned = {"chord": "-x", "span": "-y", "normal": "+z"}
    assert tilt("projection", {"angle": 20.0}, mounting=turned).angle_deg == -20.0
    assert math.copysign(1.0, tilt("projection", {"angle": 0.0}, mounting=turned).angle_deg) == 1.0


def test_no_number_of_a_sample_may_be_infinite() -> None:
    got = Tilter(profile()).tilt({"angle": 1.0, "temperature": math.inf})
    assert got == "not finite"


def test_arc_sine_of_what_noise_pushed_past_one() -> None:
    assert asin_deg(1.0000001) == 90.0
    assert asin_deg(-1.5) == -90.0
    assert asin_deg(0.5) == pytest.approx(30.0)


def test_gravity_and_its_elevation_are_of_the_seat() -> None:
    got = tilt(
        "vector", {"ax": 0.3, "ay": 1.2, "az": 0.4},
        mounting={"chord": "+y", "span": "-z", "normal": "+x"},
    )  # fmt: skip
    assert got.gravity == pytest.approx((1.2 / 1.3, -0.4 / 1.3, 0.3 / 1.3))
    assert got.psi_deg == pytest.approx(math.degrees(math.asin(-0.4 / 1.3)))
