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


@pytest.mark.parametrize(
    ("angle", "alike"),
    [
        (-1.5, True),  # 2.5 from minus the target, 5.5 from the target
        (-1.2, False),  # 2.8 and 5.2
        (-1.0, False),  # just five from the target is near it
        (-1.01, False),
    ],
)
def test_a_look_alike_is_at_least_twice_as_near_as_the_target(angle: float, alike: bool) -> None:
    say = question(angle, 4.0)
    assert bool(say) is alike
    assert say is None or "wrong sign" in say


@pytest.mark.parametrize(("angle", "far"), [(50.0, False), (50.1, True)])
def test_thirty_degrees_off_is_far_whatever_it_looks_like(angle: float, far: bool) -> None:
    assert ("is far from" in (question(angle, 20.0) or "")) is far


@pytest.mark.parametrize(
    ("angle", "target", "said"),
    [(50.0, 40.0, True), (40.0, 50.0, True), (50.1, 41.0, False), (45.0, 50.1, False)],
)
def test_within_five_of_45_it_is_said_every_time(angle: float, target: float, said: bool) -> None:
    assert ("so near 45" in (question(angle, target) or "")) is said
