"""Half an hour in which nobody did anything, though a clock stood still or was put right meanwhile."""

import pytest

from daemon.workflow.breaks import BREAK_S, Breaks
from shared.inputs import NS

HALF_AN_HOUR_NS = 1800 * NS
STARTED = "2026-03-01T10:00:00+00:00"


def test_half_an_hour_is_a_break_and_less_is_none() -> None:
    breaks = Breaks("")
    assert breaks.act(HALF_AN_HOUR_NS - 1) == 0.0
    assert breaks.act(2 * HALF_AN_HOUR_NS - 1) == BREAK_S
    assert breaks.act(2 * HALF_AN_HOUR_NS) == 0.0, "since somebody last did something"
    assert breaks.act(4 * HALF_AN_HOUR_NS) == 3600.0


@pytest.mark.parametrize(("stood", "away_s"), [(True, 3000.0), (False, 0.0)])
def test_what_the_wall_says_beyond_session_time_counts_where_the_program_stood(
    stood: bool, away_s: float
) -> None:
    """Ten seconds of session time, and fifty minutes and ten seconds of the wall."""
    breaks = Breaks(STARTED)
    breaks.act(5 * NS)
    breaks.clock("2026-03-01T10:50:10Z", 10 * NS, stood=stood)
    assert breaks.act(15 * NS) == (10.0 + away_s if stood else 0.0)
    assert breaks.act(16 * NS) == 0.0


def test_each_stop_counts_from_the_last_look_at_the_wall() -> None:
    breaks = Breaks(STARTED)
    breaks.clock("2026-03-01T12:00:00Z", 10 * NS, stood=False)  # the clock was put right
    breaks.clock("2026-03-01T12:20:00Z", 20 * NS, stood=True)
    assert breaks.act(20 * NS) == 0.0, "20 s and 1190 s"
    breaks.clock("2026-03-01T12:50:20Z", 40 * NS, stood=True)
    assert breaks.act(40 * NS) == 20.0 + 1800.0


def test_a_wall_clock_that_went_back_is_no_stop() -> None:
    breaks = Breaks(STARTED)
    breaks.act(NS)
    breaks.clock("2026-03-01T09:00:00Z", 10 * NS, stood=True)
    assert breaks.by_the_wall(0) == 0
    assert breaks.act(1800 * NS) == 0.0
    breaks.clock("2026-03-01T09:40:00Z", 1810 * NS, stood=True)
    assert breaks.act(1811 * NS) == 0.0, "session time went on nearly all the while"


def test_what_was_before_a_stop_is_older_by_the_wall_than_session_time_says() -> None:
    breaks = Breaks(STARTED)
    breaks.clock("2026-03-01T10:10:10Z", 10 * NS, stood=True)
    breaks.clock("2026-03-01T10:20:20Z", 20 * NS, stood=True)
    assert breaks.by_the_wall(21 * NS) == 21 * NS
    assert breaks.by_the_wall(20 * NS) == (20 - 600) * NS
    assert breaks.by_the_wall(11 * NS) == (11 - 600) * NS
    assert breaks.by_the_wall(10 * NS) == (10 - 1200) * NS


@pytest.mark.parametrize("unknown", ["", "noon", "2026-13-01T10:00:00Z", "2026-03-32T10:00:00Z"])
def test_where_nobody_knows_the_time_nothing_is_added(unknown: str) -> None:
    breaks = Breaks(unknown)
    breaks.clock("2026-03-01T12:00:00Z", 10 * NS, stood=True)
    assert breaks.act(11 * NS) == 0.0
    breaks.clock(unknown, 20 * NS, stood=True)
    breaks.clock("2026-03-01T14:00:00Z", 30 * NS, stood=True)
    assert breaks.act(31 * NS) == 0.0


@pytest.mark.parametrize(
    "same",
    [
        "2026-03-01T10:00:00",
        "2026-03-01 10:00:00.75Z",
        "2026-03-01T12:30:00+02:30",
        "2026-03-01T12:30:00+0230",
        "2026-03-01T05:15:00-04:45",
        "2026-02-28T23:59:00-10:01",
    ],
)
def test_zones_are_taken_off_as_iso_8601_writes_them(same: str) -> None:
    """ISO 8601: the local time, and how far it is before (+) or behind (-) UTC, in hours and minutes."""
    breaks = Breaks(same)
    breaks.clock("2026-03-01T10:50:00Z", 0, stood=True)
    assert breaks.act(0) == 3000.0


@pytest.mark.parametrize("day", ["2026-01-31", "2026-12-01", "2026-12-31"])
def test_the_first_and_the_last_of_days_and_months_are_times(day: str) -> None:
    breaks = Breaks(f"{day}T10:00:00Z")
    breaks.clock(f"{day}T11:00:00Z", 0, stood=True)
    assert breaks.act(0) == 3600.0
