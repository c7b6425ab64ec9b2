"""What begins to be heard, from picture to picture."""

from dataclasses import replace

import pytest

from shared.signals import SIGNALS
from shared.sounding import Sounding
from shared.view import View
from tests.tui import scenes


def names(views: list[View], every_s: float = 0.04) -> list[str]:
    sounding = Sounding()
    cues = [sounding.look(view, n * every_s) for n, view in enumerate(views)]
    return [cue.name for cue in cues if cue is not None]


def test_a_step_is_told_once_however_often_the_level_is_lifted_in_it() -> None:
    laid = replace(scenes.REREADING, live=replace(scenes.REREADING.live, laid=True))
    assert names([scenes.REREADING, laid, scenes.REREADING, laid]) == ["step", "landed", "landed"]


def test_a_step_is_told_though_the_level_lay_down_as_it_came_up() -> None:
    """Who only hears would wait for ever: nothing says what is wanted of what lies there."""
    laid = replace(scenes.REREADING, live=replace(scenes.REREADING.live, laid=True))
    assert names([laid, laid, scenes.REREADING, laid]) == ["step", "landed", "landed"]
    asked = replace(laid, turnover="proof", stage="reference")
    cue = Sounding().look(asked, 0.0)
    assert cue is not None
    assert cue.name == "proof"
    assert cue.words.startswith("turn the level over, and back, if you hear me; then: ")


def test_a_level_that_lies_there_unproven_is_asked_for_its_proof_again() -> None:
    """It was turned over too fast, or not at all: nothing but a press would take it."""
    asked = replace(scenes.REREADING, turnover="proof", stage="reference")
    lies = replace(asked, live=replace(asked.live, laid=True, motion="ready"))
    assert names([asked, lies, lies, lies, lies], 4.0) == ["proof", "proof"]


def test_the_next_step_is_told_though_the_moment_is_the_same() -> None:
    assert names([scenes.REREADING, replace(scenes.REREADING, step=99)]) == ["step", "step"]


def test_a_step_that_came_up_while_a_reading_was_taken_is_told_when_the_level_is_lifted() -> None:
    lifted = replace(scenes.REREADING, step=scenes.TAKEN.step)
    assert names([scenes.TAKEN, scenes.TAKEN, lifted]) == ["taken", "step"]


@pytest.mark.parametrize("view", [scenes.ALARM, scenes.SILENT])
def test_what_must_not_be_overlooked_comes_again(view: View) -> None:
    moment = names([view])[0]
    again_s = next(one.again_s for name, one in SIGNALS.items() if name == moment)
    assert again_s is not None
    assert names([view] * 4, again_s / 2.0 + 0.1) == [moment, moment]


VOID = scenes.LYING
"""What lies there is to give no reading: the round was started over under it."""


def test_what_lies_there_and_is_void_is_not_said_to_be_taken() -> None:
    sounding = Sounding()
    sounding.hear(scenes.read_again(18.5))
    assert sounding.look(scenes.REREADING, 0.0) is not None
    cue = sounding.look(VOID, 0.1)
    assert cue == ("lay it again", "it does not count: lift the level and lay it on again")
    again = sounding.look(VOID, 7.0)
    assert again is not None
    assert again.name == "lay it again"


def test_a_reading_in_a_step_that_was_told_is_taken() -> None:
    sounding = Sounding()
    sounding.look(scenes.REREADING, 0.0)
    sounding.hear(scenes.read_again(18.5))
    cue = sounding.look(VOID, 0.1)
    assert cue is not None
    assert cue.name == "taken"
