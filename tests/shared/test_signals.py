"""Which signal is heard when, what a voice says, and which way the leading tone leads."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.displays import Heard
from shared.events import Captured
from shared.signals import (
    EVERY,
    LEAD_FAR_S,
    LEAD_NEAR_S,
    LEADS,
    SIGNALS,
    Moment,
    lead_of,
    moment_of,
    spoken,
)
from shared.view import Lacks, View
from tests.tui import scenes


@pytest.mark.parametrize(
    ("view", "moment"),
    [
        (scenes.SET, "step"),
        (scenes.READY, "step"),
        (scenes.TAKEN, "taken"),
        (scenes.ALARM, "alarm"),
        (replace(scenes.ALARM, live=scenes.TAKEN.live), "alarm"),
        (scenes.ALARM_WAITS, "alarm"),
        (replace(scenes.ALARM_WAITS, live=scenes.TAKEN.live), "taken"),
        (replace(scenes.ALARM_WAITS, live=scenes.SILENT.live), "no signal"),
        (replace(scenes.ALARM_WAITS, press="done", stage="tighten"), "hands"),
        (replace(scenes.WATCHING, alarms=(scenes.MOVED,)), "alarm"),
        (scenes.QUESTION, "question"),
        (scenes.SILENT, "no signal"),
        (scenes.TIGHTEN, "hands"),
        (replace(scenes.TIGHTEN, live=scenes.SILENT.live), "hands"),
        (scenes.FINISHED, "the end"),
        (replace(scenes.SILENT, stage="watch"), ""),
    ],
)
def test_every_moment_and_the_worse_first(view: View, moment: Moment) -> None:
    assert moment_of(view) == moment


def test_no_two_signals_sound_alike() -> None:
    assert len({signal.tones for signal in EVERY.values()}) == len(EVERY)
    assert len({signal.means for signal in EVERY.values()}) == len(EVERY)


def test_what_must_not_be_overlooked_comes_again_and_nothing_else_does() -> None:
    waits = {"lay it again", "which blade", "turn it over", "proof", "hands"}
    again = {name for name, each in SIGNALS.items() if each.again_s}
    assert again == {"alarm", "no signal", *waits}


def test_rising_means_coarser_and_falling_finer() -> None:
    """Positive is coarser, so a blade that is too fine (a negative error) is turned coarser."""
    [(first, last, _)] = LEADS["coarser"].tones
    assert first < last
    [(first, last, _)] = LEADS["finer"].tones
    assert first > last
    assert lead_of(scenes.SET)[0] == "coarser"
    assert scenes.SET.live.error_deg == -0.42


@given(st.floats(-30.0, 30.0))
def test_the_lead_leads_to_the_tolerance_and_hurries_near_it(error_deg: float) -> None:
    view = replace(scenes.SET, live=replace(scenes.SET.live, error_deg=error_deg))
    lead, pause_s = lead_of(view)
    limit = view.live.near_deg
    wanted = "in" if abs(error_deg) <= limit else "finer" if error_deg > 0 else "coarser"
    assert lead == wanted
    assert LEAD_NEAR_S <= pause_s <= LEAD_FAR_S
    if lead != "in":
        nearer = replace(view, live=replace(view.live, error_deg=error_deg / 1.5))
        assert lead_of(nearer)[0] == "in" or lead_of(nearer)[1] <= pause_s


@pytest.mark.parametrize(
    "view",
    [
        scenes.TAKEN,
        scenes.ALARM,
        scenes.SILENT,
        scenes.TIGHTEN,
        scenes.REREADING,
        replace(scenes.SET, live=replace(scenes.SET.live, motion="in hand")),
        replace(scenes.SET, stage="check"),
    ],
)
def test_nothing_leads_where_nothing_is_set_or_the_level_is_in_a_hand(view: View) -> None:
    assert lead_of(view)[0] == ""


def test_a_voice_names_the_blade_first() -> None:
    reading = next(e.body for e in scenes.HISTORY if isinstance(e.body, Captured))
    words = spoken(scenes.TAKEN, Heard(replace(reading, blade=2, angle_deg=18.5)))
    assert words == "blade 2, 18.50, lift the level"
    assert spoken(scenes.ALARM).startswith("blade 1, moved")
    assert spoken(scenes.ALARM_WAITS) == scenes.MOVED.say
    assert spoken(scenes.SET) == scenes.SET.say.partition(". ")[0].removesuffix(".")


@pytest.mark.parametrize(
    ("lacks", "moment", "words"),
    [
        ("agreement", "lay it again", "lay it on again"),
        ("a turn", "which blade", "turn the level over if it is not"),
        ("a press", "turn it over", "turn it over and lay it on again"),
        ("a landing", "step", ""),
    ],
)
def test_what_a_reading_lacks_is_heard(lacks: Lacks, moment: Moment, words: str) -> None:
    lying = replace(scenes.REREADING, live=replace(scenes.REREADING.live, lacks=lacks))
    assert moment_of(lying) == moment
    assert words in spoken(lying)


def test_a_level_that_came_down_in_this_step_is_heard_and_one_that_lay_there_is_not() -> None:
    lying = replace(scenes.REREADING, live=replace(scenes.REREADING.live, laid=True))
    assert moment_of(lying) == "landed"
    assert moment_of(scenes.REREADING) == "step"


def test_the_voice_asks_for_the_level_to_be_turned_over_until_something_was_read() -> None:
    first = replace(scenes.REREADING, stage="reference", turnover="proof")
    assert moment_of(first) == "proof"
    assert spoken(first).startswith("turn the level over, and back, if you hear me; then: ")
    reading = next(e.body for e in scenes.HISTORY if isinstance(e.body, Captured))
    assert moment_of(first, Heard(reading)) == "step"


def test_what_the_level_answered_is_heard_once_and_how_to_leave_it() -> None:
    """The alarm's own signal comes again and again: heard while its answer waits, it would ask for another."""
    waiting = replace(scenes.ALARM, turnover="leave")
    assert moment_of(scenes.ALARM) == "alarm"
    assert moment_of(waiting) == "set again"
    assert SIGNALS["set again"].again_s is None
    assert spoken(waiting) == "set again in 5 seconds: turn the level over once more to leave it"


def test_taken_back_is_heard_with_what_comes_next() -> None:
    assert moment_of(scenes.SET, Heard(taken_back=True)) == "taken back"
    assert spoken(scenes.SET, Heard(taken_back=True)).startswith(
        "taken back; Turn blade 2 (white) horizontal"
    )
