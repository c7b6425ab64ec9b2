"""The whole screen against hostile Desks, driven by the keys a person or a pedal sends."""

import asyncio
import re
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from textual.events import Key
from textual.pilot import Pilot

from shared.events import Alarm, Assigned, Captured, Event, Summary
from shared.inputs import NS
from shared.view import View
from shared.wording import REASONS
from tests.tui import scenes
from tests.tui.fake_desk import BreakingDesk, FakeDesk, FloodingDesk, HeldClock, refuse, stale
from tui import app as app_module
from tui.app import Left, StillbladeApp
from tui.canvas import Canvas
from tui.ink import Line
from tui.measuring import Measuring
from tui.palettes import Palette


class Bench:
    """An app on a fake Desk with a held clock."""

    def __init__(self, desk: FakeDesk, size: tuple[int, int] = (80, 24)) -> None:
        self.desk = desk
        self.clock = HeldClock()
        self.size = size
        self.app = StillbladeApp(desk, client="test", linger_s=0.01, now_s=self.clock)
        self.pilot: Pilot[Left]
        self.bells = 0

    async def settle(self) -> None:
        await self.pilot.pause()
        self.app.paint()
        await self.pilot.pause()

    def keys(self, *keys: str) -> None:
        """Send keys as the terminal does, without waiting for what they do."""
        for key in keys:
            char = " " if key == "space" else key if len(key) == 1 else None
            self.app.post_message(Key(key, char))

    async def typed(self, *keys: str) -> None:
        """Press keys one after the other, as a person does."""
        for key in keys:
            await self.pilot.press(key)
        await self.settle()

    def text(self) -> str:
        strips = self.app.screen._compositor.render_strips(self.app.size)
        return "\n".join(strip.text.rstrip() for strip in strips)

    def ring(self) -> None:
        self.bells += 1


@asynccontextmanager
async def bench(
    desk: FakeDesk, view: View | None = scenes.SET, size: tuple[int, int] = (80, 24)
) -> AsyncIterator[Bench]:
    made = Bench(desk, size)
    made.app.bell = made.ring  # type: ignore[method-assign]
    async with made.app.run_test(size=made.size) as pilot:
        made.pilot = pilot
        if view is not None:
            desk.push(view)
        await made.settle()
        yield made
        if made.app._exit_renderables == [] and made.app.return_value is None:
            made.app.exit()


async def test_a_held_pedal_takes_once() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.READY) as it:
        await it.pilot.press("pagedown")
        it.clock.now_s += 0.66  # the longest usual pause before a key repeats
        for _ in range(60):
            it.keys("pagedown")
            await asyncio.sleep(0)
            it.clock.now_s += 1 / 30
        await it.settle()
        assert [one.kind for one in desk.sent] == ["take"]
        it.clock.now_s += 1.0
        await it.pilot.press("pagedown")
        await it.settle()
        assert [one.kind for one in desk.sent] == ["take", "take"]


@pytest.mark.parametrize("key", ["space", "enter", "pagedown", "down", "right"])
async def test_every_take_key_says_what_it_had_seen(key: str) -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.READY) as it:
        await it.pilot.press(key)
        await it.settle()
        (sent,) = desk.sent
        assert (sent.kind, sent.client, sent.seen) == ("take", "test", scenes.READY.seen)
        assert sent.until == scenes.READY.t_ns + 2 * NS
        assert len(sent.id) == 32


async def test_the_take_key_says_done_while_hands_work() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.TIGHTEN) as it:
        await it.pilot.press("enter")
        await it.settle()
        assert [one.kind for one in desk.sent] == ["done"]
        assert desk.sent[0].until is None


@pytest.mark.parametrize(
    ("key", "kind", "args"),
    [
        ("d", "done", {}),
        ("a", "again", {}),
        ("b", "back", {}),
        ("pageup", "back", {}),
        ("0", "name", {"blade": 0}),
        ("3", "name", {"blade": 3}),
    ],
)
async def test_keys_and_commands(key: str, kind: str, args: dict[str, int]) -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press(key)
        await it.settle()
        assert [(one.kind, dict(one.args)) for one in desk.sent] == [(kind, args)]


async def test_a_blade_that_is_not_there_is_not_named() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.pilot.press("5")
        await it.settle()
        assert desk.sent == []
        assert "there is no blade 5" in it.text()


async def test_a_stale_number_is_never_shown_live() -> None:
    desk = FakeDesk()
    async with bench(desk, replace(scenes.SET, levels=(scenes.level(age_s=0.3),))) as it:
        assert "0.42 too fine" in it.text()
        it.clock.now_s += 0.65
        await it.settle()
        assert "0.42 too fine" in it.text()
        it.clock.now_s += 0.1
        await it.settle()
        assert "0.42 too fine" not in it.text()
        assert "no signal for 1 s" in it.text()
        assert "SILENT" in it.text()


