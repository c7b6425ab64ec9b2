"""Each line of a blade angle's budget by hand, from what profile and job state (JCGM 100:2008, 4.3.7, 5.1)."""

import math
from collections.abc import Sequence
from typing import Any

import pytest

from daemon.measure.angle.blade import _Input, _psi, _second_order, blade_reading
from daemon.measure.angle.budget import Budget, Line, difference
from daemon.measure.angle.means import BladeAngle, mean_of
from daemon.measure.angle.reference import Reference
from daemon.measure.quantiles import Z95, box_and_normal_95, t95
from shared.events import Sense
from tests.measure.levels import job, profile, reading

STATED: dict[str, Any] = {
    "resolution_deg": 0.05,
    "seating": {"u_deg": 0.03, "n": 9},
    "accuracy": {
        "zero_deg": 0.1,
        "gain_percent": 0.5,
        "cross_axis_percent": 2.0,
        "temperature_deg_per_k": 0.01,
        "temperature_span_k": 8.0,
    },
}
SETUP = {"play_deg": 0.3, "psi_u_deg": 3.0, "skew_u_deg": 0.0}
BLADE = {"twist_deg_per_mm": -0.03, "station_u_mm": 2.0}
LEVEL_SHAFT = Reference(0.0, 0.02, 12.0, "normal", reading_deg=-2.0)
BOX = math.sqrt(3.0)


def near(value: Any, **how: Any) -> Any:
    """A number as near as floats come; it may stand in a line or a tuple."""
    return pytest.approx(value, **how)


def lines(sense: Sense = "normal", *, play: bool = True, **changes: Any) -> dict[str, Line]:
    taken = reading(20.0 if sense == "normal" else -20.0, resolution_deg=0.05)
    on = job(propeller=BLADE, setup=SETUP)
    level = profile(**(STATED | changes))
    found = blade_reading(taken, level, on, sense, LEVEL_SHAFT, play=play)
    assert found.angle_deg == near(20.0, abs=1e-6)
    return {line.name: line for line in found.budget.lines}


def test_what_the_placement_draws_anew() -> None:
    found = lines()
    assert found["averaging"] == Line("averaging", "A", near(0.01), 30.0)
    step = Line("resolution", "B", near(0.05 / math.sqrt(12.0)), shape="rectangular")
    assert found["resolution"] == step
    assert found["seating"] == Line("seating", "A", near(0.03), 8.0)
    assumed = lines(seating={"u_deg": 0.03})["seating"]
    assert assumed == Line("seating", "B", near(0.03), 4.0), "nobody measured it"
    assert lines(seating={"u_deg": 0.03, "n": 2})["seating"].dof == 1.0
    assert lines(seating={"u_deg": 0.0, "n": 9})["seating"].u_deg == near(1e-6)


@pytest.mark.parametrize(("u_deg", "common"), [(0.0151, "none"), (0.0149, "blade")])
def test_placements_that_differ_by_less_than_a_third_of_a_step_are_rounded_alike(
    u_deg: float, common: str
) -> None:
    assert lines(seating={"u_deg": u_deg, "n": 9})["resolution"].common == common


def test_what_the_maker_states_are_half_widths_of_rectangles() -> None:
    found = lines()
    tipped = math.degrees(math.sin(math.radians(3.0)))
    for name, half in (
        ("gain", 0.005 * (20.0 + 2.0)),
        ("temperature", 0.01 * 8.0),
        ("cross-axis", 0.02 * tipped),
    ):
        line = found[name]
        assert (line.kind, line.shape, line.common, line.sign) == ("B", "rectangular", name, 1)
        assert line.u_deg == near(half / BOX)
        assert math.isinf(line.dof)


def test_turned_end_for_end_they_act_the_other_way_but_for_the_zero_which_comes_in_twice() -> None:
    assert "zero" not in lines()
    found = lines("reversed")
    assert (found["zero"].sign, found["zero"].u_deg) == (-1, near(2.0 * 0.1 / BOX))
    assert found["zero"].common == "zero"
    assert found["gain"].sign == 1, "a gain acts on the angle that is shown, either way round"


