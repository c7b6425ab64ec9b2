"""Tilts that are asked about before they are believed, each just within its limit and just beyond."""

import math

import pytest

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.reference import Reference
from daemon.measure.stream.reading import Reading
from daemon.workflow.doubts import of_blade, of_nose, of_reference, of_side
from tests.measure.levels import profile


def tilt(deg: float, u_deg: float = 0.01) -> BladeAngle:
    return BladeAngle(deg, Budget((Line("averaging", "A", u_deg),)))


def before(deg: float) -> Reference:
    return Reference(deg, 0.01, math.inf, "normal", -1, -deg)


@pytest.mark.parametrize(("deg", "asked"), [(25.0, False), (-25.0, False), (25.1, True)])
def test_no_parked_aircraft_has_its_shaft_over_25_degrees_from_level(
    deg: float, asked: bool
) -> None:
    assert bool(of_reference(tilt(deg), None)) is asked


@pytest.mark.parametrize(
    ("deg", "asked"), [(13.0, False), (3.0, False), (13.01, True), (2.99, True)]
)
def test_no_aircraft_tilts_by_more_than_five_while_its_blades_are_set(
    deg: float, asked: bool
) -> None:
    say = of_reference(tilt(deg), before(8.0))
    assert bool(say) is asked
    assert say is None or f"reads {deg:.2f}, before it was 8.00. Look" in say


@pytest.mark.parametrize(
    ("was", "now", "asked"),
    [
        (3.0, -3.0, True),
        (-3.0, 3.0, True),
        (2.0, -1.31, True),
        (2.0, -2.69, True),
        (2.0, -1.29, False),
        (2.0, -2.71, False),
        (0.72, -0.1, True),
        (0.68, -0.02, False),
    ],
)
def test_a_tilt_within_seven_tenths_of_minus_the_one_before_is_its_sign_turned(
    was: float, now: float, asked: bool
) -> None:
    """A tilt of no more than that itself is told by how surely it is another (below)."""
    assert bool(of_reference(tilt(now, 0.3), before(was))) is asked


@pytest.mark.parametrize(
    ("now", "u_deg", "asked"),
    [
        (-0.5, 0.1, True),
        (-0.5, 0.17, True),
        (-0.5, 0.18, False),  # four uncertainties of a difference are 1.02
        (-0.5 + 0.18, 0.05, True),
        (-0.5 + 0.22, 0.05, False),  # over twice U95 from minus the one before
        (-0.5 + 0.32, 0.1, True),  # a third of 0.68 - well under half of how far it went
        (-0.5 + 0.35, 0.1, False),  # 0.35 is over half of 0.65
    ],
)
def test_a_small_tilt_turned_round_is_surely_another_and_much_nearer_to_minus_the_one_before(
    now: float, u_deg: float, asked: bool
) -> None:
    say = of_reference(tilt(now, u_deg), before(0.5))
    assert bool(say) is asked
    assert say is None or "the same with its sign turned" in say


def test_a_blade_is_asked_about_by_what_its_level_shows_on_the_shaft_as_it_stands() -> None:
    """Set to 20 on a shaft nose-up by 8 it shows 12; on a level one 20, and five beside that is near."""

    def of(shown: float, reference: Reference | None) -> str:
        reading = Reading(shown, 0.01, 30.0, 20, 0.03, 0.0, True, None, None, 0.01)
        return of_blade(reading, profile(), "normal", tilt(20.0), 20.0, reference) or ""

    assert of(12.0, before(8.0)) == ""
    assert "looks like a wrong sign" in of(-12.0, before(8.0))
    assert of(20.0, None) == ""
    assert "looks like a wrong sign" in of(-25.0, None)


def test_of_a_level_of_one_axis_its_angle_is_asked_about_and_the_other_solution() -> None:
    reading = Reading(70.0, 0.01, 30.0, 20, 0.03, 0.0, True, None, None, 0.01)

    def of(deg: float, *either: float) -> str:
        angle, folds = tilt(deg), profile("projection")
        return of_blade(reading, folds, "normal", angle, 20.0, before(8.0), either) or ""

    assert of(20.0) == ""
    assert "wrong sign" in of(-20.0)
    assert "wrong sign" in of(-20.0, -20.0, 30.0)
    assert of(20.0, 20.0, 30.0) != ""


def test_two_sides_of_one_blade_differ_by_twice_the_steepest_shaft_at_most() -> None:
    planar = profile()
    assert of_side(tilt(45.0), planar, 20.0, tilt(-5.0)) is None
    say = of_side(tilt(45.1), planar, 20.0, tilt(-5.0))
    assert say is not None
    assert "this side reads 45.10, the first -5.00" in say
    assert of_side(tilt(-29.0), planar, 20.0, tilt(20.0)) is None
    assert of_side(tilt(-31.0), planar, 20.0, tilt(20.0)) is not None
    assert of_side(tilt(20.0), planar, 20.0, None) is None
    assert of_side(tilt(-20.0), planar, 20.0, None) is not None


def test_how_far_a_shaft_is_tilted_is_said_without_a_sign_where_nobody_knows_it() -> None:
    assert "tilted by 3.20, and this level cannot tell which way" in of_nose(tilt(-3.2))
