"""The hangar in front of the real engine: what is said is held against the truth."""

import pytest

from shared.events import Asked, Assigned, Watched, Withdrawn
from simulator.confusion import counts
from simulator.outcome import breaches, judge
from simulator.scenario import load
from tests.simulated import simulated

QUICK = ["tighten-all-but-one", "tyre"]  # "default" under many seeds: tests/whole/test_demo.py


@pytest.mark.parametrize("name", QUICK)
def test_nothing_is_said_that_the_scenario_does_not_allow(name: str) -> None:
    outcome = simulated(name, 2)
    assert outcome.truth.stuck == ""
    assert breaches(outcome.recording.events, outcome.truth, load(name).allowed) == []


@pytest.mark.parametrize(
    ("name", "seed"),
    [
        ("first-use", 104),  # read 1.5 off four times, and only an early shift stood against it
        ("first-use", 108),
        ("unmeasured-seat", 110),  # 1.6 off before four placements had told of the seating
        ("unmeasured-seat", 3),
        ("unmeasured-seat", 5),  # knocked between two placements of a round
    ],
)
def test_what_was_plainly_knocked_is_called_by_a_level_nobody_measured(
    name: str, seed: int
) -> None:
    """Each was told as "not known"."""
    outcome = simulated(name, seed)
    rows = counts(judge(outcome.recording.events, outcome.truth, load(name).allowed))
    assert rows["called"] == 1
    assert "missed" not in rows
    assert "accused" not in rows


@pytest.mark.parametrize("seed", [102, 109])
def test_two_blades_read_for_each_other_are_not_called_moved(seed: int) -> None:
    """Their settings are two and a half uncertainties apart: both, or one, were called moved."""
    outcome = simulated("labels-exchanged", seed)
    rows = counts(judge(outcome.recording.events, outcome.truth, load("labels-exchanged").allowed))
    assert "accused" not in rows


def test_a_handle_is_called_and_nothing_else() -> None:
    outcome = simulated("handle", 4)
    rows = counts(judge(outcome.recording.events, outcome.truth, load("handle").allowed))
    assert rows["called"] == 1
    assert "missed" not in rows
    assert "accused" not in rows


def test_end_for_end_is_asked_and_never_corrected() -> None:
    outcome = simulated("reversed", 2)
    kinds = [type(event.body) for event in outcome.recording.events]
    assert Asked in kinds
    assert Withdrawn not in kinds
    assert Assigned not in kinds


@pytest.mark.parametrize(
    ("name", "state", "size_deg"),
    [("watch-blade", "changed", 0.6), ("watch-shaken", "shaken", 0.0)],
)
def test_a_level_left_on_a_blade_tells_a_turn_from_a_blow(
    name: str, state: str, size_deg: float
) -> None:
    outcome = simulated(name, 1)
    seen = [event.body for event in outcome.recording.events if isinstance(event.body, Watched)]
    assert seen[0].state == "quiet"
    assert seen[1].state == state
    assert seen[1].change_deg == pytest.approx(size_deg, abs=0.05)
