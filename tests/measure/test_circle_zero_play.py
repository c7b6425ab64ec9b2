"""Circular means, reversal, standards, wobble and play."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from daemon.measure.angle import BladeAngle
from daemon.measure.budget import Budget, Line
from daemon.measure.circle import circular_mean
from daemon.measure.play import advice, play_test
from daemon.measure.reference import reference_angle
from daemon.measure.zero import Standard, proven, reversal, two_positions
from shared.angles import difference_deg
from tests.measure.levels import profile, reading


def test_mardia() -> None:
    # Mardia and Jupp, Directional Statistics: nine directions (data from memory, equals scipy)
    mean, length = circular_mean([43, 45, 52, 61, 75, 88, 88, 279, 357])
    assert mean == pytest.approx(51.050177, abs=1e-6)
    assert length == pytest.approx(0.710991, abs=1e-6)


def test_across_north() -> None:
    assert circular_mean([355, 5, 15])[0] == pytest.approx(5.0)
    assert circular_mean([359.9, 0.1, 0.0])[0] == pytest.approx(0.0, abs=1e-9)


@given(st.lists(st.floats(-360, 360), min_size=1, max_size=8))
def test_the_circular_mean_equals_scipy(angles: list[float]) -> None:
    sines, cosines = np.sin(np.radians(angles)).mean(), np.cos(np.radians(angles)).mean()
    assume(math.hypot(sines, cosines) > 0.01)
    theirs = float(stats.circmean(angles, high=180, low=-180))
    assert abs(difference_deg(circular_mean(angles)[0], theirs)) < 1e-6


@pytest.mark.parametrize("angles", [[], [0.0, 180.0], [0.0, 120.0, 240.0]])
def test_no_mean_is_an_error(angles: list[float]) -> None:
    with pytest.raises(ValueError, match="angle"):
        circular_mean(angles)


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
    assert play.middle_deg == pytest.approx(18.15)
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
