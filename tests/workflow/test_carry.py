"""What a session takes over from the events of the one before it."""

import math
from typing import Any

import pytest

from daemon.workflow.carry import carried
from shared.events import (
    Alarm,
    BladeId,
    Body,
    Captured,
    Cleared,
    Event,
    Held,
    StepChanged,
    Verdict,
    Withdrawn,
)
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


def asked(stage: str, blade: BladeId, placement: int = 1, half: Any = 0) -> Body:
    return StepChanged(1, stage, blade, "1", placement, 2, "place it", half)


def test_a_blade_that_is_to_be_set_is_held_no_more() -> None:
    """Nothing of it was read yet: it is turned in a loose hub, and its old angle says nothing."""
    tilt = read(1, "reference", "reference", 3.0)
    assert list(over(tilt, held(1), held(2), asked("set", 1))["blades"]) == ["2"]
    assert list(over(tilt, held(1), held(2), asked("baseline", 2))["blades"]) == ["1"]
    assert list(over(tilt, held(1), asked("check", 1), asked("reference", "reference"))) == []
    assert list(over(tilt, held(1), asked("check", 1))["blades"]) == ["1"]


def test_blades_of_an_answered_alarm_are_held_no_more() -> None:
    """Their bolts are slackened before the first of them is set."""
    tilt, three = read(1, "reference", "reference", 3.0), [held(blade) for blade in (1, 2, 3)]
    one, some = (
        Alarm(7, 2, "moved", 20.0, "look"),
        Alarm(8, 1, "out", 20.0, "look", blades=(1, 3)),
    )
    over_again = [over(tilt, *three, a, Cleared(a.id, "set-again", "Ada")) for a in (one, some)]
    assert [list(found["blades"]) for found in over_again] == [["1", "3"], ["2"]]


def test_of_a_reference_that_is_read_anew_the_readings_of_before_do_not_count() -> None:
    before = [read(n, "reference", "reference", 3.0 + n) for n in (1, 2)]
    anew = [asked("reference", "reference"), read(3, "reference", "reference", 8.0)]
    assert over(*before, anew[0]) == {}
    assert over(*before, *anew)["reference"]["theta_deg"] == 8.0
    more = [asked("reference", "reference", 2), read(4, "reference", "reference", 9.0)]
    assert over(*before, *anew, *more)["reference"]["theta_deg"] == pytest.approx(8.5)
    again = [Withdrawn(4, "dropped"), more[0], read(5, "reference", "reference", 8.4)]
    assert over(*before, *anew, *more, *again)["reference"]["theta_deg"] == pytest.approx(8.2)


def test_of_one_in_two_halves_no_half_of_before_is_taken_with_one_of_now() -> None:
    halves: tuple[Any, Any] = (1, 2)
    ask = [asked("reference", "reference", half=half) for half in halves]
    first = [read(n, "reference", "reference", 3.0 + n, half=n) for n in halves]
    anew = [read(2 + n, "reference", "reference", 7.0 + n, half=n) for n in halves]
    once = [ask[0], first[0], ask[1], first[1]]
    assert over(*once, by="half-turn")["reference"]["theta_deg"] == 4.5
    assert over(*once, ask[0], anew[0], by="half-turn") == {}
    twice = [*once, ask[0], anew[0], ask[1], anew[1]]
    assert over(*twice, by="half-turn")["reference"]["theta_deg"] == 8.5


def test_what_a_session_took_over_itself_is_taken_over_again() -> None:
    tilt = read(1, "reference", "reference", 3.0)
    before = over(tilt, held(1), held(2))
    assert carried([], "hub-face", before) == before
    later = [Event(n, n, body) for n, body in enumerate([asked("set", 1), tilt], 1)]
    found = carried(later, "hub-face", before)
    assert (list(found["blades"]), found["reference"]["n"]) == (["2"], 1)
    assert list(before["blades"]) == ["1", "2"]


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
