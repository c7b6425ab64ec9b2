"""The terminal application: listens to a Desk, paints twenty times a second, asks the Desk."""

import time
from asyncio import sleep, timeout
from collections.abc import Callable, Sequence
from typing import Literal
from uuid import uuid4

from textual.worker import Worker, WorkerState

from shared.desk import Desk
from shared.events import Alarm, Answered, Body, Captured, Summary
from shared.hands import Do
from shared.inputs import Command, CommandKind
from shared.sentences import answer_words
from shared.view import View
from tui.answering import Answering
from tui.frame import over_words
from tui.ink import Line
from tui.keys import command
from tui.layout import compose
from tui.measuring import Args, Measuring
from tui.painted import FRAMES_S, Painted
from tui.playing import Playing
from tui.recall import Recall
from tui.shown import Shown

ANSWER_S = 5.0
STATUS_S = 5.0
BELL_GAP_S = 0.25
Left = Literal["quit", "finished", "lost"]
"""How the screen ended: by the quit key, after the Summary, or because the Desk fell silent."""


class StillbladeApp(Painted[Left]):
    """The screen of one session.

    Args:
        desk: all it is given.
        client: name under which its commands are recorded.
        linger_s: how long the last screen stays where the session broke off; after its end it
            stays until a key.
        now_s: a clock that only moves forward, in seconds.
        about: a line that explains this moment where there is nothing else to say, "" for none.
        do: has the hands of a demo that is played do something; their keys are then bound.
        mute: told whether what sounds beside the screen is to be silent.
        leaving: what becomes of a job that is not finished, for whoever is about to leave.
    """

    def __init__(
        self,
        desk: Desk,
        *,
        client: str = "terminal",
        linger_s: float = 8.0,
        now_s: Callable[[], float] = time.monotonic,
        about: Callable[[], str] = str,
        do: Do | None = None,
        mute: Callable[[bool], object] = bool,
        leaving: str = "everything is on record",
    ) -> None:
        self._measuring = Playing(self, now_s, do) if do else Measuring(self, now_s)
        super().__init__(self._measuring.canvas)
        self._desk = desk
        self._client = client
        self._linger_s = linger_s
        self._now_s = now_s
        self._about = about
        self._mute = mute
        self._leaving = leaving
        self._muted = False
        self._view: View | None = None
        self._painted = self._behind = False
        """Whether this frame has its picture already, and whether a newer view came after it."""
        self._advanced_s = now_s()
        self._recall = Recall()
        self._answering = Answering()
        self._heard_before: int | None = None
        self._status: tuple[str, Literal["good", "bad"], float] = ("", "good", 0.0)
        self._over = ""
        self._how: Left = "quit"

    @property
    def over(self) -> bool:
        """The session has ended, or broke off: there is nothing more to do but to look."""
        return bool(self._over)

    @property
    def leaving(self) -> str:
        """What becomes of the job when its screen is left."""
        return self._leaving

    @property
    def newest(self) -> View | None:
        """The newest view the Desk gave."""
        return self._view

    @property
    def answering(self) -> Answering:
        """Since when something waits for an answer, and one that may be taken back."""
        return self._answering

    @property
    def recall(self) -> Recall:
        """What was heard so far."""
        return self._recall

    def get_default_screen(self) -> Measuring:
        """The one screen everything else lies over."""
        return self._measuring

    def on_mount(self) -> None:
        """Start listening and painting."""
        super().on_mount()
        self.run_worker(self._look(), name="views", exit_on_error=False)
        self.run_worker(self._listen(), name="events", exit_on_error=False)
        self.set_interval(FRAMES_S, self._frame, name="paint")

    async def _look(self) -> None:
        async for view in self._desk.views():
            if self._view is None or view.t_ns > self._view.t_ns:
                self._advanced_s = self._now_s()
            if self._heard_before is None:
                self._heard_before = view.seen
            self._view = view
            self._answering.look(view, self._now_s())
            self._picture()
            await sleep(0)  # a Desk that never waits must not starve keys and painting

    async def _listen(self) -> None:
        async for event in self._desk.events(0):
            fresh = self._heard_before is not None and event.n > self._heard_before
            self._recall.hear(event)
            if fresh:
                self._ring(event.body)
            if isinstance(event.body, Summary):
                self._end("finished", over_words(event.body))
            await sleep(0)
        self._end("lost", "The session broke off: no more comes from it.")

    def toggle_sound(self) -> None:
        """Silence everything that is heard, the bell too, or let it be heard again."""
        self._muted = not self._muted
        self._mute(self._muted)
        self.tell("sound off: V lets it be heard again" if self._muted else "sound on", "good")
        if self._muted and self._view is not None and "unheard" in self._view.offers:
            self.order("unheard", {"reason": "sound off"})

    def _ring(self, body: Body) -> None:
        if self._muted:
            return
        if isinstance(body, Captured):
            self.bell()
        if isinstance(body, Alarm):
            self.bell()
            for again in (1, 2):
                self.set_timer(again * BELL_GAP_S, self.bell)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Say so when the Desk failed; a bare end of views is not the end of the session."""
        if event.state is not WorkerState.ERROR:
            return
        if event.worker.name in {"views", "events"}:
            self._end("lost", f"The session broke off: {event.worker.error}")
        else:
            self.tell(f"not done: {event.worker.error}")

    def _end(self, how: Left, words: str) -> None:
        if self._over:
            return
        self._over, self._how = words, how
        if how != "finished":
            self.set_timer(self._linger_s, self.leave, name="linger")

    def _picture(self) -> None:
        """Paint a view as it comes, once a frame: one that waits for its frame is a frame older."""
        if self._painted:
            self._behind = True
            return
        self.paint()
        self._painted = True

    def _frame(self) -> None:
        """Paint where no view came, for words end and numbers die also in silence, or too many."""
        if self._painted and not self._behind:
            self._painted = False
            return
        self.paint()
        self._painted, self._behind = self._behind, False

    def composed(self, width: int, height: int) -> Sequence[Line]:
        """The newest view as it must look at this moment."""
        return compose(self._shown(), width, height)

    def _shown(self) -> Shown:
        words, kind, until_s = self._status
        now_s = self._now_s()
        return Shown(
            view=self._view,
            age_s=now_s - self._advanced_s,
            recall=self._recall,
            status=words if now_s < until_s else self._about(),
            status_kind=kind if now_s < until_s else "good",
            over=self._over,
            played=isinstance(self._measuring, Playing),
        )

    def tell(self, words: str, kind: Literal["good", "bad"] = "bad") -> None:
        """Show words in the status line for some seconds."""
        self._status = (words, kind, self._now_s() + STATUS_S)

    def order(self, kind: CommandKind, args: Args | None = None) -> None:
        """Send a command made from the newest view; its answer comes to the status line."""
        if self._view is None or self._over:
            self.tell("the session is over" if self._over else "the session has not begun")
            return
        asked = command(self._view, uuid4().hex, self._client, kind, args)
        self.run_worker(self._send(asked), name=f"send {kind}", exit_on_error=False)

    async def _send(self, asked: Command) -> None:
        try:
            async with timeout(ANSWER_S):
                answer = await self._desk.send(asked)
        except TimeoutError:
            self.tell(f"no answer to {asked.kind} within {ANSWER_S:.0f} s: look before you repeat")
            return
        self._show_answer(asked, answer)

    def _show_answer(self, asked: Command, answer: Answered) -> None:
        good = answer.result == "done"
        self.tell(answer_words(answer) or f"{asked.kind}: done", "good" if good else "bad")

    def leave(self) -> None:
        """End the screen at once."""
        self.exit(self._how)
