"""A session again, on the screen: plays, pauses, jumps; what is shown is what was shown then."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from functools import cache

import pytest
from textual.pilot import Pilot

import tui.replaying
from daemon.session.playback import FoldedPlayback
from daemon.session.recording import Recording
from shared.errors import BadInputError
from shared.events import REFERENCE, Alarm, Captured, Event
from shared.inputs import NS
from shared.playback import Point
from shared.sentences import clock
from tests.simulated import simulated
from tests.tui import scenes
from tests.tui.fake_desk import HeldClock
from tui.ink import plain, width_of
from tui.playhead import SPEEDS, Playhead, is_of, is_said
from tui.replaying import NEAR_NS, ReplayApp
from tui.timeline import LEAD, TAIL, timeline, window
from tui.timeline import drawn as strip

SIZES = ((80, 24), (120, 36))


def recording() -> Recording:
    """A job in which blade 1 is knocked while blade 3 is set."""
    return simulated("default", 2).recording


def folded() -> FoldedPlayback:
    it = FoldedPlayback(recording())
    it.go_on(len(recording().inputs) + 1)
    assert it.complete
    return it


@cache
def shared_playback() -> FoldedPlayback:
    """One for the tests that only look: where it was looked at last changes no view."""
    return folded()


class Bench:
    """A replay on a clock that is turned by hand."""

    def __init__(self, playback: FoldedPlayback) -> None:
        self.clock = HeldClock()
        self.app = ReplayApp(playback, now_s=self.clock)
        self.pilot: Pilot[BadInputError]

    async def press(self, *keys: str) -> str:
        await self.pilot.press(*keys)
        return await self.text()

    async def text(self) -> str:
        self.app._frame()
        await self.pilot.pause()
        strips = self.app.screen._compositor.render_strips(self.app.size)
        return "\n".join(strip.text.rstrip() for strip in strips)


@asynccontextmanager
async def bench(
    size: tuple[int, int] = (80, 24), playback: FoldedPlayback | None = None
) -> AsyncIterator[Bench]:
    it = Bench(playback or shared_playback())
    async with it.app.run_test(size=size) as pilot:
        it.pilot = pilot
        await it.text()
        yield it


def status(text: str) -> str:
    return text.splitlines()[-2]


# --- where one is --------------------------------------------------------------------------------


def test_time_goes_on_as_fast_as_it_is_asked_to() -> None:
    head = Playhead(folded())
    head.go_on(0.5)
    assert head.t_ns == 5 * NS, "ten times as fast, unless asked otherwise"
    head.faster(1)
    head.go_on(1.0)
    assert head.t_ns == 35 * NS
    head.faster(-99)
    assert head.speed == SPEEDS[0]
    head.play()
    head.go_on(10.0)
    assert head.t_ns == 35 * NS, "paused"


def test_it_ends_at_the_end_and_begins_again() -> None:
    head = Playhead(folded())
    head.go_on(1e6)
    assert head.t_ns == head.playback.reach_ns
    assert not head.playing
    head.play()
    assert (head.t_ns, head.playing) == (0, True)


def test_it_never_leaves_what_is_folded() -> None:
    playback = FoldedPlayback(recording())
    playback.go_on(300)
    head = Playhead(playback)
    head.go_on(1e6)
    assert head.t_ns == playback.folded_ns
    assert head.playing, "it goes on once there is more"
    head.move(-(10**18))
    assert head.t_ns == 0


@pytest.mark.parametrize(
    "wanted",
    [is_said, lambda e: isinstance(e.body, Alarm), lambda e: is_of(e, 2)],
    ids=["said", "alarm", "blade 2"],
)
def test_jumps_go_to_every_such_moment_once(wanted: Callable[[Event], bool]) -> None:
    head = Playhead(folded())
    moments = sorted({e.t_ns for e in head.playback.events if wanted(e)})
    forth, back = [], []
    while head.jump(1, wanted):
        forth.append(head.t_ns)
    assert forth == [t_ns for t_ns in moments if t_ns > 0]
    assert not head.playing
    while head.jump(-1, wanted):
        back.append(head.t_ns)
    assert back == moments[-2::-1]


def test_a_blade_is_what_was_read_or_said_of_it() -> None:
    events = folded().events
    of = [event for event in events if is_of(event, 1)]
    assert {event.body.event for event in of} == {"captured", "held", "verdict", "alarm"}
    assert any(is_of(event, REFERENCE) for event in events)


# --- the strip -----------------------------------------------------------------------------------


def drawn(
    *errors: float | None, tolerance: float = 0.2, events: tuple[Event, ...] = ()
) -> list[str]:
    points = [Point(n * NS, error) for n, error in enumerate(errors)]
    over = window(0, (len(errors) - 1) * NS, LEAD + TAIL + len(errors), None)
    return plain(timeline(strip(points, events, over.last_ns, over, tolerance), 0))


def test_the_middle_row_is_the_tolerance() -> None:
    coarser, within, finer, _ = drawn(0.21, 0.19, -0.19, -0.21, 9.0, None)
    dots = [row.ljust(LEAD + 6)[LEAD : LEAD + 6] for row in (coarser, within, finer)]
    assert [[cell != " " for cell in row] for row in dots] == [
        [True, False, False, False, True, False],
        [False, True, True, False, False, False],
        [False, False, False, True, False, False],
    ]


def test_what_was_said_is_marked_and_the_worst_first() -> None:
    at = [Event(n, 3 * NS, e.body) for n, e in enumerate(recording().events, 1)]
    reading = next(e for e in at if isinstance(e.body, Captured))
    alarm = next(e for e in at if isinstance(e.body, Alarm))
    *_, scale = drawn(0.0, 0.0, 0.0, 0.0, 0.0, events=(alarm, reading))
    assert scale.split()[1] == "▲──‼─"
    *_, scale = drawn(0.0, 0.0, 0.0, 0.0, 0.0, events=(reading,))
    assert scale.split()[1] == "▲──●─"


def test_what_is_not_folded_yet_is_told_apart() -> None:
    over = window(0, 100 * NS, LEAD + TAIL + 10, None)
    *_, scale = plain(timeline(strip([], [], 50 * NS, over, 0.2), 0))
    assert scale.split() == ["0:00", "▲────░░░░░", "1:40"]


def test_near_follows_the_moment() -> None:
    assert window(0, 600 * NS, 100, NEAR_NS).first_ns == 0
    middle = window(300 * NS, 600 * NS, 100, NEAR_NS)
    assert (middle.first_ns, middle.last_ns) == (240 * NS, 360 * NS)
    assert window(600 * NS, 600 * NS, 100, NEAR_NS).last_ns == 600 * NS
    assert window(30 * NS, 60 * NS, 100, NEAR_NS).last_ns == 60 * NS, "no longer than it is"


# --- on the screen -------------------------------------------------------------------------------


async def test_it_plays_and_pauses() -> None:
    async with bench() as it:
        it.clock.now_s += 2.0
        assert "10 times  0:20 of 3:32" in status(await it.text())
        await it.press("space")
        it.clock.now_s += 5.0
        assert "paused  0:20 of 3:32" in status(await it.text())
        await it.press("pagedown", "pagedown", "pageup")
        assert "paused  0:30 of 3:32" in status(await it.text())


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_an_alarm_is_shown_as_it_was(size: tuple[int, int]) -> None:
    async with bench(size) as it:
        text = await it.press("a")
        assert "!! ALARM  BLADE 1  red: MOVED" in text
        assert "last good 21.02°" in text
        assert "answer:  S" not in text, "there is nothing to answer"
        assert "S  set again" not in text
        assert "A  alarm" in text
        assert "no alarm after this moment" in await it.press("a")
        assert "no alarm before this moment" in await it.press("z")


@pytest.mark.parametrize("size", SIZES, ids=str)
async def test_every_moment_fills_the_screen(size: tuple[int, int]) -> None:
    it = ReplayApp(shared_playback(), now_s=HeldClock())
    for share in range(21):
        it._head.t_ns = it._playback.reach_ns * share // 20
        lines = it.composed(*size)
        assert len(lines) == size[1]
        assert {width_of(row) for row in lines} == {size[0]}


async def test_the_end_is_the_result_and_home_is_the_beginning() -> None:
    async with bench() as it:
        assert "within: spread" in status(await it.press("end"))
        text = await it.press("home", "space")
        assert "0:00 of 3:32" in status(text)
        assert "within" not in status(text)


async def test_going_back_forgets_what_came_later() -> None:
    async with bench() as it:
        await it.press("a")
        said = it.app.recall.last_n
        await it.press("left", "left", "left")
        assert it.app.recall.last_n < said
        assert it.app.newest.alarms == ()
        again = ReplayApp(shared_playback(), now_s=HeldClock())
        again._head.t_ns = it.app.newest.t_ns
        again.composed(80, 24)
        assert again.recall == it.app.recall


async def test_the_budget_of_then() -> None:
    async with bench() as it:
        text = await it.press("a", "u")
        assert "uncertainty budget" in text
        assert "BLADE 1  red" in text
        assert "18.71°" in text, "the angle of then, not of the end"
        text = await it.press("escape")
        assert "uncertainty budget" not in text


async def test_a_blade_that_is_not_there_is_said() -> None:
    async with bench() as it:
        assert "there is no blade 5" in status(await it.press("5"))
        text = await it.press("home", "2")
        assert it.app.newest.t_ns > 0
        assert "blade 2, white" in status(text)


class Slow(FoldedPlayback):
    """One whose fold does not get on."""

    def go_on(self, inputs: int) -> None:
        if self.folded_ns < 20 * NS:
            super().go_on(inputs)


async def test_what_is_not_read_yet_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tui.replaying, "sleep", lambda _: asyncio.sleep(0.02))  # it reads no more
    async with bench(playback=Slow(recording())) as it:
        assert "are read so far: press again" in status(await it.press("a"))
        text = await it.press("end")
        assert "░" in text
        assert f"{clock(it.app.newest.t_ns)} of 3:32" in status(text)
        assert it.app.newest.t_ns < 30 * NS


class Broken(FoldedPlayback):
    """One with an input in it that no engine takes."""

    def go_on(self, inputs: int) -> None:
        if self.folded_ns > 10 * NS:
            raise BadInputError("session x", "", "it cannot be replayed: no such level")
        super().go_on(inputs)


async def test_a_session_that_cannot_be_folded_ends_with_its_reason() -> None:
    async with bench(playback=Broken(recording())) as it:
        await it.pilot.pause()
    error = it.app.return_value
    assert isinstance(error, BadInputError)
    assert "no such level" in str(error)


async def test_a_record_of_other_rules_says_so() -> None:
    app = ReplayApp(shared_playback(), "recorded under rules 3", now_s=HeldClock())
    assert any("recorded under rules 3" in row for row in plain(app.composed(80, 24)))


async def test_the_keys_are_explained_and_q_leaves() -> None:
    async with bench() as it:
        text = await it.press("question_mark")
        assert "the next alarm, the one before" in text
        await it.press("x")
        await it.pilot.press("q")
    assert it.app.return_code == 0


def test_an_open_question_has_no_keys_in_a_replay() -> None:
    from tui.frame import banner
    from tui.shown import Shown

    asked = Shown(replace(scenes.QUESTION))
    assert any("answer:" in row for row in plain(banner(asked, 80)))
    assert not any("answer:" in row for row in plain(banner(replace(asked, past=True), 80)))
