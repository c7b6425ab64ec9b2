"""The screen of a session that has been: the ordinary one at any moment, and where that is."""

import time
from asyncio import sleep
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen

from shared.errors import BadInputError
from shared.events import REFERENCE, Alarm, Event
from shared.inputs import NS
from shared.playback import Playback
from shared.sentences import clock, sentence
from shared.view import View
from tui.canvas import Canvas
from tui.dialogs import Help
from tui.frame import keys_line
from tui.ink import Line, Span, fit, line
from tui.keys import blade_count, either_case
from tui.layout import compose
from tui.painted import FRAMES_S, Painted
from tui.playhead import Playhead, is_of, is_said
from tui.recall import Recall
from tui.shown import Shown
from tui.timeline import LEGEND, Drawn, drawn, timeline, window
from tui.uncertainty import Uncertainty

SLICE = 100
"""Inputs folded between two looks at the keys: a few milliseconds."""
STRIDE_NS = 10 * NS
NEAR_NS = 120 * NS
"""What the strip shows when it is brought near."""
TOLD_S = 4.0
HELP = f"""\
SPACE        play, pause
↑  ↓         faster, slower
→  ←         the next event, the one before
PGDN  PGUP   ten seconds on, back
A  Z         the next alarm, the one before
0 to 6       what was read or said next of this blade; 0 is the reference
HOME  END    the beginning, the end
V            two minutes of the strip, or all of it
U            where the uncertainty of an angle came from: its budget then
T            day or night colours
Q            leave

The strip has a dot where the level lay on a blade: in its middle row within
tolerance, above it too coarse, below it too fine.
{LEGEND}"""


def _key(keys: str, action: str) -> Binding:
    return Binding(either_case(keys), action, action, show=False, priority=True)


class Replaying(Screen[None]):
    """One canvas; its keys are actions of the app."""

    BINDINGS: ClassVar[list[BindingType]] = [
        _key("space,enter", "app.play"),
        _key("up", "app.faster(1)"),
        _key("down", "app.faster(-1)"),
        _key("right", "app.event(1)"),
        _key("left", "app.event(-1)"),
        _key("pagedown", "app.stride(1)"),
        _key("pageup", "app.stride(-1)"),
        _key("a", "app.alarm(1)"),
        _key("z", "app.alarm(-1)"),
        _key("home", "app.beginning"),
        _key("end", "app.end"),
        _key("v", "app.near"),
        _key("u", "app.budget"),
        _key("t", "app.palette"),
        _key("question_mark,f1", "app.keys"),
        _key("q,ctrl+q,ctrl+c", "app.leave"),
        *[_key(str(number), f"app.blade({number})") for number in range(7)],
    ]

    def __init__(self) -> None:
        """Make its canvas."""
        super().__init__()
        self.canvas = Canvas()

    def compose(self) -> ComposeResult:
        """One canvas."""
        yield self.canvas