async def test_views_that_repeat_one_moment_do_not_keep_a_number_alive() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        for _ in range(20):
            it.clock.now_s += 0.1
            desk.push(scenes.SET)
        await it.settle()
        assert "0.42 too fine" not in it.text()


async def until(reached: Callable[[], bool]) -> None:
    async with asyncio.timeout(30):
        while not reached():  # noqa: ASYNC110 - nothing but the condition tells
            await asyncio.sleep(0)


async def test_a_flood_of_views_leaves_keys_and_painting_alive() -> None:
    desk = FloodingDesk(scenes.READY)
    async with bench(desk, None) as it:
        desk.start.set()
        await until(lambda: desk.given > 500)
        it.keys("space")
        await until(lambda: bool(desk.sent))
        at_press = desk.sent[0].until
        assert at_press is not None
        assert at_press > scenes.READY.t_ns + 2 * NS
        desk.start.clear()
        await it.settle()
        newest = it.app.newest
        assert newest is not None
        assert newest.t_ns == scenes.READY.t_ns + desk.given * 5_000_000
        assert "within tolerance: press" in it.text()


async def test_painting_follows_the_clock_and_not_the_flood() -> None:
    desk = FloodingDesk(scenes.READY)
    async with bench(desk, None) as it:
        painted = 0
        show = it.app.screen.query_one(Canvas).show

        def counted(lines: Sequence[Line], palette: Palette) -> None:
            nonlocal painted
            painted += 1
            show(lines, palette)

        it.app.screen.query_one(Canvas).show = counted  # type: ignore[method-assign]
        began = asyncio.get_running_loop().time()
        desk.start.set()
        await until(lambda: desk.given > 1000)
        desk.start.clear()
        assert painted <= (asyncio.get_running_loop().time() - began) * 20 + 2


async def test_a_stale_answer_is_said_and_then_goes_away() -> None:
    desk = FakeDesk(stale)
    async with bench(desk, scenes.READY) as it:
        await it.pilot.press("space")
        await it.settle()
        assert "the step had already changed: nothing was done" in it.text()
        it.clock.now_s += 6
        await it.settle()
        assert "already changed" not in it.text()


async def test_a_refusal_comes_with_its_reason() -> None:
    async with bench(FakeDesk(refuse), scenes.READY) as it:
        await it.pilot.press("space")
        await it.settle()
        assert "not done: the level is still in your hand" in it.text()


async def test_a_desk_that_never_answers_is_not_waited_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(app_module, "ANSWER_S", 0.01)
    async with bench(FakeDesk(None), scenes.READY) as it:
        await it.pilot.press("space")
        await asyncio.sleep(0.05)
        await it.settle()
        assert "no answer to take" in it.text()
        assert "look before you repeat" in it.text()


async def test_an_alarm_is_answered_set_again() -> None:
    desk = FakeDesk()
    async with bench(desk, scenes.ALARM) as it:
        assert "!! ALARM" in it.text()
        assert "last good 18.52" in it.text()
        await it.pilot.press("s")
        await it.settle()
        assert dict(desk.sent[0].args) == {"id": 3, "then": "set-again"}


