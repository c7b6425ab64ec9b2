"""The hangar's own geometry and what turns blades, against rotations of another make."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from simulator.draws import Draws
from simulator.propeller import Propeller, up_at
from simulator.scenario import load

angle = st.floats(-60.0, 60.0)


@given(angle, st.floats(-15.0, 15.0), st.floats(-30.0, 30.0))
def test_up_agrees_with_scipy_rotations(beta: float, theta: float, psi: float) -> None:
    """World x forward, y to the reading side, z up; scipy.spatial.transform as the oracle.

    Rotations are written in the order they are made: nose up about -y, then the blade round
    the shaft, then the blade about its own span.
    """
    shaft = Rotation.from_euler("y", -theta, degrees=True)
    round_shaft = Rotation.from_euler("x", psi, degrees=True)
    about_span = Rotation.from_euler("y", beta, degrees=True)
    blade = shaft * round_shaft * about_span
    chord, span, normal = (
        blade.apply(axis)[2] for axis in ([0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0])
    )
    up = up_at(beta, theta, psi)
    assert (up.chord, up.span, up.normal) == pytest.approx((chord, span, normal), abs=1e-12)


@pytest.mark.parametrize(
    ("beta", "theta", "psi", "projection", "planar"),
    [
        # computed independently with scipy rotations
        (20.0, 5.0, 3.0, 74.718574277, 14.993173125),
        (15.0, 0.0, 5.0, 74.206775849, 15.0),
        (18.0, 5.0, 0.0, 77.0, 13.0),
        (18.0, -5.0, 0.0, 67.0, 23.0),
    ],
)
def test_readings_of_a_clean_seat(
    beta: float, theta: float, psi: float, projection: float, planar: float
) -> None:
    up = up_at(beta, theta, psi)
    assert math.degrees(math.asin(up.chord)) == pytest.approx(projection, abs=1e-8)
    assert math.degrees(math.atan2(-up.normal, up.chord)) == pytest.approx(planar, abs=1e-8)


def test_an_inclined_face_costs_what_the_rotations_say() -> None:
    """Face inclined by 3 degrees, blade at 20: off by 0.12 at psi 2, 0.27 at psi 5 (scipy)."""
    propeller = made("tapered-face")
    propeller._theta = 0.0
    propeller._angles[0] = 20.0
    for psi, off in ((2.0, 0.12), (5.0, 0.27)):
        propeller.azimuth_deg = psi
        up = propeller.up_on_blade(1)
        reading = math.degrees(math.atan2(-up.normal, up.chord))
        assert abs(reading - 20.0) == pytest.approx(off, abs=0.03)


def made(name: str = "quiet", seed: int = 1) -> Propeller:
    scenario = load(name)
    return Propeller(scenario.job, scenario.hangar, Draws(seed, 0))


def let_pass(propeller: Propeller, seconds: float) -> None:
    for _ in range(round(seconds * 100)):
        propeller.t_ns += 10_000_000
        propeller.tick()


def test_turning_brings_the_wanted_blade_to_horizontal() -> None:
    propeller = made()
    for blade in (2, 3, 1):
        seconds = propeller.turn_to(blade)
        let_pass(propeller, seconds + 0.1)
        assert abs(propeller.psi(blade)) < 2.0
        others = [abs(propeller.psi(other)) for other in (1, 2, 3) if other != blade]
        assert all(other > 100.0 for other in others)


def test_rocking_comes_back_and_settling_stays() -> None:
    propeller = made()
    before = propeller.theta_deg
    propeller.rock(2.0)
    let_pass(propeller, 0.3)
    assert abs(propeller.theta_deg - before) > 0.5
    let_pass(propeller, 15.0)
    assert propeller.theta_deg == pytest.approx(before, abs=0.001)
    propeller.sink(0.5, 2.0, "settle")
    let_pass(propeller, 3.0)
    assert propeller.theta_deg == pytest.approx(before + 0.5, abs=0.001)
    assert [(shift.cause, shift.lasting) for shift in propeller.shifts] == [
        ("rock", False),
        ("settle", True),
    ]


def test_a_visitor_leaves_no_trace() -> None:
    propeller = made()
    before = propeller.theta_deg
    propeller.visit(0.5, 5.0)
    let_pass(propeller, 3.0)
    assert propeller.theta_deg == pytest.approx(before + 0.5, abs=0.001)
    let_pass(propeller, 4.0)
    assert propeller.theta_deg == pytest.approx(before, abs=0.001)


def test_a_creep_is_even_and_ends() -> None:
    propeller = made()
    before = propeller.angle(2)
    propeller.drift(2, 0.8, 10.0, "creep")
    let_pass(propeller, 5.0)
    assert propeller.angle(2) - before == pytest.approx(0.4, abs=0.001)
    let_pass(propeller, 20.0)
    assert propeller.angle(2) - before == pytest.approx(0.8, abs=0.001)
    assert [move.cause for move in propeller.moves] == ["creep"]


def test_play_flips_and_follows_the_hand() -> None:
    propeller = made("play")
    propeller.change(1, 0.1)
    coarse = propeller.angle(1)
    propeller.flip(1)
    assert propeller.angle(1) == pytest.approx(coarse - 0.3)
    propeller.slip(1, 0.01)  # lifting does not carry it to the other end
    assert propeller.angle(1) == pytest.approx(coarse - 0.29)
    propeller.change(1, 0.05)  # the hand does
    assert propeller.angle(1) == pytest.approx(coarse + 0.06)
