"""Which verdicts need an answer of a person."""

import pytest

from daemon.workflow.judging import alarm_kind
from shared.events import Verdict, VerdictState


def verdict(state: VerdictState, could_hide_deg: float | None = None) -> Verdict:
    return Verdict(1, state, 0.1, 0.2, 0.5, "check", 2, "looked at", could_hide_deg)


@pytest.mark.parametrize("state", ["moved", "exchanged", "shifted", "not known"])
def test_what_moved_was_exchanged_or_shifted_needs_an_answer_of_its_kind(
    state: VerdictState,
) -> None:
    assert alarm_kind(verdict(state)) == state


@pytest.mark.parametrize("state", ["turned", "steady", "place again", "within play"])
def test_what_the_bolts_turned_and_what_is_looked_at_again_needs_none(state: VerdictState) -> None:
    assert alarm_kind(verdict(state)) is None
    assert alarm_kind(None) is None


def test_what_is_not_known_only_because_too_much_could_hide_no_answer_would_change() -> None:
    assert alarm_kind(verdict("not known", 0.4)) is None
    assert alarm_kind(verdict("moved", 0.4)) == "moved", "what moved is called, whatever could hide"
