"""Somebody sits in the aircraft for a while: a sweep over the blades is lost by it, and not the job."""

import pytest

from daemon.core.engine import Engine
from daemon.workflow.case import Case
from shared.events import REFERENCE, Alarm, Judged, Noted
from tests.simulated import simulated


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_visit_costs_one_sweep_over_the_blades(seed: int) -> None:
    """Until rules 10 the level was held for one that seats badly, by 0.3, and every verdict was "not known"."""
    outcome = simulated("visit", seed)
    bodies = [event.body for event in outcome.recording.events]
    said = [body.say for body in bodies if isinstance(body, Noted) and "disagree" in body.say]
    assert len(said) == 1
    assert said[0].endswith("Everything is read once more.")
    assert not [body for body in bodies if isinstance(body, Alarm)]
    assert outcome.closing.result == "within"
    assert max(row["u95_deg"] for row in outcome.closing.blades) < 0.08


def test_a_reference_that_the_round_begun_anew_spares_is_not_asked_for_in_the_table() -> None:
    recording = simulated("visit", 1).recording
    engine = Engine(recording.header)
    for item in recording.inputs:
        if any(isinstance(event.body, Judged) for event in engine.feed(item)):
            break
    assert engine.view().blades[0].blade == REFERENCE
    assert engine.view().blades[0].state == "held"


@pytest.mark.parametrize(("rules", "told"), [(10, False), (11, True)])
def test_sessions_of_earlier_rules_are_judged_as_they_were(rules: int, told: bool) -> None:
    header = simulated("visit", 1).recording.header
    case = Case(header.model_copy(update={"rules": rules}), lambda _: 0)
    assert case.ledger.mishaps_tell is told
