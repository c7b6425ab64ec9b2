"""The shaft's tilt from two hub positions and from both sides of one blade, by the forward model."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.both_sides import on_a_level_shaft, tilt_of
from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.geometry import planar_reading, projection_reading, seat
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import placing_lines
from daemon.measure.angle.reference import in_force, lean_u_deg, reference_angle, turned_mean
from daemon.measure.stream.reading import Reading
from shared.events import Sense
from shared.job import Job
from shared.profile import LevelProfile
from tests.measure.levels import job, profile, reading

SENSES = st.sampled_from(["normal", "reversed"])
SQUARE = job(setup={"skew_u_deg": 0, "psi_u_deg": 0})


def shown(level: LevelProfile, beta: float, theta: float, psi: float, sense: Sense) -> float:
    """What a level without a zero error shows on this blade."""
    c, s, n = seat(beta, theta, psi)
    if sense == "reversed":
        c, s = -c, -s
    return (
        projection_reading((c, s, n))
        if level.convention == "projection"
        else planar_reading((c, s, n))
    )


def side(
    level: LevelProfile, at: Reading, sense: Sense, beyond: bool, on: Job = SQUARE
) -> BladeAngle:
    return on_a_level_shaft(at, level, on, sense, beyond=beyond)


@given(
    st.floats(14, 60),
    st.floats(-12, 12),
    SENSES,
    SENSES,
    st.sampled_from(["planar", "projection"]),
)
def test_both_sides_give_the_tilt_whatever_the_blade_angle(
    beta: float, theta: float, first: Sense, second: Sense, convention: str
) -> None:
    level = profile(convention)
    up = side(level, reading(shown(level, beta, theta, 0, first)), first, False)
    down = side(level, reading(shown(level, beta, theta, 180, second)), second, True)
    assert up.angle_deg == pytest.approx(beta - theta, abs=0.01)
    assert down.angle_deg == pytest.approx(beta + theta, abs=0.01)
    assert tilt_of(up, down).angle_deg == pytest.approx(theta, abs=0.01)


@given(
    st.floats(16, 35),
    st.floats(-10, 10),
    st.floats(-0.5, 0.5),
    SENSES,
    SENSES,
    SENSES,
    st.sampled_from(["planar", "projection"]),
)
def test_the_zero_goes_where_the_reference_says_it_goes(
    beta: float,
    theta: float,
    zero: float,
    first: Sense,
    second: Sense,
    third: Sense,
    convention: str,
) -> None:
    level = profile(convention)
    up = side(level, reading(shown(level, beta, theta, 0, first) + zero), first, False)
    down = side(level, reading(shown(level, beta, theta, 180, second) + zero), second, True)
    reference = in_force(tilt_of(up, down), level, first, 0.0)
    assert reference.theta_deg == pytest.approx(theta + reference.zero * zero, abs=0.05)
    taken = reading(shown(level, beta, theta, 0, third) + zero)
    blade = blade_reading(taken, level, SQUARE, third, reference)
    lines = [line for line in blade.budget.lines if line.name == "zero"]
    part = sum(line.sign * line.u_deg for line in lines) / (level.accuracy.zero_deg / math.sqrt(3))
    assert blade.angle_deg == pytest.approx(beta + part * zero, abs=0.06)


def test_the_zero_of_a_full_circle_drops_out_of_the_tilt_and_of_a_projection_out_of_the_blade() -> (
    None
):
    for convention, in_tilt, in_blade in (("planar", 0.0, 1.0), ("projection", 1.0, 0.0)):
        level = profile(convention)
        up = side(level, reading(shown(level, 20, 5, 0, "normal")), "normal", False)
        down = side(level, reading(shown(level, 20, 5, 180, "normal")), "normal", True)
        reference = in_force(tilt_of(up, down), level, "normal", 0.0)
        assert reference.zero == pytest.approx(in_tilt, abs=0.01)
        taken = reading(shown(level, 20, 5, 0, "normal"))
        blade = blade_reading(taken, level, SQUARE, "normal", reference)
        stated = level.accuracy.zero_deg / math.sqrt(3)
        zero = sum(line.u_deg for line in blade.budget.lines if line.name == "zero")
        assert zero / stated == pytest.approx(in_blade, abs=0.01)


def test_an_inclined_face_and_a_turned_blade_seen_by_rotations_of_another_make() -> None:
    """Scipy's rotations: the blade fixed in a hub that turns about a shaft that is nose-up."""
    face, psi, beta, theta = 3.0, 2.0, 21.0, 9.0
    on = job(setup={"skew_u_deg": 0}, propeller={"face_deg": face})
    level = profile("vector")
    found = []
    for azimuth, beyond in ((psi, False), (180.0 + psi, True)):
        # x forward, y to the reading side, z up; the shaft along x; leading edge up at y
        tilted = Rotation.from_euler("y", -theta, degrees=True)
        turned = Rotation.from_euler("x", azimuth, degrees=True)
        pitched = Rotation.from_euler("y", beta, degrees=True)
        inclined = Rotation.from_euler("z", face, degrees=True)
        hub = tilted * turned * pitched * inclined
        c, s, n = (hub.apply(axis)[2] for axis in ([0, 0, 1], [0, 1, 0], [1, 0, 0]))
        span = math.degrees(math.asin(s))
        at = reading(math.degrees(math.atan2(-n, c)), psi_deg=span, u_psi_deg=0.02)
        found.append(side(level, at, "normal", beyond, on))
    assert tilt_of(*found).angle_deg == pytest.approx(theta, abs=0.05)


