import pytest

from daemon.measure.angle.suspicion import UNSET_DEG, azimuth_doubt, far_folded, question
from tests.measure.levels import profile


@pytest.mark.parametrize(
    ("angle", "target", "says"),
    [
        (-12.1, 12.0, "wrong sign"),
        (78.0, 12.0, "complement"),
        (168.1, 12.0, "180 minus"),
        (-168.0, 12.0, "upside down"),
        (43.0, 43.2, "cannot be told apart"),
        (47.0, 43.2, "cannot be told apart"),
        (60.0, 18.0, "far from"),
    ],
)
def test_look_alikes_are_asked_about(angle: float, target: float, says: str) -> None:
    assert says in (question(angle, target) or "")


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_of_two_angles_one_may_be_as_far_off_as_a_blade_that_is_not_set(side: float) -> None:
    near = 20.0 + side * UNSET_DEG
    assert far_folded((near, near + side * 40.0), 20.0) is None
    assert far_folded((near + side * 0.125, near + side * 40.0), 20.0) is not None
    assert far_folded((near + side * 0.125,), 20.0) is None


@pytest.mark.parametrize(
    ("angle", "target"),
    [(12.1, 12.0), (16.0, 12.0), (25.0, 18.0), (-2, 2), (41.0, 38.0), (39.0, 41.0)],
)
def test_plausible_readings_are_not(angle: float, target: float) -> None:
    assert question(angle, target) is None


@pytest.mark.parametrize(
    ("u", "doubt"),
    [(0.5, ""), (1.0, ""), (1.01, "warn"), (2.0, "warn"), (3.0, "warn"), (3.01, "refuse")],
)
def test_azimuth_of_a_projection_level(u: float, doubt: str) -> None:
    assert azimuth_doubt(profile("projection"), u)[0] == doubt
    assert azimuth_doubt(profile(), u) == ("", "")
