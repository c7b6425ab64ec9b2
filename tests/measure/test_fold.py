"""What a level that shows one axis of gravity cannot tell, against rotations of another make."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.geometry import blade_angles, phi_deg, planar_reading, projection_reading
from daemon.measure.angle.reference import Reference, reference_angle
from daemon.measure.angle.suspicion import (
    either_side,
    either_tilt,
    far_folded,
    fold_deg,
    folded,
    folded_tilt,
    target_folded,
)
from shared.angles import difference_deg
from shared.events import Sense
from shared.job import Setup
from shared.profile import LevelProfile
from tests.measure.levels import job, profile, reading
from tests.measure.test_geometry import scipy_seat

BETA, THETA, PSI = st.floats(-29, 79), st.floats(-20, 20), st.floats(-20, 20)
SENSE = st.sampled_from(["normal", "reversed"])
SQUARE = Setup(psi_u_deg=0.0, skew_u_deg=0.0)
SURE = {"noise": {"sd_deg": 0.001, "n": 1000}, "seating": {"u_deg": 0.001, "n": 40}}


def shown(convention: str, sense: Sense, seat: tuple[float, float, float]) -> float:
    """What a level shows on a seat: end for end the negative (of a planar one, up to half a turn)."""
    at = planar_reading(seat) if convention == "planar" else projection_reading(seat)
    return at if sense == "normal" else -at


@given(BETA, THETA, PSI)
def test_the_two_solutions_lie_on_either_side_of_the_tilt(
    beta: float, theta: float, psi: float
) -> None:
    # c = H cos(beta - phi): beta = phi +- acos(sin(reading) / hypot(cos theta cos psi, sin theta))
    at = projection_reading(scipy_seat(beta, theta, psi, 0.0, 0.0))
    level = math.cos(math.radians(theta)) * math.cos(math.radians(psi))
    nose = math.sin(math.radians(theta))
    part = max(-1.0, min(1.0, math.sin(math.radians(at)) / math.hypot(level, nose)))
    off = math.degrees(math.acos(part))
    phi = math.degrees(math.atan2(nose, level))
    assert phi == pytest.approx(phi_deg(theta, psi), abs=1e-9)
    both = blade_angles("projection", at, theta, psi)
    assert both == pytest.approx((phi + off, phi - off), abs=1e-6)
    assert abs(beta - phi) == pytest.approx(off, abs=3e-5)


@given(BETA, THETA, st.sampled_from(["planar", "projection"]), SENSE)
def test_hub_face_and_blade_together_give_the_angle_or_are_refused(
    beta: float, theta: float, convention: str, sense: Sense
) -> None:
    # end for end, a level is taken within a quarter turn of how it lies
    assume(convention == "projection" or sense == "normal" or abs(beta - theta) < 89.0)
    level: LevelProfile = profile(convention, **SURE)
    hub = shown(convention, sense, scipy_seat(0.0, theta, 0.0, 0.0, 0.0))
    if convention == "projection" and folded_tilt(90.0 - abs(hub), SQUARE):
        assert abs(theta) < 2.5 + 1e-6
        return
    tilt = reference_angle([reading(hub)], level, sense, nose_up=theta > 0.0)
    assert tilt.theta_deg == pytest.approx(theta, abs=1e-6)
    at = shown(convention, sense, scipy_seat(beta, theta, 0.0, 0.0, 0.0))
    normal = at if sense == "normal" else -at
    if folded(blade_angles(convention, normal, tilt.theta_deg), fold_deg(SQUARE)):
        assert convention == "projection"
        assert abs(beta - theta) < 4.0 + 1e-6
        return
    target = {"angle_deg": max(-29.0, min(79.0, beta + 1.0)), "tolerance_deg": 1, "spread_deg": 1}
    setup = {"psi_u_deg": 0.0, "skew_u_deg": 0.0}
    work = job(target=target, setup=setup)
    exact = Reference(tilt.theta_deg, 0.0, math.inf, sense, tilt.zero)
    got = blade_reading(reading(at), level, work, sense, exact)
    assert got.angle_deg == pytest.approx(beta, abs=1e-5)


@given(st.floats(3, 20), st.sampled_from([1.0, -1.0]), SENSE, st.floats(-0.3, 0.3))
def test_a_zero_error_is_in_the_tilt_with_the_sign_the_reference_says(
    theta: float, side: float, sense: Sense, zero: float
) -> None:
    at = shown("projection", sense, scipy_seat(0.0, side * theta, 0.0, 0.0, 0.0)) + zero
    tilt = reference_angle([reading(at)], profile("projection"), sense, nose_up=side > 0.0)
    assert tilt.theta_deg - side * theta == pytest.approx(tilt.zero * zero, abs=1e-6)


@pytest.mark.parametrize(
    ("theta", "psi_u", "skew_u"), [(3.0, 0.3, 0.3), (5.0, 0.5, 1.0), (-8, 1, 1)]
)
def test_what_hub_and_level_askew_do_to_a_tilt(theta: float, psi_u: float, skew_u: float) -> None:
    rng, n = np.random.default_rng(1), 40_000
    nose_up = Rotation.from_rotvec([0, -math.radians(theta), 0])
    askew = np.radians(rng.normal(0.0, psi_u, n) - rng.normal(0.0, skew_u, n))
    turned = Rotation.from_rotvec(np.outer(askew, [1.0, 0.0, 0.0]))
    chords = (nose_up * turned).apply([0.0, 0.0, 1.0])[:, 2]
    read = np.degrees(np.arcsin(chords))
    one: Any = {"u_deg": 0.0, "dof": math.inf, "resolution_deg": 0.0}
    level = profile("projection", seating={"u_deg": 0.0, "n": 0})
    tilts = [
        reference_angle([reading(float(at), **one)], level, "normal", theta > 0.0, (psi_u, skew_u))
        for at in read[:4000]
    ]
    bias = np.mean([tilt.theta_deg for tilt in tilts]) - theta
    spread = float(np.std([tilt.theta_deg for tilt in tilts]))
    assert abs(bias) < 4.0 * spread / math.sqrt(4000) + 0.1 * spread
    typical = float(np.median([tilt.u_deg for tilt in tilts]))
    assert spread == pytest.approx(typical, rel=0.2)


def test_how_far_from_its_fold_a_level_has_to_stand() -> None:
    assert fold_deg(SQUARE) == 4.0
    assert fold_deg(Setup(psi_u_deg=3.0, skew_u_deg=4.0)) == pytest.approx(15.0)
    assert fold_deg(Setup(psi_u_deg=9.0, skew_u_deg=4.0), u_psi_deg=3.0) == pytest.approx(15.0)
    assert folded((5.0, -1.0), 4.0) is not None
    assert folded((7.1, -1.0), 4.0) is None
    assert folded((177.0, -177.0), 4.0) is not None, "upside down it folds too"
    assert folded((5.0,), 4.0) is None, "a planar level has no fold"


def test_a_tilt_is_told_from_a_level_that_is_not_square() -> None:
    assert folded_tilt(2.4, SQUARE) is not None
    assert folded_tilt(2.6, SQUARE) is None
    assert folded_tilt(2.6, Setup(psi_u_deg=0.3, skew_u_deg=1.0)) is not None
    assert folded_tilt(2.6, SQUARE.model_copy(update={"wobble_deg": 3.0})) is not None


def test_both_solutions_near_the_target_are_asked_about() -> None:
    assert either_side((20.0, -14.0), 20.0) is None
    assert "leading edge forward" in (either_side((10.0, -4.0), 10.0) or "")
    assert "leading edge aft" in (either_side((10.0, -4.0), -4.5) or "")
    assert either_side((10.0,), 10.0) is None
    assert "-23.30 or 47.30" in (far_folded((47.3, -23.3), 10.0) or "")
    assert far_folded((24.0, -14.0), 10.0) is None
    assert far_folded((47.3,), 10.0) is None
    assert target_folded(10.0, 12.0, 4.0) is not None
    assert target_folded(20.0, 12.0, 4.0) is None


@given(st.floats(-29, 79), st.floats(-25, 25), st.floats(-14.9, 14.9))
def test_no_other_tilt_goes_unasked(beta: float, theta: float, set_wrong: float) -> None:
    """Whatever signs are taken of both sides: right, or asked about."""
    assume(abs(beta - theta) > 4.0 and abs(beta + theta) > 4.0)
    target = beta + set_wrong
    up, down = (
        min((d, -d), key=lambda angle: abs(difference_deg(angle, target)))
        for d in (abs(beta - theta), abs(beta + theta))
    )
    right = abs((up + down) / 2.0 - beta) < 1e-9 and abs((down - up) / 2.0 - theta) < 1e-9
    assert right or either_tilt(up, down, target)
