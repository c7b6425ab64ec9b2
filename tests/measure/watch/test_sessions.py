"""Whole half-hours of tightening with everything that shakes a hangar, seeded."""

import numpy as np
import pytest

from benchmarks.confirmation import deadline, draw, tally, watched


def test_a_few_half_hours_call_the_step_and_nothing_else() -> None:
    found = tally(77, 6, 0.2)
    assert found.false_moved == 0
    assert found.in_time == 6
    assert found.other.get("creeping", 0) == 0


def test_nothing_lasting_is_called_nowhere() -> None:
    found = tally(78, 12, 0.0, minutes=10.0)
    assert found.false_moved == 0


@pytest.mark.parametrize(("size", "least", "most"), [(0.02, 0.0, 0.1), (0.3, 0.9, 1.0)])
def test_small_steps_are_missed_and_large_ones_are_not(
    size: float, least: float, most: float
) -> None:
    found = tally(79, 20, size, minutes=4.0)
    assert least <= found.ever / found.sessions <= most
    assert found.false_moved == 0


def test_the_sessions_do_shake_and_do_step() -> None:
    session = draw(np.random.default_rng(80), 0.2, minutes=10.0)
    assert 0.1 < session.shaking.mean() < 0.8
    assert session.step_at < deadline(session) < session.blade.size
    still = ~session.shaking
    before = still[: session.step_at].nonzero()[0]
    after = still[session.step_at :].nonzero()[0] + session.step_at
    against = session.blade - session.witness
    assert against[after].mean() - against[before].mean() == pytest.approx(0.2, abs=0.08)


def test_without_a_witness_nothing_is_ever_said_to_have_moved() -> None:
    session = draw(np.random.default_rng(81), 0.2, minutes=10.0)
    states = {state for _, state, _ in watched(session, witness=False)}
    assert "moved" not in states
    assert "changed" in states
