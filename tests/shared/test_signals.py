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
from shared.view import View
from tests.tui import scenes


@pytest.mark.parametrize(
    ("view", "moment"),
    [
        (scenes.SET, ""),
        (scenes.READY, ""),
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
    assert {name for name, each in SIGNALS.items() if each.again_s} == {"alarm", "no signal"}


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
    limit = view.tolerance_deg
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
    assert spoken(scenes.SET) == ""
