"""The whole screen against hostile Desks, driven by the keys a person or a pedal sends."""

import asyncio
import re
from collections.abc import Sequence
from dataclasses import replace

import pytest

from shared.events import Alarm, Captured, Event, Summary
from shared.inputs import NS
from tests.tui import scenes
from tests.tui.bench import Bench, bench, until
from tests.tui.fake_desk import BreakingDesk, FakeDesk, FloodingDesk, HeldClock, refuse, stale
from tui import app as app_module
from tui.app import StillbladeApp
from tui.canvas import Canvas
from tui.ink import Line
from tui.measuring import Measuring
from tui.palettes import Palette


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
