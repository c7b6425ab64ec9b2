"""Whole jobs by somebody who never looks: signals, a voice, and the level in the hand. Simulated person."""

import pytest

from daemon.demo.fast import Outcome
from shared.events import Alarm, Captured, Cleared, StepChanged
from shared.inputs import Command
from tests.simulated import simulated


def keys(outcome: Outcome) -> list[str]:
    return [item.kind for item in outcome.recording.inputs if isinstance(item, Command)]


LONG = [pytest.param(seed, marks=pytest.mark.long) for seed in (2, 3)]


@pytest.mark.parametrize("seed", [1, *LONG])
def test_two_knocks_are_found_and_set_again_with_no_key_between_making_safe_and_closing(
    seed: int,
) -> None:
    outcome = simulated("by-ear", seed)
    assert keys(outcome) == ["done", "done"]
    assert outcome.truth.stuck == ""
    bodies = [event.body for event in outcome.recording.events]
    taken = [body for body in bodies if isinstance(body, Captured)]
    assert {body.by for body in taken} <= {"landing", "turn", "gesture"}
    knocked = {move.blade for move in outcome.truth.moved if move.cause == "knock"}
    alarms = [body for body in bodies if isinstance(body, Alarm)]
    assert knocked <= {blade for one in alarms for blade in (one.blades or (one.blade,))}
    answers = [body for body in bodies if isinstance(body, Cleared)]
    assert {body.how for body in answers} == {"set-again"}
    assert outcome.closing.result in {"within", "too close to say"}
    for row, true in zip(outcome.closing.blades, outcome.truth.angles_deg, strict=True):
        assert abs(row["angle_deg"] - true) < 0.2


def test_the_record_says_by_what_each_reading_was_taken() -> None:
    taken = [
        event.body
        for event in simulated("by-ear", 1).recording.events
        if isinstance(event.body, Captured)
    ]
    assert taken[0].by == "landing"
    assert {one.by for one in taken if one.stage == "final" and one.blade != "reference"} == {
        "landing"
    }


def test_what_is_said_to_take_a_reading_takes_it() -> None:
    """A newcomer reads the sentence too: "press" where nothing is pressed is a wrong one."""
    asked, wrong = "", []
    for event in simulated("by-ear", 1).recording.events:
        if isinstance(event.body, StepChanged):
            asked = event.body.say
        if isinstance(event.body, Captured) and event.body.stage != "set":
            said = "Leave it until" if event.body.by == "landing" else "Turn it over and back, then"
            wrong += [(event.body.stage, asked)] if said not in asked else []
    assert [stage for stage, _ in wrong] == ["reference"], "only before the level was turned over"
    assert "Press once" in wrong[0][1]
