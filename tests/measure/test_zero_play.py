"""Means, reversal, standards, wobble and play."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.reference import reference_angle, two_positions
from daemon.measure.proving.play import advice, play_test
from daemon.measure.proving.zero import Standard, proven, reversal
from shared.angles import difference_deg, mean_deg
from tests.measure.levels import profile, reading


def test_a_mean_across_north() -> None:
    assert mean_deg([355, 5, 15]) == pytest.approx(5.0)
    assert mean_deg([359.9, 0.1, 0.0]) == pytest.approx(0.0, abs=1e-9)


@given(st.floats(-720, 720), st.lists(st.floats(-0.5, 0.5), min_size=1, max_size=8))
def test_the_mean_of_near_angles_equals_scipys(about: float, apart: list[float]) -> None:
    angles = [about + off for off in apart]
    theirs = float(stats.circmean(angles, high=180, low=-180))
    assert abs(difference_deg(mean_deg(angles), theirs)) < 1e-4  # arc against chord


def test_no_angles_have_no_mean() -> None:
    with pytest.raises(IndexError):
        mean_deg([])


def test_reversal() -> None:
    # two-face reversal, arithmetic: 15.4 and -15.14
    zero, angle = reversal(15.4, -15.14)
    assert zero == pytest.approx(0.13)
    assert angle == pytest.approx(15.27)


@given(st.floats(-80, 80), st.floats(-5, 5), st.booleans())
def test_reversal_finds_any_zero(angle: float, zero: float, full_circle: bool) -> None:
    second = (180.0 - angle if full_circle else -angle) + zero
    found, true = reversal(angle + zero, second)
    assert found == pytest.approx(zero, abs=1e-9)
    assert true == pytest.approx(angle, abs=1e-9)


def test_a_wobbling_plate() -> None:
    tilt, wobble = two_positions(-3.2, -2.8)
    assert tilt == pytest.approx(-3.0)
    assert wobble == pytest.approx(0.2)
    plate = reference_angle([reading(-3.2), reading(-2.8)], profile(), "normal")
    assert plate.theta_deg == pytest.approx(3.0)


SINE_BAR = Standard(300.0, 0.5, 100.0, 0.1)


def test_sine_bar() -> None:
    # sine bar, arithmetic: 300 +- 0.5 and 100 +- 0.1 make 19.47 +- 0.04
    assert SINE_BAR.angle_deg == pytest.approx(19.47, abs=0.005)
    assert SINE_BAR.u_deg == pytest.approx(0.04, abs=0.001)


@pytest.mark.parametrize(
    ("shown", "says"),
    [
        (19.48, ""),
        (70.53, "complement"),
        (-19.47, "wrong sign"),
        (35.36, "percent"),
        (353.6, "millimetres"),
        (0.3398, "radians"),
        (21.0, "off by"),
    ],
)
def test_a_standard_proves_unit_mode_and_sign(shown: float, says: str) -> None:
    _, words = proven(shown, 0.02, SINE_BAR)
    assert says in words
    assert bool(words) == bool(says)


def angle(value: float) -> BladeAngle:
    return BladeAngle(value, Budget((Line("averaging", "A", 0.01, 9), Line("seating", "B", 0.03))))


def test_play() -> None:
    play = play_test(angle(18.3), angle(18.0))
    assert play.full_deg == pytest.approx(0.3)
    assert play.found
    assert play.line().u_deg == pytest.approx(0.15 / math.sqrt(3))
    assert play.within(0.3, 0.05)
    assert not play.within(0.5, 0.05)
    assert "after the nip" in advice(play, 0.2)
    assert "same side" in advice(play, 0.5)


def test_no_play() -> None:
    play = play_test(angle(18.01), angle(18.0))
    assert not play.found
    assert not play.within(0.005, 0.05)
    assert not advice(play, 0.2)
    assert play_test(angle(17.9), angle(18.0)).full_deg == 0.0