def test_where_the_blade_is_read_and_how_loose_it_is() -> None:
    found = lines()
    assert found["station"] == Line("station", "B", near(0.03 * 2.0))
    loose = Line("play", "B", near(0.15 / BOX), common="blade", shape="rectangular")
    assert found["play"] == loose
    assert "play" not in lines(play=False)
    assert found["reference"].u_deg == near(0.02)
    assert (found["reference"].dof, found["reference"].common) == (12.0, "reference")


def test_what_is_stated_to_be_nothing_has_no_line() -> None:
    bare = profile(accuracy={"zero_deg": 0.0}, seating={"u_deg": 0.03, "n": 9})
    none = {"psi_u_deg": 0.0, "skew_u_deg": 0.0}
    found = blade_reading(reading(20.0), bare, job(setup=none), "normal", None)
    named = {line.name for line in found.budget.lines}
    assert named >= {"averaging", "resolution", "seating", "reference"}
    assert not named & {
        "zero",
        "gain",
        "cross-axis",
        "temperature",
        "station",
        "play",
        "psi",
        "skew",
    }


def test_without_a_reference_its_line_is_five_degrees() -> None:
    found = blade_reading(reading(20.0), profile(), job(), "normal", None)
    (line,) = [one for one in found.budget.lines if one.name == "reference"]
    assert line.u_deg == near(5.0)
    assert math.isinf(line.dof)


def angle(deg: float, *of: Line) -> BladeAngle:
    return BladeAngle(deg, Budget(of))


def test_the_degrees_of_freedom_of_averages_add_up_in_a_mean() -> None:
    """Welch and Satterthwaite, JCGM 100:2008, G.4.1: of two alike, both their degrees of freedom."""
    one, sure = Line("averaging", "A", 0.03, 10.0), Line("averaging", "A", 0.03)
    (twice,) = mean_of([angle(1.0, one), angle(3.0, one)]).budget.lines
    assert twice == Line("averaging", "A", near(0.03 / math.sqrt(2.0)), near(20.0))
    (both,) = mean_of([angle(1.0, one), angle(3.0, sure)]).budget.lines
    assert both.dof == near(40.0)
    (known,) = mean_of([angle(1.0, sure), angle(3.0, sure)]).budget.lines
    assert math.isinf(known.dof)


def test_a_seating_keeps_its_degrees_of_freedom_and_several_rectangles_are_as_a_normal() -> None:
    seat = Line("seating", "A", 0.04, 4.0)
    (mean,) = mean_of([angle(1.0, seat), angle(2.0, seat), angle(3.0, seat)]).budget.lines
    assert mean == Line("seating", "A", near(0.04 / math.sqrt(3.0)), 4.0)
    step = Line("resolution", "B", 0.03, shape="rectangular")
    assert mean_of([angle(1.0, step)]).budget.lines == (step,)
    assert mean_of([angle(1.0, step), angle(2.0, step)]).budget.lines[0].shape == "normal"


def test_what_placements_share_keeps_the_sign_of_what_is_left_of_it() -> None:
    plus, minus = (Line("zero", "B", 0.06, common="zero", sign=sign) for sign in (1, -1))
    (left,) = mean_of([angle(1.0, minus), angle(1.0, minus), angle(1.0, plus)]).budget.lines
    assert (left.u_deg, left.sign) == (near(0.02), -1)
    (left,) = mean_of([angle(1.0, plus), angle(1.0, plus), angle(1.0, minus)]).budget.lines
    assert (left.u_deg, left.sign) == (near(0.02), 1)
    (left,) = difference(Budget((minus,)), Budget((Line("zero", "B", 0.02, common="zero"),))).lines
    assert (left.u_deg, left.sign) == (near(0.08), -1)
    assert difference(Budget((plus,)), Budget((plus,))).lines == ()


