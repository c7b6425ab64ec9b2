"""The engine: inputs in, events out. The only thing that live, replay and tests run.

It holds no clock and waits for nothing. Deadlines that are due before an input fire first,
stamped with their due time; so ticks, which only make them fire in time, change no output.

What a level's bytes become on their way to a reading and a verdict is in `daemon.core.way`.
"""

from daemon.core.pipe import Pipe
from daemon.core.way import Way
from daemon.measure.angle.geometry import side_in_words
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.suspicion import azimuth_doubt
from daemon.measure.stream.facts import (
    Fact,
    LearnedFact,
)
from daemon.measure.stream.settling import SELDOM_SINCE
from daemon.workflow import carry, view, words
from daemon.workflow.case import Case
from daemon.workflow.closing import summary
from daemon.workflow.commands import RefusedError, execute
from daemon.workflow.seatings import seatings
from daemon.workflow.watching import Watching
from shared.events import (
    Answered,
    Body,
    Event,
    Noted,
    Opened,
    Result,
)
from shared.inputs import Bytes, Clock, Command, End, Input, Link
from shared.job import Header
from shared.view import View

MEANT_FOR_THE_STEP = frozenset({"take", "done", "name", "again", "look", "set", "back"})
"""Commands that mean what was on the screen before a break: they do nothing after it."""
NEVER_NS = 1 << 63
"""Later than any session time."""


