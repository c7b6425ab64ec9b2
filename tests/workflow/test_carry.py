"""What a session takes over from the events of the one before it."""

import math
from typing import Any

import pytest

from daemon.workflow.carry import carried
from shared.events import Alarm, BladeId, Body, Captured, Cleared, Event, Held, Verdict, Withdrawn
from shared.job import ReferenceBy


def read(n: int, blade: BladeId, stage: str, deg: float, u95: float = 0.2, half: Any = 0) -> Body:
    return Captured(
        n, blade, stage, deg, u95, 20, "chord", deg, None, None, "normal", 1, "press", half=half
    )


def held(blade: int, deg: float = 20.0, u95: float = 0.1) -> Body:
    return Held(blade, deg, u95, 0.0, "in")


def over(*bodies: Body, by: ReferenceBy = "hub-face") -> dict[str, Any]:
    return carried([Event(n, n, body) for n, body in enumerate(bodies, 1)], by)


def test_a_tilt_is_the_mean_of_its_placements_and_half_of_what_the_last_one_states() -> None:
    found = over(
        read(1, "reference", "reference", 3.0), read(2, "reference", "reference", 3.2, 0.3)
    )
    assert found["reference"] == pytest.approx({"theta_deg": 3.1, "u_deg": 0.15, "n": 2})
    assert found["blades"] == {}


@pytest.mark.parametrize(("by", "theta"), [("half-turn", 3.0), ("both-sides", -1.0)])
def test_of_two_halves_it_is_their_mean_or_half_their_difference(
    by: ReferenceBy, theta: float
) -> None:
    """Half a turn apart the wobble drops out; of two sides of one blade the blade does."""
    first = read(1, "reference", "reference", 4.0, 0.3, half=1)
    second = read(2, "reference", "reference", 2.0, 0.4, half=2)
    assert over(first, by=by) == {}
    found = over(first, second, by=by)["reference"]
    assert found == pytest.approx({"theta_deg": theta, "u_deg": math.hypot(0.3, 0.4) / 4, "n": 2})


def test_without_a_tilt_nothing_is_taken_over() -> None:
    assert over(held(1)) == {}
    assert over(read(1, "reference", "reference", 3.0), Withdrawn(1, "dropped"), held(1)) == {}


def test_blades_are_taken_over_as_they_were_held_last() -> None:
    tilt = read(1, "reference", "reference", 3.0)
    found = over(tilt, held(1), held(2, 20.4), held(1, 20.2, 0.3))["blades"]
    assert found["1"] == pytest.approx({"angle_deg": 20.2, "u_deg": 0.15})
    assert found["2"] == pytest.approx({"angle_deg": 20.4, "u_deg": 0.05})


def test_a_blade_that_is_being_set_again_is_held_no_more() -> None:
    tilt = read(1, "reference", "reference", 3.0)
    assert list(over(tilt, held(1), held(2), read(2, 1, "set", 20.1))["blades"]) == ["2"]
    assert over(tilt, read(2, 1, "set", 20.1), held(2))["blades"].keys() == {"2"}
    assert over(tilt, held(1), read(2, 1, "check", 20.1))["blades"].keys() == {"1"}


@pytest.mark.parametrize(
    ("kind", "follows"),
    [("moved", True), ("turned", True), ("not known", True), ("exchanged", True), ("out", False)],
)
def test_what_was_accepted_is_held_where_the_round_found_it(kind: Any, follows: bool) -> None:
    tilt, alarm = read(1, "reference", "reference", 3.0), Alarm(7, 1, kind, 20.0, "look")
    verdict = Verdict(1, "moved", -0.5, 0.4, 0.99, "check", 2, "moved")
    found = over(tilt, held(1), verdict, alarm, Cleared(7, "accept", "Ada"))["blades"]["1"]
    moved = {"angle_deg": 19.5, "u_deg": 0.2}
    assert found == pytest.approx(moved if follows else {"angle_deg": 20.0, "u_deg": 0.05})
    found = over(tilt, held(1), verdict, alarm, Cleared(7, "re-reading", ""))["blades"]["1"]
    assert found["angle_deg"] == 20.0
    assert over(tilt, held(1), alarm, Cleared(7, "accept", "Ada"))["blades"]["1"]["angle_deg"] == 20
    assert over(tilt, verdict, alarm, Cleared(7, "accept", "Ada"))["blades"] == {}
