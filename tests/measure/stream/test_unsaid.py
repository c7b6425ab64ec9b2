"""What a level that sends on change did not send, sample by sample."""

from typing import Any

import pytest

from daemon.measure.stream.unsaid import Unsaid
from shared.inputs import NS
from shared.profile import Reporting


def unsaid(rate_hz: float, **told: Any) -> Unsaid:
    return Unsaid(Reporting.model_validate({"mode": "on-change", "rate_hz": rate_hz} | told))


def missed(of: Unsaid) -> list[int]:
    """All the deadlines there are when nothing comes."""
    found = []
    while (due := of.due) is not None:
        found.append(due)
        of.missed()
    return found


def test_each_sample_has_a_deadline_half_a_period_late() -> None:
    of = unsaid(4.0)
    assert of.due is None, "nothing was said yet"
    of.said(NS)
    assert missed(of)[:3] == [NS + NS * 3 // 8, NS + NS * 5 // 8, NS + NS * 7 // 8]


@pytest.mark.parametrize(("rate_hz", "most"), [(4.0, 48), (10.0, 120), (0.05, 1)])
def test_a_silence_tells_no_more_than_twelve_seconds_and_one_sample_at_least(
    rate_hz: float, most: int
) -> None:
    of = unsaid(rate_hz)
    of.said(0)
    assert len(missed(of)) == most


def test_what_is_said_counts_anew_and_a_line_that_is_down_tells_nothing() -> None:
    of = unsaid(4.0)
    of.said(0)
    of.missed()
    of.said(10 * NS)
    assert of.due == 10 * NS + NS * 3 // 8
    of.restart()
    assert of.due is None
    of.said(20 * NS)
    assert of.due == 20 * NS + NS * 3 // 8


@pytest.mark.parametrize("mode", ["stream", "on-press"])
def test_a_level_that_reports_in_another_way_leaves_nothing_unsaid(mode: str) -> None:
    of = unsaid(4.0, mode=mode)
    of.said(0)
    assert of.due is None
