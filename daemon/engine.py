"""The engine: inputs in, events out. The only thing that live, replay and tests run.

It holds no clock and waits for nothing. Deadlines that are due before an input fire first,
stamped with their due time; so ticks, which only make them fire in time, change no output.
"""

from daemon.core.pipe import Pipe
from daemon.measure.angle import BladeAngle
from daemon.measure.geometry import side_in_words
from daemon.measure.stream.facts import Fact, LearnedFact
from daemon.measure.stream.reading import Reading
from daemon.measure.suspect import azimuth_doubt
from daemon.workflow import carry, showing
from daemon.workflow.closing import summary
from daemon.workflow.commands import RefusedError, execute
from daemon.workflow.learning import seatings
from daemon.workflow.workflow import Workflow
from shared.events import Answered, Body, Event, Noted, Opened
from shared.inputs import Bytes, Clock, Command, End, Input, Link
from shared.job import Header
from shared.view import BladeView, View


class Engine:
    """One session's state: two layers, pipes and workflow, in one fold."""

    def __init__(self, header: Header) -> None:
        self.header = header
        job = header.job
        self._pipes = {
            entry.name: Pipe(entry, header.profiles[entry.name], job.thresholds.lift_deg)
            for entry in job.level
        }
        self._workflow = Workflow(header, self._say, self._current, self._streaming)
        self._events: list[Event] = []
        self._n = 0
        self._now_ns = 0
        self._opened = False
        self._answers: dict[str, Answered] = {}
        self._rows: tuple[int, tuple[BladeView, ...]] = (-1, ())
        """Rows of the table and the event they are of: they cost more than all the rest."""
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
        self._take(item)
        return events + self._drain()

    def advance(self, to_ns: int) -> list[Event]:
        """A tick: fire every deadline up to `to_ns`; nothing else happens."""
        while not self.finished and (due := self.next_due) is not None and due <= to_ns:
            self._now_ns = max(self._now_ns, due)
            self._fire(due)
        return self._drain()

    @property
    def next_due(self) -> int | None:
        """Session time of the next deadline; None when there is none."""
        if not self._opened:
            return 0
        dues = [due for pipe in self._pipes.values() if (due := pipe.due) is not None]
        return min(dues, default=None)

    def view(self, now_ns: int | None = None) -> View:
        """Return what a face shows now. Changes nothing."""
        now = self._now_ns if now_ns is None else max(now_ns, self._now_ns)
        if self._rows[0] != self._n:
            self._rows = (self._n, showing.rows(self._workflow))
        return showing.view(self._workflow, self._pipes, self._rows[1], now, self._n)

    def angles(self) -> dict[int, BladeAngle]:
        """Return the newest angle of every blade that has been read, with its budget."""
        ledger = self._workflow.ledger
        found = {blade: ledger.newest_angle(blade) for blade in ledger.numbers()}
        return {blade: angle for blade, angle in found.items() if angle is not None}

    # --- inside -------------------------------------------------------------------------

    def _fire(self, due_ns: int) -> None:
        if not self._opened:
            self._open()
            return
        for pipe in self._pipes.values():
            if pipe.due == due_ns:
                self._fold(pipe.fire(due_ns))

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
        for words in self._doubts():
            self._say(Noted("caution", words))
        carry.restore(self._workflow, self.header.carried)
        self._workflow.refresh()

    def _doubts(self) -> list[str]:
        """Return what makes readings less sure than they could be, to be said at the start."""
        job, profiles = self.header.job, self.header.profiles
        if any(entry.role == "hub" for entry in job.level):
            return []
        levels = [profiles[entry.name] for entry in job.level if entry.role == "blade"]
        doubts = [azimuth_doubt(profile, job.setup.psi_u_deg) for profile in levels]
        return [words for doubt, words in doubts if doubt]

    def _take(self, item: Input) -> None:
        match item:
            case Bytes(level, channel, data):
                self._fold(self._pipe(level).feed(item.t_ns, channel, data))
            case Link(level, state, reason, identity):
                self._fold(self._pipe(level).link(state, reason, identity))
            case Command():
                self._command(item)
            case Clock(wall, _, reason):
                self._say(Noted("clock", f"{reason}: the wall clock says {wall}"))
            case End():
                self._finish()

    def _pipe(self, level: str) -> Pipe:
        if level not in self._pipes:
            raise ValueError(f"input for level {level!r}, which the job does not have")
        return self._pipes[level]

    def _fold(self, facts: list[Fact]) -> None:
        for fact in facts:
            self._workflow.fold(fact, self._now_ns)

    def _current(self, level: str) -> Reading | None:
        return self._pipes[level].reading

    def _streaming(self, level: str) -> bool:
        return self._pipes[level].heard

    def _command(self, command: Command) -> None:
        if (answer := self._answers.get(command.id)) is not None:
            self._say(answer)
            return
        workflow = self._workflow
        workflow.now_ns = self._now_ns
        if command.until is not None and command.t_ns > command.until:
            answer = self._answer(command, "late", "too late: nothing was done")
        elif command.seen < workflow.step_event:
            answer = self._answer(command, "stale", "the step had changed: nothing was done")
        else:
            answer = self._execute(command)
        self._answers[command.id] = answer
        self._say(answer)
        if workflow.progress.finished or workflow.abandoned:
            self._finish()

    def _execute(self, command: Command) -> Answered:
        try:
            return self._answer(command, "done", execute(self._workflow, command))
        except (RefusedError, ValueError, TypeError) as error:
            return self._answer(command, "refused", str(error))

    def _answer(self, command: Command, result: str, say: str) -> Answered:
        return Answered(command.id, command.client, result, say)  # type: ignore[arg-type]

    def _finish(self) -> None:
        refused: dict[str, int] = {}
        for pipe in self._pipes.values():
            for reason, count in pipe.refused.items():
                refused[reason] = refused.get(reason, 0) + count
            self._fold(pipe.learned())
        for level, seating in seatings(self._workflow.ledger).items():
            self._fold([LearnedFact(level, "seating", seating.u_deg, 0.0, seating.n)])
        self._say(summary(self._workflow, refused))
        self.finished = True

    def _say(self, body: Body) -> int:
        self._n += 1
        self._events.append(Event(self._n, self._now_ns, body))
        return self._n

    def _drain(self) -> list[Event]:
        events, self._events = self._events, []
        return events
