"""The next step by its rules, verdicts with their margins, and points that contradict each other."""

from typing import Any

import pytest
from pydantic import ValidationError

from daemon.trial.advice import (
    FIRST_STEP_DEG,
    SET_DEG,
    SMALLEST_UNFLOWN_DEG,
    STEP_DEG,
    SURE_UNFLOWN,
    advise,
)
from daemon.trial.conflicts import explained
from daemon.trial.forecast import bounds, chance_met, unflown
from daemon.trial.margins import beside
from daemon.trial.points import Point, Trial

LIMITS = [
    {"name": "static, least", "manual": "M-1 p. 4", "runs": ["static"], "least_rpm": 2150},
    {"name": "static, most", "manual": "M-1 p. 4", "runs": ["static"], "most_rpm": 2400},
    {"name": "redline", "manual": "M-1 p. 2", "runs": ["level", "climb"], "most_rpm": 2700},
]


def point(number: int, angle: float, static: float, level: float, **more: Any) -> dict[str, Any]:
    return {
        "session": f"s{number}",
        "flown": f"2031-05-{number:02}",
        "angle_deg": angle,
        "u95_deg": 0.1,
        "static_rpm": static,
        "level_rpm": level,
        "true_airspeed_kt": 105,
        "pressure_altitude_ft": 0,
        "celsius": 15,
        "wind_kt": 2,
        "read_on": "panel",
        "checked_by": "optical",
        "checked_rpm": 2000,
        "shown_rpm": 2000,
        **more,
    }


def trial(*points: dict[str, Any], limits: Any = LIMITS, **manual: Any) -> Trial:
    return Trial.model_validate(
        {
            "stillblade_trial": 1,
            "propeller": {"blades": 2, "station": "75 %", "hub": "H-1"},
            "manual": {"may_change": True, **manual},
            "limit": limits,
            "point": list(points),
        }
    )


FINE = point(1, 15.0, 2480, 2780)
MIDDLE = point(2, 16.0, 2382, 2660)
LATER = point(3, 16.9, 2300, 2550)
DONE = point(4, 17.25, 2270, 2505)


def test_a_manual_that_forbids_or_that_nobody_read_gives_no_step() -> None:
    for may in (False, None):
        advice = advise(trial(FINE, may_change=may))
        assert (advice.kind, advice.step_deg, advice.forecast) == ("forbidden", 0.0, None)


def test_without_limits_no_advice_and_it_says_which_lack() -> None:
    assert advise(trial(FINE, limits=[])).missing == (
        "the least static rpm", "the most static rpm", "the most rpm in level flight (the redline)",
    )  # fmt: skip
    assert advise(trial(FINE, limits=LIMITS[:2])).kind == "limits missing"


def test_without_points_nothing() -> None:
    assert advise(trial()).kind == "no points"


def test_one_point_gives_one_small_step_towards_the_limits_and_names_the_danger() -> None:
    advice = advise(trial(FINE))
    assert advice.kind == "step"
    assert 0 < advice.step_deg <= FIRST_STEP_DEG
    assert "overspeeds" in advice.dangers


def test_the_manuals_own_step_is_the_largest() -> None:
    assert advise(trial(FINE, step_deg=0.25)).step_deg == pytest.approx(0.25)


def test_from_settings_half_a_degree_apart_it_is_an_angle_within_every_limit() -> None:
    advice = advise(trial(FINE, MIDDLE, LATER))
    assert advice.kind == "angle"
    assert 0 < advice.step_deg <= STEP_DEG
    ahead = advice.forecast
    assert ahead
    assert ahead.low_deg is not None
    assert ahead.high_deg is not None
    assert ahead.low_deg < 16.9 + advice.step_deg < ahead.high_deg


def test_a_setting_that_meets_all_is_left_alone() -> None:
    assert advise(trial(FINE, MIDDLE, LATER, DONE)).kind == "stay"


def tied_down(angle: float, static: float) -> dict[str, Any]:
    return point(1, angle, static, 0.0) | {"level_rpm": None}


