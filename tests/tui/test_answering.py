"""What a press answers, and when it answers nothing. Times in seconds."""

from dataclasses import replace

import pytest

from shared.pauses import LOOK_S
from shared.view import View
from tests.tui import scenes
from tui.answering import Answering, offered


@pytest.mark.parametrize(
    ("view", "args"),
    [
        (scenes.SET, None),
        (scenes.ALARM, {"id": 3, "then": "set-again"}),
        (replace(scenes.ALARM, alarms=(replace(scenes.MOVED, settable=False),)), None),
        (
            replace(scenes.ALARM, alarms=(replace(scenes.MOVED, partner=3),)),
            {"id": 3, "then": "exchange"},
        ),
        (scenes.QUESTION, {"id": 5}),
        (replace(scenes.QUESTION, alarms=scenes.ALARM.alarms), {"id": 5}),
    ],
)
def test_the_offered_answer(view: View, args: dict[str, object] | None) -> None:
    found = offered(view)
    assert (found.args if found else None) == args


def test_an_alarm_that_waits_for_the_round_is_answered_by_no_press() -> None:
    """What is largest then is the reading or the work: a press means that."""
    assert offered(scenes.ALARM_WAITS) is None
    assert offered(replace(scenes.QUESTION, alarms=(scenes.MOVED,))) is not None
    watching = offered(replace(scenes.WATCHING, alarms=(scenes.MOVED,)))
    assert watching is not None
    assert watching.kind == "acknowledge"


def test_an_alarm_that_begins_to_call_is_looked_at_first() -> None:
    """The press of the last reading of a round must not answer what the round said before."""
    waiting = Answering()
    waiting.look(scenes.ALARM_WAITS, 0.0)
    waiting.look(scenes.ALARM_WAITS, 5.0)
    waiting.look(scenes.ALARM, 10.0)
    assert waiting.too_soon(10.0 + LOOK_S - 0.01)


def test_a_set_that_is_out_names_the_blades_to_set_again() -> None:
    alarm = replace(scenes.MOVED, kind="out", blades=(1, 3))
    found = offered(replace(scenes.ALARM, alarms=(alarm,)))
    assert found is not None
    assert found.says == "blade 1 and blade 3 will be set again"


def test_a_question_that_wants_words_is_answered_by_no_press() -> None:
    question = scenes.QUESTION.question
    assert question is not None
    assert offered(replace(scenes.QUESTION, question=replace(question, wants="nose"))) is None


def test_what_has_just_begun_is_looked_at_first() -> None:
    waiting = Answering()
    waiting.look(scenes.SET, 0.0)
    waiting.look(scenes.ALARM, 10.0)
    assert waiting.too_soon(10.0 + LOOK_S - 0.01)
    waiting.look(scenes.ALARM, 11.0)
    assert not waiting.too_soon(10.0 + LOOK_S)


def test_who_opens_a_screen_on_an_alarm_may_answer_at_once() -> None:
    waiting = Answering()
    waiting.look(scenes.ALARM, 0.0)
    assert not waiting.too_soon(0.0)


def test_a_second_alarm_begins_anew_and_drops_what_was_pending() -> None:
    waiting = Answering()
    waiting.look(scenes.ALARM, 0.0)
    offer = offered(scenes.ALARM)
    assert offer is not None
    waiting.pending = offer
    second = replace(scenes.ALARM, alarms=(replace(scenes.MOVED, id=4),))
    waiting.look(second, 3.0)
    assert waiting.too_soon(3.1)
    assert not waiting.due(offer)


def test_an_answer_is_given_once_or_taken_back() -> None:
    waiting = Answering()
    offer = offered(scenes.ALARM)
    assert offer is not None
    assert not waiting.take_back()
    waiting.pending = offer
    assert waiting.due(offer)
    assert not waiting.due(offer)
    waiting.pending = offer
    assert waiting.take_back()
    assert not waiting.due(offer)
