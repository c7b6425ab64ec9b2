"""Alarms, questions and readings are answered on the whole screen, by a press or in a dialog."""

import asyncio
from dataclasses import replace

import pytest
from textual.widgets import Input

from shared.events import Assigned, Event
from shared.wording import REASONS
from tests.tui import scenes
from tests.tui.bench import bench, until
from tests.tui.fake_desk import FakeDesk, refuse


@pytest.mark.parametrize("key", ["s", "S"])
async def test_an_alarm_is_answered_set_again(key: str) -> None:
    """The screen says S, and so do hands on Shift and a keyboard with Caps Lock on."""
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM) as it:
        assert "!! ALARM" in it.text()
        assert "last good 18.52" in it.text()
        await it.pilot.press(key)
        await it.settle()
        assert dict(desk.sent[0].args) == {"id": 3, "then": "set-again"}


async def test_a_press_meant_for_a_reading_answers_no_alarm(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An alarm begins as the finger comes down: nothing answers it for a second and a half."""
    monkeypatch.setattr("tui.measuring.TAKE_BACK_S", 0.05)
    desk = FakeDesk()
    async with bench(desk, scenes.READY) as it:
        desk.push(scenes.ALARM)
        await it.settle()
        for key in ("space", "s", "g", "c"):
            await it.pilot.press(key)
            await asyncio.sleep(0.1)
            await it.settle()
            assert desk.sent == []
            assert not it.app.screen.is_modal
            it.clock.now_s += 0.3
        assert "look first" in it.text() or "no alarm is open that says" in it.text()
        it.clock.now_s += 1.0
        await it.pilot.press("space")
        await until(lambda: len(desk.sent) == 1)
        assert dict(desk.sent[0].args) == {"id": 3, "then": "set-again"}


async def test_a_press_takes_the_reading_while_an_alarm_waits_for_the_round() -> None:
    """The screen says PLACE IT: a press must mean that, and not answer for another blade."""
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM_WAITS) as it:
        await it.pilot.press("space")
        await it.settle()
        assert [each.kind for each in desk.sent] == ["take"]
        assert it.app.answering.pending is None


async def test_a_second_press_takes_the_answer_back() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM) as it:
        await it.pilot.press("space")
        await it.settle()
        assert "blade 1 will be set again, in 5 s: press again to take it back" in it.text()
        it.clock.now_s += 2
        await it.pilot.press("space")
        await it.settle()
        assert "taken back" in it.text()
        assert it.app.answering.pending is None
        assert desk.sent == []


async def test_a_press_says_that_a_questioned_reading_is_right_and_c_the_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tui.measuring.TAKE_BACK_S", 0.05)
    for key, args in (("space", {"id": 5}), ("c", {"id": 5, "sense": "reversed"})):
        desk = FakeDesk()
        async with bench(desk, scenes.QUESTION) as it:
            await it.pilot.press(key)
            await until(lambda it=desk: len(it.sent) == 1)  # type: ignore[misc]
            assert (desk.sent[0].kind, dict(desk.sent[0].args)) == ("confirm", args)


async def test_name_and_reason_are_picked_by_a_number() -> None:
    desk = FakeDesk()
    view = replace(scenes.ALARM, people=("Ada Merrow", "Tomas Quill"))
    async with bench(desk, view) as it:
        await it.typed("c")
        assert "1 Ada Merrow   2 Tomas Quill" in it.text()
        it.keys("2", "enter")
        await it.settle()
        it.keys("1", "enter")
        await it.settle()
        assert dict(desk.sent[0].args) == {
            "id": 3,
            "then": "accept",
            "by": "Tomas Quill",
            "reason": REASONS[0],
        }


async def test_accepting_an_alarm_wants_name_and_reason() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM) as it:
        await it.pilot.press("c")
        await it.settle()
        await it.pilot.press("enter", "enter", "pagedown")
        assert desk.sent == []
        it.keys(*"Ann", "enter")
        await it.settle()
        it.keys(*"play", "enter")
        await it.settle()
        (sent,) = desk.sent
        assert sent.kind == "acknowledge"
        assert dict(sent.args) == {"id": 3, "then": "accept", "by": "Ann", "reason": "play"}


async def test_the_live_number_stays_in_sight_behind_a_dialog() -> None:
    async with bench(FakeDesk(), scenes.ALARM) as it:
        await it.pilot.press("c")
        await it.settle()
        assert "!! ALARM" in it.text()
        assert "Your name" in it.text()
        it.clock.now_s += 5
        await it.settle()
        assert it.app.screen.is_modal


def readings(count: int) -> list[Event]:
    """As many readings, of blades 1 to 3 in turn."""
    first = scenes.read_again(18.0)
    bodies = [
        replace(first, id=n, blade=1 + n % 3, angle_deg=18 + n / 100) for n in range(1, count + 1)
    ]
    return scenes.told(*bodies)


async def test_withdrawing_asks_which_reading() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press("w")
        await it.settle()
        assert "there is no reading yet that counts" in it.text()
        desk.tell(*readings(3))
        await it.settle()
        await it.pilot.press("w")
        await it.settle()
        assert "   2  18.02°  blade 3 (blue), final" in it.text()
        await it.pilot.press("escape", "w")
        await it.typed("enter", *"slipped", "enter")
        (sent,) = desk.sent
        assert sent.kind == "withdraw"
        assert dict(sent.args) == {"id": 3, "reason": "slipped"}, "the newest, unless another"


async def test_any_reading_can_be_withdrawn_or_given_to_another_blade() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        desk.tell(*readings(20))
        await it.settle()
        it.keys("w")
        await it.settle()
        assert "10 older ones by their numbers" in it.text()
        assert "Its number" in it.text()
        assert "Why" in it.text(), "the whole dialog is on 24 rows"
        await it.typed("4", "enter", *"bumped", "enter")
        await it.typed("m", "7", "enter", "3", "enter")
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [
            ("withdraw", {"id": 4, "reason": "bumped"}),
            ("assign", {"id": 7, "blade": "3"}),
        ]
        await it.typed("w", "x", "enter", *"why", "enter")
        assert "'x' is no number of a reading" in it.text()


async def test_a_reading_of_another_blade_is_listed_as_that_blade() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        desk.tell(*readings(2), Event(3, 10**12, Assigned(2, 1, 3)))
        await it.settle()
        await it.pilot.press("m")
        await it.settle()
        assert "   2  18.02°  blade 1 (red), final" in it.text()


async def test_a_question_is_confirmed_by_its_number() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press("y")
        await it.settle()
        assert "no question is open" in it.text()
        desk.push(scenes.QUESTION)
        desk.tell(*scenes.ASKED)
        await it.settle()
        assert "it is right" in it.text()
        it.clock.now_s += 2
        await it.pilot.press("y")
        await it.settle()
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [("confirm", {"id": 5})]


async def test_a_question_may_be_answered_with_the_level_turned() -> None:
    desk = FakeDesk(refuse)
    async with bench(desk, scenes.QUESTION) as it:
        await it.pilot.press("r")
        await it.settle()
        assert dict(desk.sent[0].args) == {"id": 5, "sense": "reversed"}
        desk.push(replace(scenes.QUESTION, t_ns=scenes.SET.t_ns + 1, question=None))
        await it.settle()
        assert "level turned end for end" not in it.text()


async def test_a_held_blade_is_set_again_by_its_number() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press("e")
        it.keys("1", "enter")
        await it.settle()
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [("set", {"blade": "1"})]


async def test_a_note_may_hold_the_letters_that_are_keys() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press("n")
        it.keys(*"baqtd", "space", *"w1", "enter")
        await it.settle()
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [("note", {"text": "baqtd w1"})]


async def test_two_quick_enters_answer_once() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.typed("n", "h", "i")
        it.keys("enter", "enter", "enter")
        await it.settle()
        await it.settle()
        assert [one.kind for one in desk.sent] in (["note"], ["note", "take"])
        assert it.app.return_value is None


async def test_an_open_alarm_is_called_above_the_page_of_keys_as_soon_as_it_is_there() -> None:
    """The page fills 24 rows: whoever reads it while a blade is called must not miss that."""
    desk = FakeDesk()
    async with bench(desk, scenes.SET) as it:
        await it.typed("question_mark")
        assert "ALARM" not in it.text()
        desk.push(replace(scenes.ALARM, t_ns=scenes.SET.t_ns + 1))
        await it.settle()
        assert "!! ALARM  BLADE 1  red: MOVED" in it.text()
        assert "ESC, then answer it" in it.text()
        assert "any key closes this" in it.text(), "the page still fits"
        await it.typed("escape")
        assert "answer:  S = set again" in it.text()


async def test_enter_on_nothing_says_that_something_is_wanted() -> None:
    """The dialog stayed as it was, and nobody said why."""
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM) as it:
        await it.typed("c")
        assert "nothing stands there yet" not in it.text()
        await it.typed("enter")
        assert "nothing stands there yet: type it   ESC leaves it as it was" in it.text()
        assert desk.sent == []


DIALOGS = {
    "w": "Withdraw a reading?",
    "m": "A reading is of another blade",
    "e": "Set a held blade again",
    "i": "Look again at what?",
    "n": "Note for the record",
    "h": "Who works from here?",
    "z": "End here?",
    "x": "Abandon this job?",
    "q": "Leave the screen?",
    "c": "Accept:",
}


def flat(text: str) -> str:
    """The words of a screen in one row."""
    return " ".join(text.replace("┃", " ").split())


SIZES = [(80, 24), (120, 36), (40, 12), (220, 60)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("key", DIALOGS)
async def test_no_dialog_hides_an_alarm_or_what_is_typed(key: str, size: tuple[int, int]) -> None:
    """A list of twelve readings covered the alarm on 24 rows; on 12 the line to type in was cut."""
    desk = FakeDesk()
    view = replace(scenes.ALARM, people=("Ada Merrow", "Tomas Quill"))
    async with bench(desk, view, size) as it:
        desk.tell(*readings(20))
        await it.typed(key)
        text = it.text()
        assert DIALOGS[key] in flat(text)
        assert "!! ALARM  BLADE 1" in text
        assert "MOVED" in text
        assert ("ESC" in text) == (key != "q")
        assert text.splitlines()[-1].count("┗━━") == 1, "whole down to its lower edge"
        boxes = [box for box in it.app.screen.query(Input) if box.region.height]
        assert len(boxes) >= (key != "q")
        for box in boxes:
            assert box.region.bottom < size[1], "to be seen"
        assert any(box.has_focus for box in boxes) or key == "q"


async def test_an_alarm_that_begins_behind_a_dialog_is_called_in_it() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.SET) as it:
        await it.typed("x")
        assert "ALARM" not in it.text()
        desk.push(replace(scenes.ALARM, t_ns=scenes.SET.t_ns + 1))
        await it.settle()
        assert "!! ALARM  BLADE 1  red: MOVED" in it.text()
        assert "ESC, then answer it" in it.text()


async def test_whoever_accepts_is_not_told_to_leave_and_answer() -> None:
    async with bench(FakeDesk(), scenes.ALARM) as it:
        await it.typed("c")
        assert "!! ALARM  BLADE 1  red: MOVED" in it.text()
        assert "then answer it" not in it.text()


async def test_an_alarm_is_accepted_on_forty_columns_and_twelve_rows() -> None:
    """Both fields did not fit: the second was typed without being seen."""
    desk = FakeDesk()
    view = replace(scenes.ALARM, people=("Ada Merrow", "Tomas Quill"))
    async with bench(desk, view, (40, 12)) as it:
        await it.typed("c")
        assert "1 Ada Merrow 2 Tomas Quill" in flat(it.text())
        await it.typed("1", "enter")
        assert "4 known, and watched" in flat(it.text())
        await it.typed("2")
        assert " 2 " in it.text()
        await it.typed("enter")
        assert dict(desk.sent[0].args)["by"] == "Ada Merrow"
        assert dict(desk.sent[0].args)["reason"] == REASONS[1]


async def test_a_dialog_follows_a_terminal_that_changes_its_size() -> None:
    async with bench(FakeDesk(), scenes.ALARM) as it:
        await it.typed("c")
        await it.pilot.resize_terminal(40, 12)
        await it.settle()
        assert it.text().splitlines()[-1].count("┗━━") == 1
        assert "!! ALARM" in it.text()
        await it.pilot.resize_terminal(80, 24)
        await it.settle()
        assert "Why it may stay as it is" in it.text()
        assert "Your name" in it.text()


@pytest.mark.parametrize(("key", "kind"), [("z", "end"), ("x", "abandon")])
async def test_who_ends_a_job_is_picked_from_its_people(key: str, kind: str) -> None:
    desk = FakeDesk()
    view = replace(scenes.SET, people=("Ada Merrow", "Tomas Quill"))
    async with bench(desk, view) as it:
        await it.typed(key)
        assert "1 Ada Merrow   2 Tomas Quill" in it.text()
        await it.typed("2", "enter", *"rain", "enter")
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [
            (kind, {"by": "Tomas Quill", "reason": "rain"})
        ]


@pytest.mark.parametrize("key", ["m", "e", "i"])
async def test_whoever_names_a_blade_sees_their_marks(key: str) -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.SET) as it:
        desk.tell(*readings(2))
        await it.typed(key)
        assert "1 red 2 white 3 blue" in flat(it.text())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("played", [False, True])
async def test_the_page_of_keys_says_how_to_close_it_at_every_size(
    size: tuple[int, int], played: bool
) -> None:
    """On twelve rows it ended in the middle, without a way out."""
    async with bench(FakeDesk(), scenes.ALARM, size, do=str if played else None) as it:
        await it.typed("question_mark")
        assert "any key closes this" in it.text()
        assert "!! ALARM  BLADE 1" in it.text()
        assert it.text().splitlines()[-1].count("┗━━") == 1
        if size != (40, 12):
            assert "leave the screen" in it.text()
        await it.typed("y")
        assert "any key closes this" not in it.text()


async def test_a_pick_stays_in_one_piece() -> None:
    view = replace(scenes.ALARM, people=("Ada Merrow", "Tomas Quill"))
    async with bench(FakeDesk(), view, (40, 12)) as it:
        await it.typed("c")
        assert "2 Tomas Quill" in it.text(), "not in two rows"
    async with bench(FakeDesk(), view) as it:
        await it.typed("i")
        assert "2 white" in it.text(), "not in two rows"


async def test_on_twelve_rows_the_newest_readings_are_still_listed() -> None:
    """Both fields were there, and nothing to choose from."""
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM, (40, 12)) as it:
        desk.tell(*readings(20))
        await until(lambda: len(it.app.recall.readings) == 20)
        await it.typed("w")
        assert "20  18.20°  blade 3 (blue), final" in it.text()
        await it.typed("enter", *"slipped", "enter")
        (sent,) = desk.sent
        assert dict(sent.args) == {"id": 20, "reason": "slipped"}