def redline(rpm: float) -> list[dict[str, Any]]:
    return [*LIMITS[:2], {**LIMITS[2], "most_rpm": rpm}]


def test_before_a_flight_a_step_goes_no_further_than_the_static_run_asks() -> None:
    advice = advise(trial(tied_down(17.0, 2100)))
    assert advice.kind == "step"
    assert -FIRST_STEP_DEG <= advice.step_deg < 0
    assert [(limit.name, run) for limit, run in advice.unflown] == [("redline", "level")]
    near = advise(trial(tied_down(17.0, 2120)))
    assert near.forecast
    assert near.forecast.best_deg is not None
    assert near.forecast.best_deg < 17.0 + near.step_deg - 0.3
    assert near.step_deg > advice.step_deg - 1e-9


def test_where_the_unflown_redline_may_lie_beside_the_static_limit_it_holds_and_names_it() -> None:
    """2150 rpm tied down are 2390 in level flight, give or take a tenth: 2450 may be too few, 2700 are not."""
    advice = advise(trial(tied_down(17.0, 2080), limits=redline(2450)))
    assert (advice.kind, advice.step_deg) == ("hold", 0.0)
    assert [(limit.name, run) for limit, run in advice.against] == [("redline", "level")]


def test_a_step_before_a_flight_leaves_the_unflown_redline_its_margin_or_is_none() -> None:
    """Blades that come to stand 0.1 degrees finer than advised still meet it as sure as is stated."""
    kinds = set()
    for rpm in range(2450, 2760, 10):
        made = trial(tied_down(17.0, 2080), limits=redline(rpm))
        advice = advise(made)
        kinds.add(advice.kind)
        if advice.kind != "step":
            continue
        assert advice.evidence
        assert advice.to_deg
        assert -FIRST_STEP_DEG <= advice.step_deg <= -SMALLEST_UNFLOWN_DEG
        (level,) = unflown(advice.evidence, bounds(made, advice.evidence))
        assert chance_met(advice.evidence.lines, level, advice.to_deg - SET_DEG) >= SURE_UNFLOWN
    assert kinds == {"hold", "step"}


def test_what_the_propellers_maker_says_of_level_flight_lets_it_go_on_or_says_that_none_will_do() -> (
    None
):
    limits = redline(2450)
    low = trial(tied_down(17.0, 2080), limits=limits, level_above_static_percent=5.0)
    assert advise(low).kind == "step"
    assert advise(low).step_deg < 0
    high = trial(tied_down(17.0, 2080), limits=limits, level_above_static_percent=20.0)
    assert advise(high).kind == "no setting"


def test_a_setting_that_may_be_flown_is_flown_before_a_step_towards_an_unflown_limit() -> None:
    advice = advise(trial(tied_down(16.5, 2170), limits=redline(2500)))
    assert (advice.kind, advice.step_deg) == ("fly first", 0.0)
    assert [(limit.name, run) for limit, run in advice.against] == [("redline", "level")]


def test_of_a_setting_that_may_be_flown_nobody_is_told_that_none_will_do_before_it_is_flown() -> (
    None
):
    """2250 rpm tied down are hardly less than 2300 in level flight: believed, and one flight tells."""
    made = trial(tied_down(16.5, 2250), limits=redline(2300))
    assert advise(made).kind == "fly first"
    tied = trial(tied_down(16.5, 2060), limits=redline(2200))
    assert advise(tied).kind == "no setting"


def test_limits_that_contradict_each_other_are_named_and_nothing_is_advised() -> None:
    limits = [*LIMITS[:2], {**LIMITS[2], "most_rpm": 2250}]
    advice = advise(trial(FINE, MIDDLE, LATER, limits=limits))
    assert (advice.kind, advice.step_deg) == ("no setting", 0.0)
    assert [limit.name for limit, _ in advice.against] == ["static, least", "redline"]