async def test_a_press_meant_for_a_reading_answers_no_alarm(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An alarm begins as the finger comes down: nothing answers it for a second and a half."""
    monkeypatch.setattr("tui.measuring.CANCEL_S", 0.05)
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
    monkeypatch.setattr("tui.measuring.CANCEL_S", 0.05)
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
        assert "    2  blade 3      18.02°  final" in it.text()
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
        assert "8 older ones by their numbers" in it.text()
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
        assert "    2  blade 1      18.02°" in it.text()


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


async def test_quitting_asks_while_the_job_is_open() -> None:
    async with bench(FakeDesk()) as it:
        await it.pilot.press("q")
        await it.settle()
        assert "The job is not finished" in it.text()
        await it.pilot.press("enter", "pagedown", "space")
        assert it.app.screen.is_modal
        await it.pilot.press("n")
        await it.settle()
        assert it.app.return_value is None
        await it.pilot.press("q", "y")
        await it.settle()
        assert it.app.return_value == "quit"


async def test_quitting_a_finished_job_does_not_ask() -> None:
    async with bench(FakeDesk(), scenes.FINISHED) as it:
        await it.pilot.press("q")
        await it.settle()
        assert it.app.return_value == "quit"


async def until_exit(it: Bench) -> None:
    await until(lambda: it.app.return_value is not None)


@pytest.mark.parametrize("key", ["space", "q"])
async def test_the_end_stays_until_a_key(key: str) -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        desk.push(scenes.FINISHED)
        desk.tell(*scenes.SUMMED)
        for _ in range(5):
            await it.settle()
        assert it.app.return_value is None
        assert "SPACE  leave" in it.text()
        await it.pilot.press(key)
        await until_exit(it)
        assert it.app.return_value == "finished"
        assert not [one for one in desk.sent if one.kind in {"take", "done"}]


async def test_an_abandoned_job_says_do_not_fly() -> None:
    body = Summary("abandoned, do not fly", [], None, None, None, None, [], [3], 4)
    desk = FakeDesk()
    made = Bench(desk)
    made.app._linger_s = 3600
    async with made.app.run_test(size=(80, 24)) as made.pilot:
        desk.push(scenes.SET)
        desk.tell(Event(1, NS, body))
        await made.settle()
        assert "ABANDONED, DO NOT FLY." in made.text()
        made.app.exit()


async def test_events_that_break_off_end_the_screen_as_lost() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        desk.tell(*scenes.HISTORY, None)
        await until_exit(it)
        assert it.app.return_value == "lost"


async def test_views_that_fail_end_the_screen_as_lost() -> None:
    desk = BreakingDesk()
    async with bench(desk) as it:
        desk.push(None)
        await until_exit(it)
        assert it.app.return_value == "lost"


async def test_bells_ring_for_news_and_not_for_history() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        desk.tell(*scenes.HISTORY)
        await it.settle()
        assert it.bells == 0
        captured = scenes.HISTORY[2].body
        assert isinstance(captured, Captured)
        desk.tell(Event(7, 130 * NS, captured))
        await it.settle()
        assert it.bells == 1
        desk.tell(Event(8, 131 * NS, Alarm(3, 1, "moved", 18.52, "moved")))
        await until(lambda: it.bells >= 4)
        assert it.bells == 4


async def test_a_key_silences_what_is_heard_and_lets_it_be_heard_again() -> None:
    muted: list[bool] = []
    app = StillbladeApp(FakeDesk(), mute=muted.append)
    rung: list[int] = []
    async with app.run_test(size=(80, 24)) as pilot:
        app.bell = lambda: rung.append(1)  # type: ignore[method-assign]
        await pilot.press("v")
        app._ring(scenes.read_again(18.0))
        assert (muted, rung) == ([True], [])
        await pilot.press("v")
        app._ring(scenes.read_again(18.0))
        assert (muted, rung) == ([True, False], [1])


async def test_the_theme_key_changes_every_colour() -> None:
    async with bench(FakeDesk()) as it:
        before = it.app.export_screenshot()
        await it.pilot.press("t")
        await it.settle()
        assert it.app.export_screenshot() != before
        assert it.app.theme == "day"


async def test_before_the_first_view_keys_do_nothing() -> None:
    desk = FakeDesk()
    async with bench(desk, None) as it:
        assert "waiting for the session" in it.text()
        await it.pilot.press("space", "d", "3", "s")
        await it.settle()
        assert desk.sent == []


async def test_two_quick_keys_close_the_help_once() -> None:
    async with bench(FakeDesk()) as it:
        await it.pilot.press("question_mark")
        it.keys("space", "space", "x")
        await it.settle()
        await it.settle()
        assert it.app.return_value is None
        assert "any key closes this" not in it.text()


async def test_two_quick_enters_answer_once() -> None:
    desk = FakeDesk()
    async with bench(desk) as it:
        await it.typed("n", "h", "i")
        it.keys("enter", "enter", "enter")
        await it.settle()
        await it.settle()
        assert [one.kind for one in desk.sent] in (["note"], ["note", "take"])
        assert it.app.return_value is None


async def test_a_moment_is_explained_where_there_is_nothing_else_to_say() -> None:
    desk, words = FakeDesk(), ["the alarm stands 12 s for you"]
    app = StillbladeApp(desk, now_s=HeldClock(), about=lambda: words[0])
    async with app.run_test(size=(80, 24)) as pilot:
        desk.push(scenes.ALARM)
        await pilot.pause()

        def row() -> str:
            app.paint()
            return "".join(span.text for span in app.composed(80, 24)[-2])

        assert "the alarm stands 12 s for you" in row()
        app.tell("no question is open")
        assert "no question is open" in row(), "an answer comes first"
        words[0] = ""
        app.exit()


async def test_the_page_of_keys_explains_every_key_and_word_on_24_rows() -> None:
    async with bench(FakeDesk()) as it:
        await it.typed("question_mark")
        text = it.text()
    first, last = "SPACE ENTER", "any key closes this"
    assert first in text
    assert last in text
    assert "could hide:" in text
    for binding in Measuring.BINDINGS:
        for key in getattr(binding, "key", "").split(","):
            if key.isalpha() and len(key) == 1:
                assert re.search(rf"\b{key.upper()}\b", text), key