class Engine:
    """One session's state: two layers, pipes and the case, in one fold."""

    def __init__(self, header: Header) -> None:
        self.header = header
        job, seldom = header.job, header.rules >= SELDOM_SINCE
        self._pipes = {
            entry.name: Pipe(
                entry, header.profiles[entry.name], job.thresholds.lift_deg, seldom=seldom
            )
            for entry in job.level
        }
        self._case = Case(header, self._say)
        self._way = Way(self._case, Watching(self._case, always=header.procedure == "watch"))
        self._events: list[Event] = []
        self._n = 0
        self._now_ns = 0
        self._opened = False
        self._none_before_ns = 0
        """No deadline is due earlier; so most inputs need not ask every pipe for its own."""
        self._answers: dict[str, Answered] = {}
        self._standing: View | None = None
        """What of the view changes with events only, made after the last: it costs the most."""
        self.finished = False

    # --- inputs -------------------------------------------------------------------------

    def feed(self, item: Input) -> list[Event]:
        """Fire every deadline that is due by `item.t_ns`, then take the input.

        Returns:
            The events of both, in order.

        Raises:
            ValueError: the input is not later than the one before, or names no level.
        """
        if item.t_ns < self._now_ns:
            raise ValueError(f"input at {item.t_ns} ns after {self._now_ns} ns")
        events = self.advance(item.t_ns)
        if self.finished:
            return events
        self._now_ns = item.t_ns
        self._put(item)
        return events + self._drain()

    def advance(self, to_ns: int) -> list[Event]:
        """A tick: fire every deadline up to `to_ns`; nothing else happens."""
        while not self.finished and self._none_before_ns <= to_ns:
            due = self.next_due
            if due is None or due > to_ns:
                self._none_before_ns = NEVER_NS if due is None else due
                break
            self._now_ns = max(self._now_ns, due)
            self._fire(due)
        return self._drain()

    @property
    def next_due(self) -> int | None:
        """Session time of the next deadline; None when there is none."""
        if not self._opened:
            return 0
        every = [self._way.due, *(pipe.due for pipe in self._pipes.values())]
        dues = [due for due in every if due is not None]
        return min(dues, default=None)

    def view(self, now_ns: int | None = None) -> View:
        """Return what a face shows now. Changes nothing."""
        now = self._now_ns if now_ns is None else max(now_ns, self._now_ns)
        if self._standing is None or self._standing.seen != self._n:
            self._standing = view.standing(self._case, self._n)
        return view.view(self._standing, self._case, self._way.watching, self._pipes, now)

    def angles(self) -> dict[int, BladeAngle]:
        """Return the newest angle of every blade that has been read, with its budget."""
        found = self._case.members.newest_angles()
        return {blade: angle for blade, angle in found.items() if angle is not None}

    def _fire(self, due_ns: int) -> None:
        if not self._opened:
            self._open()
            return
        for pipe in self._pipes.values():
            if pipe.due == due_ns:
                self._fold(pipe.fire(due_ns))
        if self._way.due == due_ns:
            self._way.fire(due_ns)

    def _put(self, item: Input) -> None:
        match item:
            case Bytes(level, channel, data):
                pipe = self._pipe(level)
                facts = pipe.feed(item.t_ns, channel, data)
                self._expect(pipe)
                self._fold(facts)
            case Link(level, state, reason, identity):
                pipe = self._pipe(level)
                facts = pipe.link(state, reason, identity)
                self._expect(pipe)
                self._fold(facts)
            case Command():
                self._command(item)
            case Clock(wall, _, reason):
                self._say(Noted("clock", f"{reason}: the wall clock says {wall}"))
                self._way.clock(wall, item.t_ns, stood=reason != "step")
                for pipe in self._pipes.values():
                    self._fold(pipe.stopped(item.t_ns))
            case End():
                self._finish()
        self._expect(self._way)

    def _expect(self, one: Pipe | Way) -> None:
        """What this level did, or what came of it, may have set a deadline that comes before all others."""
        if (due := one.due) is not None and due < self._none_before_ns:
            self._none_before_ns = due

    def _pipe(self, level: str) -> Pipe:
        if level not in self._pipes:
            raise ValueError(f"input for level {level!r}, which the job does not have")
        return self._pipes[level]

    def _fold(self, facts: list[Fact]) -> None:
        for fact in facts:
            self._way.hear(fact, self._now_ns)

    # --- commands -------------------------------------------------------------------------

    def _command(self, command: Command) -> None:
        if (answer := self._answers.get(command.id)) is None:
            answer = self._answers[command.id] = self._answer(command)
        self._say(answer)
        if self._case.progress.over:
            self._finish()

    def _answer(self, command: Command) -> Answered:
        if command.until is not None and command.t_ns > command.until:
            return _answered(command, "late", "too late: nothing was done")
        if command.seen < self._case.step_event:
            return _answered(command, "stale", "the step had changed: nothing was done")
        if self._way.acted(self._now_ns) and command.kind in MEANT_FOR_THE_STEP:
            return _answered(command, "stale", "after a break everything held is read first")
        try:
            done = execute(self._case, command, self._now_ns)
        except (RefusedError, ValueError, TypeError) as error:
            return _answered(command, "refused", str(error))
        self._way.follow(command, self._now_ns)
        return _answered(command, "done", done)

    # --- beginning and end ------------------------------------------------------------------

    def _open(self) -> None:
        self._opened = True
        job = self.header.job
        self._say(
            Opened(
                session=self.header.session,
                job=job.name,
                blades=job.propeller.blades,
                target_deg=job.target.angle_deg,
                tolerance_deg=job.target.tolerance_deg,
                stand=side_in_words(job.propeller.layout, job.propeller.rotation),
                continues=self.header.continues,
            )
        )
        told = (*self.header.remarks, *self._doubts(), words.unproven(job, self.header.unproven))
        for words_ in told:
            if words_:
                self._say(Noted("caution", words_))
        carry.restore(self._case, self.header.carried)
        self._way.proceed()

    def _doubts(self) -> list[str]:
        """Return what makes readings less sure than they could be, to be said at the start."""
        job, profiles = self.header.job, self.header.profiles
        if self.header.procedure == "watch":
            return [words.no_witness(e.name) for e in job.level if e.role == "hub"]
        if any(entry.role == "hub" for entry in job.level):
            return []
        levels = [profiles[entry.name] for entry in job.level if entry.role == "blade"]
        doubts_ = [azimuth_doubt(profile, job.setup.psi_u_deg) for profile in levels]
        return [words_ for doubt, words_ in doubts_ if doubt]

    def _finish(self) -> None:
        refused: dict[str, int] = {}
        for pipe in self._pipes.values():
            for reason, count in pipe.refused.items():
                refused[reason] = refused.get(reason, 0) + count
            for fact in pipe.learned():
                self._way.hear(fact, self._now_ns)
        for level, seating in seatings(self._case.ledger).items():
            self._way.hear(
                LearnedFact(level, "seating", seating.u_deg, 0.0, seating.n), self._now_ns
            )
        self._say(summary(self._case, refused))
        self.finished = True

    def _say(self, body: Body) -> int:
        self._n += 1
        self._events.append(Event(self._n, self._now_ns, body))
        return self._n

    def _drain(self) -> list[Event]:
        events, self._events = self._events, []
        return events


def _answered(command: Command, result: Result, say: str) -> Answered:
    return Answered(command.id, command.client, result, say)
