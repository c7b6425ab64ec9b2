"""The number that is followed, and a row of the table, where a recorded job does not come by."""

import pytest

from daemon.core.rules import RULES
from daemon.measure.angle.geometry import projection_reading, seat
from shared.inputs import Link
from shared.view import Live
from tests.daemon.bench import LEVEL, header
from tests.workflow.jobs import HUB, Crew, of_the_hub

PLAN = {"rounds": ["check", "final"], "reference_placements": 1, "baseline_placements": 1}
TIGHT = {"angle_deg": 20.0, "tolerance_deg": 0.05, "spread_deg": 0.05}


def in_the_check(rules: int = RULES, target: dict[str, float] | None = None) -> Crew:
    """Both blades are held, by presses; whoever lays the level down need not press."""
    setup = {"capture": "by itself"}
    made = header(plan=PLAN, setup=setup, **({"target": target} if target else {}))
    crew = Crew(made.model_copy(update={"rules": rules}))
    crew.press("done")
    crew.turn_over()
    crew.on_hub_face()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    assert crew.step() == ("check", 1)
    return crew


def followed(crew: Crew, angle: float, samples: int, noise: float = 0.02) -> list[Live]:
    """Lift the level for ten seconds and lay it down; return what was shown with every sample."""
    crew.carry(100)
    shown = []
    for _ in range(samples):
        crew.send(angle, noise)
        shown.append(crew.engine.view().live)
    return shown


@pytest.mark.parametrize("pressed", [False, True])
def test_it_is_taken_by_itself_only_while_nobody_pressed(pressed: bool) -> None:
    """Who pressed before the level is good enough is told to hold still."""
    crew = in_the_check()
    (*_, live) = followed(crew, 17.0, 8, 0.05)
    assert live.motion == "settling"
    if pressed:
        crew.press()
    shown = []
    for _ in range(8):
        crew.send(17.0, 0.05)
        shown.append(crew.engine.view().live)
    still = [one for one in shown if one.motion == "still"]
    assert still
    assert {one.by_itself for one in still} == {not pressed}
    said = "hold still" if pressed else "hold still: taken by itself"
    assert {one.words for one in still} == {said}


def test_what_lacks_is_heard_once_a_level_has_lain_long_enough() -> None:
    """A surprise wants a second landing: not said before the time in which it would be taken is over."""
    shown = followed(in_the_check(), 17.9, 40)
    heard = [one.lacks for one in shown if one.motion == "ready"]
    assert heard[0] == ""
    assert heard[-1] == "agreement"
    assert {one.lacks for one in shown if one.motion != "ready"} == {""}


def test_where_a_press_is_wanted_that_is_heard_of_a_ready_level_only() -> None:
    crew = in_the_check(rules=10)
    for angle in (17.0, 17.0, -3.0):
        followed(crew, angle, 60)
    assert crew.step() == ("final", 1)
    shown = followed(crew, 17.0, 40)
    assert {one.lacks for one in shown if one.motion == "ready"} == {"a press"}
    assert {one.lacks for one in shown if one.motion != "ready"} == {""}


@pytest.mark.parametrize(
    ("away_s", "angle", "lacks"), [(10, 16.0, ""), (2, 17.0, "a turn"), (2, 16.0, "a turn")]
)
def test_while_setting_no_second_landing_is_asked_for(
    away_s: int, angle: float, lacks: str
) -> None:
    """A tone leads to the angle there; that it may be the last blade again is heard all the same."""
    crew = Crew(header(plan=PLAN, setup={"capture": "by itself"}))
    crew.press("done")
    crew.turn_over()
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(1)
    assert crew.step() == ("set", 2)
    crew.carry(10 * away_s)
    crew.lay(angle, 60)
    live = crew.engine.view().live
    assert (live.motion, live.lacks) == ("ready", lacks)


@pytest.mark.parametrize(("times", "state"), [(1.7, "held"), (2.5, "read elsewhere")])
def test_elsewhere_is_twice_as_far_as_the_reading_is_unsure(times: float, state: str) -> None:
    """Where the tolerance is narrower than that."""
    crew = in_the_check(target=TIGHT)
    u95 = crew.engine.view().blades[1].u95_deg
    assert u95 is not None
    assert 2.0 * u95 > TIGHT["tolerance_deg"]
    crew.read(17.0 - times * u95)
    row = crew.engine.view().blades[1]
    assert row.u95_deg == pytest.approx(u95, rel=0.15)
    assert row.state == state


@pytest.mark.parametrize("psi", [-12.0, 0.0, 12.0])
def test_with_a_witness_on_the_hub_it_is_of_the_blade_as_that_stands(psi: float) -> None:
    """A level of one axis shows less of a blade that is not horizontal: sin r = sin b cos psi at no tilt."""
    one_axis = {**LEVEL, "settings": {**LEVEL["settings"], "convention": "projection"}}
    square = {"psi_u_deg": 0.3, "skew_u_deg": 0.3}
    crew = Crew(header(level=[one_axis, HUB], plan=PLAN, setup=square))
    crew.put(Link("hub", "up", t_ns=crew.t_ns + 1))
    crew.beside["hub"] = lambda: of_the_hub(crew)
    crew.press("done")
    crew.read(projection_reading(seat(0.0, crew.theta)))
    crew.read(projection_reading(seat(20.0, crew.theta)))
    crew.turned = psi
    crew.carry(20)
    crew.lay(projection_reading(seat(20.0, crew.theta, psi)), 30)
    shown = crew.engine.view().live.angle_deg
    assert shown == pytest.approx(20.0, abs=0.1)


# --- words --------------------------------------------------------------------------------------------


def test_what_is_said_of_a_level_that_lies_still_in_the_last_round_names_both_ways() -> None:
    """A press or a turn of the level, once it is ready; before that nothing would come of it."""
    crew = in_the_check(rules=10)
    for angle in (17.0, 17.0, -3.0):
        followed(crew, angle, 60)
    assert crew.step() == ("final", 1)
    said = {(one.motion, one.words) for one in followed(crew, 17.0, 40, 0.05)}
    assert ("still", "still: press") in said
    assert ("ready", "ready: press, or lift it and turn it over") in said
    assert len([motion for motion, _ in said if motion in {"still", "ready"}]) == 2


def test_a_later_reference_that_is_not_as_expected_is_told_so_and_not_asked_for_twice() -> None:
    crew = in_the_check()
    for angle in (17.0, 17.0):
        followed(crew, angle, 60)
    assert crew.step() == ("final", "reference")
    followed(crew, -4.0, 60)
    assert crew.engine.view().live.words == "not as expected: lay it again, or press"


def test_what_comes_next_is_a_reading_only_where_the_round_has_one() -> None:
    crew = Crew(header(plan={**PLAN, "rounds": []}))
    crew.press("done")
    crew.on_hub_face()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    assert shown_next(crew) == ("snug", "everything is read after snugging")
    crew.press("done")
    for blade in (1, 2):
        crew.on_blade(blade)
    assert shown_next(crew) == ("nip", "")


def shown_next(crew: Crew) -> tuple[str, str]:
    """The bolts' step, and what is said of what comes after it."""
    view = crew.engine.view()
    assert view.stage == "tighten"
    return view.label, view.next_say
