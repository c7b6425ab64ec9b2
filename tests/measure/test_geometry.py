"""The forward model and its inverse, against rotations of another make (scipy)."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from daemon.measure.angle.geometry import (
    azimuth_deg,
    blade_angle,
    blade_angles,
    phi_deg,
    planar_reading,
    projection_reading,
    seat,
    side_in_words,
)

BETA = st.floats(-29, 79)
THETA = st.floats(-15, 15)
SMALL = st.floats(-8, 8)


def scipy_seat(
    beta: float, theta: float, psi: float, skew: float, face: float
) -> tuple[float, float, float]:
    """World: x forward, y to the side on which blades are read, z up."""
    nose_up = Rotation.from_rotvec([0, -math.radians(theta), 0])
    raised = Rotation.from_rotvec([math.radians(psi), 0, 0])
    # at beta 0 the chord lies in the plane of rotation, leading edge up; coarser turns the
    # leading edge forward, about the span
    pitch = Rotation.from_rotvec([0, math.radians(beta), 0])
    inclined = Rotation.from_rotvec([0, 0, math.radians(face)])
    skewed = Rotation.from_rotvec([-math.radians(skew), 0, 0])
    whole = nose_up * raised * pitch * inclined * skewed
    chord, span, normal = whole.apply(np.array([[0, 0, 1], [0, 1, 0], [1, 0, 0]]))
    return float(chord[2]), float(span[2]), float(normal[2])


@given(BETA, THETA, SMALL, SMALL, SMALL)
def test_the_model_equals_scipy_rotations(
    beta: float, theta: float, psi: float, skew: float, face: float
) -> None:
    ours = seat(beta, theta, psi, skew, face)
    theirs = scipy_seat(beta, theta, psi, skew, face)
    assert ours[0] == pytest.approx(theirs[0], abs=1e-12)
    assert ours[1] == pytest.approx(theirs[1], abs=1e-12)
    assert ours[2] == pytest.approx(theirs[2], abs=1e-12)


@given(BETA, THETA, SMALL, SMALL, SMALL)
def test_a_planar_reading_gives_its_blade_angle_back(
    beta: float, theta: float, psi: float, skew: float, face: float
) -> None:
    reading = planar_reading(scipy_seat(beta, theta, psi, skew, face))
    got = blade_angle("planar", reading, theta, psi, skew_deg=skew, face_deg=face)
    assert got == pytest.approx(beta, abs=1e-7)


@given(BETA, THETA, SMALL, SMALL, SMALL)
def test_one_of_the_two_projection_solutions_is_the_blade_angle(
    beta: float, theta: float, psi: float, skew: float, face: float
) -> None:
    reading = projection_reading(scipy_seat(beta, theta, psi, skew, face))
    both = blade_angles("projection", reading, theta, psi, skew_deg=skew, face_deg=face)
    assert min(abs(one - beta) for one in both) < 2e-5  # the fold magnifies rounding


# recomputed with scipy rotations: beta, theta, psi -> asin(c.z), atan2(-n.z, c.z)
ORACLES = [
    (20, 5, 3, 74.718574277, 14.993173125),
    (15, 0, 5, 74.206775849, 15.000000000),
]


@pytest.mark.parametrize(("beta", "theta", "psi", "projection", "planar"), ORACLES)
def test_tilt_oracles(
    beta: float, theta: float, psi: float, projection: float, planar: float
) -> None:
    at = seat(beta, theta, psi)
    assert projection_reading(at) == pytest.approx(projection, abs=1e-9)
    assert planar_reading(at) == pytest.approx(planar, abs=1e-9)
    assert blade_angle("planar", planar, theta, psi) == pytest.approx(beta, abs=1e-8)
    assert blade_angle("projection", projection, theta, psi) == pytest.approx(beta, abs=1e-7)


@pytest.mark.parametrize(("beta", "off"), [(10, 0.0374), (20, 0.0703), (35, 0.1027)])
def test_what_a_skew_of_five_costs(beta: float, off: float) -> None:
    # recomputed with scipy rotations
    assert planar_reading(seat(beta, 0, 0, 5)) - beta == pytest.approx(off, abs=6e-5)


@pytest.mark.parametrize(("psi", "off"), [(2, 0.12), (5, 0.27)])
def test_what_an_inclined_face_costs(psi: float, off: float) -> None:
    # recomputed with scipy rotations
    assert abs(planar_reading(seat(20, 0, psi, 0, 3)) - 20) == pytest.approx(off, abs=0.04)


@pytest.mark.parametrize(("beta", "off"), [(10, 1.1690), (15, 0.7932), (20, 0.5907), (25, 0.4635)])
def test_what_ignoring_psi_costs_a_projection_level(beta: float, off: float) -> None:
    # recomputed with scipy rotations
    shown = projection_reading(seat(beta, 0, 5))
    assert blade_angle("projection", shown) - beta == pytest.approx(off, abs=1e-4)
    assert blade_angle("projection", shown, 0, 5) == pytest.approx(beta, abs=1e-9)


@pytest.mark.parametrize(("theta", "off"), [(12, -0.044502), (5, -0.019002), (0, 0.0)])
def test_what_ignoring_psi_costs_a_planar_level(theta: float, off: float) -> None:
    # recomputed with scipy rotations
    shown = planar_reading(seat(18, theta, 5))
    assert blade_angle("planar", shown, theta) - 18 == pytest.approx(off, abs=1e-6)
    assert phi_deg(theta) - phi_deg(theta, 5) == pytest.approx(off, abs=1e-6)


@given(THETA, st.floats(-60, 60))
def test_the_azimuth_comes_back_from_the_spans_elevation(theta: float, psi: float) -> None:
    elevation = math.degrees(math.asin(seat(0, theta, psi)[1]))
    assert azimuth_deg(elevation, theta) == pytest.approx(psi, abs=1e-9)


@pytest.mark.parametrize(
    ("layout", "rotation", "hand", "side"),
    [
        ("tractor", "clockwise", "right", "left"),
        ("tractor", "anticlockwise", "left", "right"),
        ("pusher", "clockwise", "left", "left"),
        ("pusher", "anticlockwise", "right", "right"),
    ],
)
def test_where_to_stand(layout: str, rotation: str, hand: str, side: str) -> None:
    # seen from behind, a clockwise blade rises on the aircraft's left; facing aft, left is right
    words = side_in_words(layout, rotation)  # type: ignore[arg-type]
    assert f"on your {hand} (the aircraft's {side})" in words
    assert ("cowling" in words) == (layout == "tractor")
    assert "leading edge up" in words


@pytest.mark.parametrize("convention", ["planar", "projection"])
def test_a_level_that_lies_along_the_chord_is_askew_in_no_way(convention: str) -> None:
    """What nobody states of how it lies is nothing at all."""
    stated = {"skew_deg": 0.0, "face_deg": 0.0}
    assert blade_angles(convention, 17.0, 3.0, 2.0) == blade_angles(
        convention, 17.0, 3.0, 2.0, **stated
    )
    assert blade_angle(convention, 17.0, 3.0, 2.0) == blade_angle(
        convention, 17.0, 3.0, 2.0, **stated
    )
    assert blade_angles(convention, 17.0) == blade_angles(convention, 17.0, 0.0, 0.0)
    for one in ({"skew_deg": 4.0}, {"face_deg": 4.0}):
        whole = {**stated, **one}
        assert blade_angles(convention, 17.0, 3.0, 2.0, **one) == blade_angles(
            convention, 17.0, 3.0, 2.0, **whole
        )


@pytest.mark.parametrize("up", [1.0, -1.0])
def test_a_chord_that_is_longer_than_one_by_rounding_points_straight_up(up: float) -> None:
    """No angle has a sine beyond one."""
    assert projection_reading((up * 1.0000000000000002, 0.0, 0.0)) == up * 90.0