def test_the_tilt_is_inside_what_its_budget_states_19_times_in_20() -> None:
    rng = random.Random(11)
    level = profile(seating={"u_deg": 0.03, "n": 1000})
    theta, inside, runs = 7.0, 0, 2000
    for _ in range(runs):
        halves = []
        for psi, beyond in ((0.0, False), (180.0, True)):
            at = shown(level, 20.0, theta, psi + rng.gauss(0, 1), "normal")
            off = rng.gauss(0, 0.01) + rng.gauss(0, level.seating.u_deg) + rng.uniform(-5e-3, 5e-3)
            halves.append(side(level, reading(at + off), "normal", beyond, job()))
        tilt = tilt_of(*halves)
        inside += abs(tilt.angle_deg - theta) <= tilt.budget.u95_deg
    assert 0.94 <= inside / runs <= 0.98


def on_a_surface(at: Reading, level: LevelProfile, sense: Sense) -> BladeAngle:
    """The shaft's tilt from one placement on the hub face."""
    one = reference_angle([at], level, sense)
    stated = level.accuracy.zero_deg / math.sqrt(3)
    zero = Line("zero", "B", stated, common="zero", sign=int(one.zero), shape="rectangular")
    return BladeAngle(one.theta_deg, Budget((*placing_lines(at, level), zero)))


@given(st.floats(-12, 12), st.floats(0, 1.5), st.floats(0, 360), SENSES)
def test_the_mean_of_two_hub_positions_is_free_of_the_wobble(
    theta: float, lean: float, phase: float, sense: Sense
) -> None:
    level, sign = profile(), -1.0 if sense == "normal" else 1.0
    seen = lean * math.cos(math.radians(phase))
    first, second = (
        on_a_surface(reading(sign * (theta + part)), level, sense) for part in (seen, -seen)
    )
    tilt = in_force(turned_mean(first, second, 1.0), level, sense, 0.0)
    assert tilt.theta_deg == pytest.approx(theta, abs=1e-9)
    assert tilt.u_deg < in_force(first, level, sense, 0.0).u_deg or abs(seen) > 0.1
    assert tilt.zero == pytest.approx(sign)


def test_a_half_turn_that_is_not_quite_one_is_in_the_uncertainty() -> None:
    rng = random.Random(5)
    level, lean, inside, runs = profile(), 1.5, 0, 2000
    for _ in range(runs):
        phase, turned = rng.uniform(0, 360), 180.0 + rng.gauss(0, 5.0 * math.sqrt(2.0))
        halves = []
        for at in (phase, phase + turned):
            seen = -lean * math.cos(math.radians(at)) + rng.gauss(0, level.seating.u_deg)
            halves.append(on_a_surface(reading(seen), level, "normal"))
        tilt = in_force(turned_mean(halves[0], halves[1], 5.0, lean), level, "normal", 0.0)
        inside += abs(tilt.theta_deg) <= 2.0 * tilt.u_deg
    assert inside / runs >= 0.94


def test_one_position_of_a_leaning_surface_may_show_any_part_of_the_lean() -> None:
    # JCGM 101:2008, 6.4.6: a sine of unknown phase has u = amplitude / sqrt(2)
    rng, lean = random.Random(8), 0.3
    seen = [lean * math.sin(rng.uniform(0, 2 * math.pi)) for _ in range(20_000)]
    spread = math.sqrt(sum(x * x for x in seen) / len(seen))
    assert lean_u_deg(lean) == pytest.approx(spread, rel=0.02)


@pytest.mark.parametrize("sense", ["normal", "reversed"])
@pytest.mark.parametrize(
    ("convention", "shows", "nose_up"),
    [
        ("planar", -3.0, True),
        ("planar", 3.0, True),
        ("projection", 87.0, True),
        ("projection", -87.0, True),
        ("projection", 87.0, False),
        ("projection", -87.0, False),
    ],
)
def test_a_zero_error_moves_the_tilt_the_way_it_is_said_to(
    convention: str, shows: float, nose_up: bool, sense: Sense
) -> None:
    """By a difference: the level shows so much more, and the tilt follows with this sign."""
    level, more = profile(convention), 1e-4
    one, other = (
        reference_angle([reading(at)], level, sense, nose_up, (0.0, 0.0))
        for at in (shows, shows + more)
    )
    assert (other.theta_deg - one.theta_deg) / more == pytest.approx(one.zero, abs=1e-6)