@pytest.mark.parametrize(("part", "exact"), [(0.31, True), (0.29, False)])
def test_a_rectangle_of_three_tenths_of_the_whole_stands_out(part: float, exact: bool) -> None:
    """Beside a normal of four degrees of freedom: Student's t for all of it, or for the rest alone."""
    rest = math.sqrt(1.0 - part * part)
    box = Line("zero", "B", part, shape="rectangular")
    budget = Budget((box, Line("seating", "A", rest, 4.0)))
    dof = 4.0 / rest**4
    student = Budget((Line("all", "A", 1.0, dof),)).u95_deg
    assert budget.dof == near(dof)
    assert (budget.u95_deg == near(student, rel=1e-9)) is not exact


def test_of_two_rectangles_the_larger_stands_out_and_one_alone_is_as_it_is() -> None:
    large, small = (Line(n, "B", u, shape="rectangular") for n, u in (("a", 0.5), ("b", 0.1)))
    assert Budget((large,)).u95_deg == near(0.95 * 0.5 * BOX)
    both = Budget((small, large)).u95_deg
    assert both == near(Budget((large, Line("b", "B", 0.1))).u95_deg)
    assert both > Budget((large,)).u95_deg


@pytest.mark.parametrize("dof", [math.inf, 4.0])
def test_beside_the_rectangle_the_rest_is_as_wide_as_students_t_makes_it(dof: float) -> None:
    box, rest = Line("zero", "B", 0.3, shape="rectangular"), Line("seating", "A", 0.2, dof)
    wide = 0.2 * t95(dof) / Z95
    assert Budget((box, rest)).u95_deg == near(box_and_normal_95(0.3 * BOX, wide))


def test_no_budget_has_less_than_one_degree_of_freedom_and_a_sign_is_one_or_the_other() -> None:
    assert Budget((Line("averaging", "A", 0.1, 0.5),)).dof == 1.0
    shared = [Line("zero", "B", u, common="zero") for u in (0.08, 0.02)]
    (left,) = difference(Budget((shared[0],)), Budget((shared[1],))).lines
    assert (left.u_deg, left.sign) == (near(0.06), 1)


def test_a_model_is_propagated_to_second_order() -> None:
    """JCGM 100:2008, 5.1.2 note, of 2 x + 3 x^2 + 4 x y + 5 y at (0.5, 0.25), by hand."""

    def model(points: Sequence[Sequence[float]]) -> list[float]:
        return [2.0 * x + 3.0 * x * x + 4.0 * x * y + 5.0 * y for x, y in points]

    inputs = [_Input("x", 0.5, 0.1, "none"), _Input("y", 0.25, 0.2, "none")]
    mean, sizes = _second_order(model, inputs)
    assert mean == near(1.0 + 0.75 + 0.5 + 1.25 + 0.5 * 6.0 * 0.1**2)
    by_x = (6.0 * 0.1) ** 2 + 0.5 * (6.0 * 0.1**2) ** 2
    by_y = (7.0 * 0.2) ** 2 + (4.0 * 0.1 * 0.2) ** 2
    assert [size * size for size in sizes] == near([by_x, by_y])


def test_an_azimuth_is_what_a_witness_says_or_the_level_feels_or_nobody_knows() -> None:
    """Felt by the level: its own average, and a zero that is stated as a rectangle."""
    level, on = profile(accuracy={"zero_deg": 0.4 * BOX}), job(setup={"psi_u_deg": 3.0})
    felt = reading(20.0, psi_deg=2.0, u_psi_deg=0.3)
    assert _psi(felt, level, on, 0.0, None) == near((2.0, 0.5))
    assert _psi(reading(20.0, psi_deg=2.0), level, on, 0.0, None) == near((2.0, 0.4))
    assert _psi(reading(20.0), level, on, 0.0, None) == (0.0, 3.0)
    assert _psi(felt, level, on, 0.0, (1.0, 0.1)) == (1.0, 0.1)
