"""A level that sends on a press: every sample is a placement and its reading."""

import math

import pytest

from daemon.measure.stream.following import following_of
from daemon.measure.stream.presses import Presses
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.tilts import Tilt
from shared.profile import Noise
from tests.measure.levels import profile

PRESSED = {"mode": "on-press", "rate_hz": 1.0}


def test_who_follows_what() -> None:
    for mode, kind in (("stream", Settling), ("on-change", Settling), ("on-press", Presses)):
        assert type(following_of(profile(reporting={"mode": mode}), 8.0)) is kind


def test_nothing_before_the_first_press_and_after_a_gap() -> None:
    level = Presses(profile(reporting=PRESSED))
    for _ in range(2):
        seen = (level.doing, level.live_deg, level.agreed, level.progress, level.turned)
        assert seen == ("in hand", None, None, 0.0, False)
        level.push(Tilt(18.0, None, None))
        assert (level.doing, level.live_deg, level.progress) == ("ready", 18.0, 1.0)
        level.restart()
    assert level.placement == 2


def test_presses_at_different_angles_are_each_read() -> None:
    level = Presses(profile(reporting=PRESSED))
    for angle in (18.0, 25.0, 31.0, -170.0):
        level.push(Tilt(angle, None, None))
        assert level.agreed is not None
        assert level.agreed.mean_deg == angle
    level.repeat(5)
    assert level.placement == 4
    assert level.lain_values() == []


def test_a_press_is_as_sure_as_one_sample() -> None:
    noise = {"sd_deg": 0.03, "lag1": 0.2, "n": 600}
    level = Presses(profile(reporting=PRESSED, resolution_deg=0.01, noise=noise))
    level.push(Tilt(18.0, 2.0, None))
    got = level.reading
    assert got is not None
    # as it is shown: the noise and what rounding adds to it
    shown = math.sqrt(0.03**2 + 0.01**2 / 12.0)
    assert got.u_deg == got.sd_deg == got.u_psi_deg == pytest.approx(shown, rel=1e-3)
    assert (got.n, got.lag1, got.reached, got.psi_deg) == (1, 0.2, True, 2.0)
    assert (got.resolution_deg, got.u_rounding_deg) == (0.01, None)
    assert got.dof == pytest.approx(400 * 0.8 / 1.2 + 2.0)
    level.set_rate(20.0)
    level.set_noise(Noise(sd_deg=0.1, lag1=0.0, n=100))
    level.push(Tilt(18.0, None, None))
    assert level.reading is not None
    assert level.reading.u_deg == pytest.approx(0.1, rel=1e-3)
    assert level.reading.u_psi_deg is None


def test_across_half_a_turn_only_a_level_of_the_full_circle_goes_on() -> None:
    for convention, shown in (("planar", -170.0), ("projection", 190.0)):
        level = Presses(profile(convention, reporting=PRESSED))
        level.push(Tilt(190.0, None, None))
        assert level.live_deg == shown