class ReplayApp(Painted[BadInputError]):
    """Plays a session; returns what no engine could take of it, or None.

    Args:
        playback: the session.
        about: what is to be known of the record, "" for nothing.
        now_s: a clock that only moves forward, in seconds.
    """

    def __init__(
        self, playback: Playback, about: str = "", *, now_s: Callable[[], float] = time.monotonic
    ) -> None:
        self._replaying = Replaying()
        super().__init__(self._replaying.canvas)
        self._playback = playback
        self._now_s = now_s
        self._head = Playhead(playback)
        self._before_s = now_s()
        self._near = False
        self._recall = Recall()
        self._drawn: tuple[int, Drawn] | None = None
        """Up to where the session was folded when the strip was drawn, and the strip."""
        self._told: tuple[str, float] = (about, now_s() + TOLD_S)
        self._view: View = playback.view(0)

    @property
    def newest(self) -> View:
        """What was to be seen at this moment."""
        return self._view

    @property
    def recall(self) -> Recall:
        """What had been said by then."""
        return self._recall

    def get_default_screen(self) -> Replaying:
        """The one screen everything else lies over."""
        return self._replaying

    def on_mount(self) -> None:
        """Start folding and playing."""
        super().on_mount()
        self.run_worker(self._fold(), name="fold")
        self.set_interval(FRAMES_S, self._frame, name="paint")

    async def _fold(self) -> None:
        try:
            while not self._playback.complete:
                self._playback.go_on(SLICE)
                await sleep(0)
        except BadInputError as error:
            self.exit(error)

    def _frame(self) -> None:
        now_s = self._now_s()
        self._head.go_on(now_s - self._before_s)
        self._before_s = now_s
        self.paint()

    def composed(self, width: int, height: int) -> Sequence[Line]:
        """The screen of then, and the strip under it."""
        self._look()
        shown = Shown(self._view, recall=self._recall, past=True)
        return compose(shown, width, height, self._foot(width))

    def _look(self) -> None:
        """Bring view and memory to this moment."""
        head = self._head
        if self._view.t_ns != head.t_ns:
            self._view = self._playback.view(head.t_ns)
        if self._recall.last_n > head.said:
            self._recall = Recall()
        for event in self._playback.events[self._recall.last_n : head.said]:
            self._recall.hear(event)

    def _foot(self, width: int) -> list[Line]:
        strip = timeline(self._strip(width), self._head.t_ns)
        return [*strip, self._status(width), keys_line(self._offers(), width)]

    def _strip(self, width: int) -> Drawn:
        """The strip, drawn anew only where it is another: a long session has many points."""
        playback = self._playback
        near_ns = NEAR_NS if self._near else None
        over = window(self._head.t_ns, playback.reach_ns, width, near_ns)
        if self._drawn is None or (self._drawn[0], self._drawn[1].over) != (
            playback.folded_ns,
            over,
        ):
            tolerance_deg = self._view.tolerance_deg
            strip = drawn(playback.trace, playback.events, playback.folded_ns, over, tolerance_deg)
            self._drawn = (playback.folded_ns, strip)
        return self._drawn[1]

    def _status(self, width: int) -> Line:
        head, (told, until_s) = self._head, self._told
        state = f"▶ {head.speed} times" if head.playing else "‖ paused"
        of = f"{clock(head.t_ns)} of {clock(self._playback.reach_ns)}"
        words = told if told and self._now_s() < until_s else self._newest_words()
        return fit(line(Span(f" {state}  {of}  {words}", "status")), width, "status")

    def _newest_words(self) -> str:
        before = reversed(self._playback.events[: self._head.said])
        newest = next((event for event in before if is_said(event)), None)
        return f"{newest.n}: {sentence(newest.body)}" if newest else ""

    def _offers(self) -> list[tuple[str, str]]:
        alarms = any(isinstance(event.body, Alarm) for event in self._playback.events)
        return [
            ("SPACE", "pause" if self._head.playing else "play"),
            ("← →", "event"),
            ("↑ ↓", "speed"),
            *([("A", "alarm")] if alarms else []),
            (f"0-{blade_count(self._view)}", "blade"),
            ("V", "all" if self._near else "near"),
            ("U", "budget"),
            ("T", "theme"),
        ]

    def tell(self, words: str) -> None:
        """Show words for some seconds."""
        self._told = (words, self._now_s() + TOLD_S)

    def pause_at(self, t_ns: int) -> None:
        """Stand still at a moment."""
        self._head.playing = False
        self._head.move(t_ns - self._head.t_ns)

    def _jump(self, by: int, wanted: Callable[[Event], bool], what: str) -> None:
        if self._head.jump(by, wanted):
            self._told = ("", 0.0)
        elif by > 0 and not self._playback.complete:
            part = self._playback.folded_ns / max(1, self._playback.reach_ns)
            self.tell(f"no {what} in the {part:.0%} that are read so far: press again")
        else:
            self.tell(f"no {what} {'after' if by > 0 else 'before'} this moment")
        self.paint()

    def action_play(self) -> None:
        """Play or pause."""
        self._head.play()

    def action_faster(self, by: int) -> None:
        """Change the speed."""
        self._head.faster(by)

    def action_stride(self, by: int) -> None:
        """Ten seconds on or back."""
        self._head.move(by * STRIDE_NS)

    def action_event(self, by: int) -> None:
        """To the next event, or the one before."""
        self._jump(by, is_said, "event")

    def action_alarm(self, by: int) -> None:
        """To the next alarm, or the one before."""
        self._jump(by, lambda event: isinstance(event.body, Alarm), "alarm")

    def action_blade(self, number: int) -> None:
        """To what was read or said next of a blade."""
        if number > blade_count(self._view):
            self.tell(f"there is no blade {number}")
            return
        blade = number or REFERENCE
        name = f"word of blade {number}" if number else "word of the reference"
        self._jump(1, lambda event: is_of(event, blade), name)

    def action_beginning(self) -> None:
        """To the beginning."""
        self._head.move(-self._head.t_ns)

    def action_end(self) -> None:
        """To the end of what is folded."""
        self._head.move(self._playback.reach_ns)

    def action_near(self) -> None:
        """Bring the strip near, or show all of it."""
        self._near = not self._near

    def action_budget(self) -> None:
        """Show where the uncertainty came from."""
        self._head.playing = False
        self.push_screen(Uncertainty(self, past=True))

    def action_palette(self) -> None:
        """Day or night."""
        self.toggle_palette()

    def action_keys(self) -> None:
        """Show the keys."""
        self.push_screen(Help(HELP))

    def action_leave(self) -> None:
        """End."""
        self.exit()