def test_a_point_off_the_others_is_said_and_what_could_explain_it() -> None:
    wrong = point(3, 16.9, 2300 * 1.05, 2550 * 1.05, read_on="other")
    made = trial(FINE, MIDDLE, wrong)
    advice = advise(made)
    assert (advice.kind, advice.step_deg) == ("points contradict", 0.0)
    words = explained(advice.conflicts[-1], made.counting)
    assert any("instrument" in one for one in words)


@pytest.mark.parametrize(
    ("second", "kind"),
    [
        ({**FINE, "session": "s2"}, "entered twice"),
        ({**MIDDLE, "hub": "H-2"}, "another propeller"),
        ({**MIDDLE, "station": "tip"}, "another station"),
    ],
)
def test_a_point_that_does_not_belong_is_said_and_does_not_count(
    second: dict[str, Any], kind: str
) -> None:
    advice = advise(trial(FINE, second))
    assert [(one.kind, one.point) for one in advice.conflicts] == [(kind, 2)]
    assert advice.evidence
    assert [number for number, _ in advice.evidence.points] == [1]


def test_a_level_run_that_was_stopped_at_the_redline_is_an_overspeed_and_asks_for_coarser() -> None:
    """2700 rpm with throttle to spare: full throttle turns more, how much more is hardly known."""
    advice = advise(trial(point(1, 15.5, 2390, 2700, level_throttle="part")))
    assert "overspeeds" in advice.dangers
    assert (advice.kind, advice.step_deg) == ("step", FIRST_STEP_DEG)
    full = advise(trial(point(1, 15.5, 2390, 2700)))
    assert full.evidence
    assert advice.evidence
    band, wide = (one.evidence.lines.band("level", 15.5, 0.0) for one in (full, advice))  # type: ignore[union-attr]
    assert wide[1] > band[1]
    assert wide[2] - wide[0] > 3.0 * (band[2] - band[0])


def test_a_redline_that_may_be_passed_is_a_danger_before_it_is_certain() -> None:
    """2720 where 2700 is the most: past it, but no more than the readings are unsure by."""
    assert advise(trial(point(1, 15.5, 2390, 2720))).dangers == ("may overspeed",)
    assert advise(trial(point(1, 15.5, 2390, 2690))).dangers == ()


def test_overspeed_in_a_dive_is_named() -> None:
    advice = advise(trial(MIDDLE, never_exceed_kt=150))
    assert advice.dangers == ("overspeeds in a dive",)


def test_a_setting_that_cannot_turn_its_static_rpm_is_named() -> None:
    assert "no static rpm" in advise(trial(point(1, 19.0, 2080, 2300))).dangers


def test_vibration_moves_nothing() -> None:
    plain, felt = advise(trial(FINE)), advise(trial({**FINE, "vibration": "in the seat"}))
    assert felt.vibrating == (1,)
    assert felt.step_deg == plain.step_deg


def test_a_limit_with_a_guard_band() -> None:
    """JCGM 106:2012: in beyond U, out beyond -U, else too close to say."""
    assert [beside(margin, 20.0) for margin in (25.0, 10.0, -10.0, -25.0)] == [
        "in", "too close to say", "too close to say", "out",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        {"static_rpm": None, "level_rpm": None},
        {"static_rpm": 90},
        {"checked_rpm": None},
        {"level_rpm": None, "level_throttle": "part"},
        {"ground_altitude_ft": 500},
        {"flown": "yesterday"},
        {"read_on": ""},
        {"celsius": float("nan")},
        {"no_such_key": 1},
    ],
)
def test_a_point_that_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValidationError):
        Point.model_validate({**FINE, **wrong})


@pytest.mark.parametrize("sides", [{}, {"least_rpm": 2000, "most_rpm": 2100}])
def test_a_limit_has_one_side(sides: dict[str, float]) -> None:
    with pytest.raises(ValidationError, match="one side"):
        trial(limits=[{"name": "n", "manual": "m", "runs": ["static"], **sides}])
