"""What a placement leaves open in a reading, and readings of a level that points the other way."""

import math

import pytest

from daemon.measure.angle.placement import ASSUMED_DOF, placing_lines, seat_angle_deg
from tests.measure.levels import profile, reading


@pytest.mark.parametrize(
    ("shown", "normal"), [(18.0, -18.0), (-18.0, 18.0), (0.0, 0.0), (100.0, 80.0), (-100.0, -80.0)]
)
def test_reversed_is_mirrored_within_a_quarter_turn(shown: float, normal: float) -> None:
    got = seat_angle_deg(shown, profile(), "reversed")
    assert got == pytest.approx(normal)
    assert math.copysign(1.0, got) == (1.0 if normal == 0.0 else math.copysign(1.0, normal))
    assert seat_angle_deg(shown, profile(), "normal") == shown


def test_reversed_beyond_shows_half_a_turn_more() -> None:
    assert seat_angle_deg(18.0, profile(), "reversed", beyond=True) == pytest.approx(162.0)
    assert seat_angle_deg(-18.0, profile(), "reversed", beyond=True) == pytest.approx(-162.0)
    assert seat_angle_deg(18.0, profile(), "normal", beyond=True) == 18.0
    assert seat_angle_deg(18.0, profile("projection"), "reversed", beyond=True) == -18.0


def test_a_placement_draws_averaging_resolution_and_seating() -> None:
    seating = {"u_deg": 0.02, "n": 12}
    lines = placing_lines(reading(18.0, u_deg=0.011, dof=9.0), profile(seating=seating))
    averaging, resolution, seated = lines
    assert (averaging.name, averaging.kind, averaging.u_deg, averaging.dof) == (
        "averaging", "A", 0.011, 9.0,
    )  # fmt: skip
    assert (resolution.name, resolution.kind, resolution.shape) == (
        "resolution", "B", "rectangular",
    )  # fmt: skip
    # JCGM 100:2008, F.2.2.1
    assert resolution.u_deg == pytest.approx(0.01 / math.sqrt(12.0))
    assert (seated.name, seated.kind, seated.u_deg, seated.dof) == ("seating", "A", 0.02, 11.0)


def test_a_seating_nobody_measured_is_assumed_and_dithered_rounding_counts_as_it_is() -> None:
    for n, kind, dof in ((0, "B", ASSUMED_DOF), (1, "B", ASSUMED_DOF), (2, "A", 1.0)):
        got = placing_lines(
            reading(18.0, u_rounding_deg=0.001), profile(seating={"u_deg": 0.02, "n": n})
        )
        assert (got[2].kind, got[2].dof) == (kind, dof)
        assert got[1].u_deg == 0.001


def test_placements_closer_than_a_third_of_a_step_are_rounded_alike() -> None:
    for seat, common in ((0.03, "none"), (0.0299, "blade")):
        got = placing_lines(
            reading(18.0, resolution_deg=0.1), profile(seating={"u_deg": seat, "n": 12})
        )
        assert got[1].common == common
