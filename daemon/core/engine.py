"""The engine: inputs in, events out. The only thing that live, replay and tests run.

It holds no clock and waits for nothing. Deadlines that are due before an input fire first,
stamped with their due time; so ticks, which only make them fire in time, change no output.

A reading's way, top to bottom: bytes go into a pipe (`daemon.core.pipe`), whose facts come to
`_hear`; a level that lies still is looked at by `_consider`; `_take` makes it an angle, books it
on a blade, lets that blade be held, and `_proceed` judges the round and says the next step.
"""

import math

from daemon.core.pipe import Pipe
from daemon.measure.angle.geometry import side_in_words
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.suspicion import azimuth_doubt
from daemon.measure.angle.verdict import SetVerdict
from daemon.measure.stream.facts import (
    Crept,
    Fact,
    Hearing,
    InHand,
    LearnedFact,
    LinkFact,
    PlacementFact,
    Pressed,
    Ready,
    RefusedFact,
    Rested,
    Restless,
    Sampled,
    Still,
    Sways,
)
from daemon.measure.stream.reading import Reading
from daemon.workflow import baselines, carry, doubts, rounds, view, words
from daemon.workflow.agreement import own_u
from daemon.workflow.aircraft import OUT_OF_SQUARE_DEG
from daemon.workflow.case import Case
from daemon.workflow.closing import summary
from daemon.workflow.commands import RefusedError, execute
from daemon.workflow.ledger import Entry
from daemon.workflow.plan import Step, next_step
from daemon.workflow.referred import SECOND, Azimuth
from daemon.workflow.result import judge_set
from daemon.workflow.seatings import seatings
from daemon.workflow.takings import By, Taking
from daemon.workflow.watching import Watching
from shared.angles import difference_deg, stated
from shared.events import (
    REFERENCE,
    Answered,
    Asked,
    Body,
    Captured,
    Event,
    Learned,
    Linked,
    Noted,
    Opened,
    Refused,
    Result,
    Wants,
)
from shared.inputs import NS, Bytes, Clock, Command, End, Input, Link
from shared.job import Header
from shared.view import BladeView, View

SWAYS_AGAIN_NS = 600 * NS
"""That the aircraft sways is said again after so long at the earliest."""
TURNED_DEG, TURNED_US = 0.1, 6.0
"""So far from its reading, and so many standard uncertainties, a level that lies on was turned."""
NEVER_NS = 1 << 63
"""Later than any session time."""
LEVEL_CALLED = {"swapped": "is another instrument", "stuck": "is stuck"}
"""What a level did that stops the job."""


class Engine:
    """One session's state: two layers, pipes and the case, in one fold."""

    def __init__(self, header: Header) -> None:
        self.header = header
        job = header.job
        self._pipes = {
            entry.name: Pipe(entry, header.profiles[entry.name], job.thresholds.lift_deg)
            for entry in job.level
        }
        self._case = Case(header, self._say)
        self._watching = Watching(self._case, always=header.procedure == "watch")
        self._events: list[Event] = []
        self._n = 0
        self._now_ns = 0
        self._opened = False
        self._sways_again_ns = 0
        self._none_before_ns = 0
        """No deadline is due earlier; so most inputs need not ask every pipe for its own."""
        self._answers: dict[str, Answered] = {}
        self._table: tuple[int, tuple[BladeView, ...], SetVerdict] = (-1, (), SetVerdict(()))
        """The table, its verdict and the event they are of: they cost more than all the rest."""
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
        dues = [due for pipe in self._pipes.values() if (due := pipe.due) is not None]
        return min(dues, default=None)

    def view(self, now_ns: int | None = None) -> View:
        """Return what a face shows now. Changes nothing."""
        now = self._now_ns if now_ns is None else max(now_ns, self._now_ns)
        if self._table[0] != self._n:
            self._table = (self._n, view.rows(self._case), judge_set(self._case))
        _, rows, verdict = self._table
        return view.view(self._case, self._watching, self._pipes, rows, verdict, now, self._n)

    def angles(self) -> dict[int, BladeAngle]:
        """Return the newest angle of every blade that has been read, with its budget."""
        members = self._case.members
        found = {blade: members.newest_angle(blade) for blade in members.numbers()}
        return {blade: angle for blade, angle in found.items() if angle is not None}

    def _fire(self, due_ns: int) -> None:
        if not self._opened:
            self._open()
            return
        for pipe in self._pipes.values():
            if pipe.due == due_ns:
                self._fold(pipe.fire(due_ns))

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
                for pipe in self._pipes.values():
                    self._fold(pipe.stopped(item.t_ns))
            case End():
                self._finish()

    def _expect(self, pipe: Pipe) -> None:
        """What this level did may have set it a deadline that comes before all others."""
        if (due := pipe.due) is not None and due < self._none_before_ns:
            self._none_before_ns = due

    def _pipe(self, level: str) -> Pipe:
        if level not in self._pipes:
            raise ValueError(f"input for level {level!r}, which the job does not have")
        return self._pipes[level]

    # --- a reading's way ------------------------------------------------------------------

    def _fold(self, facts: list[Fact]) -> None:
        for fact in facts:
            self._hear(fact)

    def _hear(self, fact: Fact) -> None:
        """Take one fact of a level."""
        match fact:
            case LinkFact():
                self._link(fact)
            case RefusedFact(level, reason, count):
                self._say(Refused(level, reason, count))
            case LearnedFact(level, what, value, lag1, n):
                self._say(Learned(level, what, stated(value), stated(lag1), n))
            case Sampled():
                self._sampled(fact)
            case Sways():
                self._sways(fact)
            case _:
                if (taking := self._case.takings.get(fact.level)) is not None:
                    self._placed(taking, fact)

    def _link(self, fact: LinkFact) -> None:
        case = self._case
        self._say(Linked(fact.level, fact.state, fact.reason, stated(fact.gap_s)))
        self._watching.linked(fact)
        if fact.level == case.hub.level and fact.state in {"silent", "down"}:
            case.hub.lost()
        if (called := LEVEL_CALLED.get(fact.state)) is not None:
            case.alarms.call(REFERENCE, "level", f"level {fact.level} {called}: {fact.reason}")
            self._proceed()

    def _sways(self, fact: Sways) -> None:
        """Say that the aircraft sways, once in a while whichever level shows it."""
        if self._now_ns >= self._sways_again_ns:
            self._sways_again_ns = self._now_ns + SWAYS_AGAIN_NS
            self._say(Noted("caution", words.sways(fact.by_deg)))

    def _sampled(self, fact: Sampled) -> None:
        """One sample of the hub witness, or of a level left on a blade."""
        case = self._case
        if fact.level != case.hub.level:
            if self._watching.sampled(fact):
                self._proceed()
            return
        by = case.hub.push(fact.tilt, self._now_ns)
        if by is not None and case.members.reference.baseline is not None:
            rounds.tilted(case, by)
            for taking in case.takings:
                taking.take()  # what lies there now lies on a blade, not on the reference
            self._proceed()

    def _placed(self, taking: Taking, fact: PlacementFact) -> None:
        match fact:
            case InHand():
                taking.lift()
            case Rested(_, placement):
                taking.rest(placement, self._now_ns)
            case Still(_, placement, turned, reading):
                taking.lie(placement, reading)
                self._turned_after(taking, reading)
            case Ready(_, placement, turned, reading):
                taking.settle(placement, reading, turned=turned)
                self._turned_after(taking, reading)
                self._consider(taking)
            case Restless():
                taking.stir()
            case Hearing(_, heard):
                taking.hear(heard)
            case Crept():
                self._crept(taking, fact)
            case Pressed():
                taking.press("button", self._now_ns)
                self._consider(taking)

    def _consider(self, taking: Taking) -> None:
        """Take the level's average if everything a reading wants is there."""
        case = self._case
        if not (case.step.reads and taking.free and taking.ready):
            return
        if self._witness_disagrees(taking):
            return
        step, reading = case.step, taking.reading
        if reading is None:
            return
        azimuth = case.hub.azimuth(step.blade) if isinstance(step.blade, int) else None
        by = taking.armed or ("turn" if self._turned_to_target(taking, reading, azimuth) else None)
        if by is None:
            return
        if cannot := self._cannot_tell(taking, step, reading, azimuth):
            if taking.refuse():
                self._say(Noted("caution", cannot))
            return
        angle = self._angle(taking, step, reading, azimuth)
        asked = None if taking.confirmed else self._question(taking, step, reading, angle)
        if step.blade == REFERENCE and case.referred.wants_nose(taking.level):
            self._ask(taking, reading.mean_deg, doubts.of_nose(angle), wants="nose")
        elif asked:
            self._ask(taking, reading.mean_deg, asked)
        else:
            self._take(taking, step, reading, angle, azimuth, by)

    def _witness_disagrees(self, taking: Taking) -> bool:
        """Follow the hub witness: the blade that stands horizontal is the one being read.

        Where that blade wants no reading now, nothing is taken, and it is asked about.
        """
        case, blade = self._case, self._case.step.blade
        stands = case.hub.horizontal()
        if stands is None or not isinstance(blade, int) or stands == blade or taking.confirmed:
            return False
        if self._wants(stands):
            armed, until = taking.armed, taking.armed_until_ns
            case.progress.name(stands)
            self._proceed()
            taking.keep_armed(armed, until)
            return case.step.blade != stands
        if taking.armed:
            self._ask(taking, 0.0, words.witness_asks(case.job, stands, blade))
        return True

    def _wants(self, blade: int) -> bool:
        """Whether the present stage lacks a reading of this blade."""
        case, member = self._case, self._case.members[blade]
        if case.step.stage in {"set", "baseline"}:
            return member.baseline is None and case.step.stage == "set"
        have = case.ledger.of(blade, case.step.stage, case.progress.passed)
        return len(have) < max(1, member.wanted)

    def _turned_to_target(self, taking: Taking, reading: Reading, azimuth: Azimuth | None) -> bool:
        """While setting: the blade turned under the level and lies within the tolerance.

        A still moment out of tolerance is shown and not taken; nor is anything taken by
        itself for a blade with an open alarm.
        """
        case, target = self._case, self._case.job.target
        if case.step.stage != "set" or not taking.turned or case.alarms.of(case.step.blade):
            return False
        angle = case.referred.live(
            taking.level, reading.mean_deg, reading.psi_deg, taking.sense, azimuth
        )
        return abs(angle - target.angle_deg) <= target.tolerance_deg

    def _angle(
        self, taking: Taking, step: Step, reading: Reading, azimuth: Azimuth | None
    ) -> BladeAngle:
        """Turn a level's average into the angle of a blade, or into the shaft's tilt."""
        referred = self._case.referred
        if step.blade == REFERENCE:
            return referred.of_reference(taking.level, reading, taking.sense, step.half)
        return referred.of_blade(taking.level, reading, taking.sense, azimuth)

    def _cannot_tell(
        self, taking: Taking, step: Step, reading: Reading, azimuth: Azimuth | None
    ) -> str | None:
        """Return why the level cannot tell what it lies at, so that nothing is taken."""
        referred = self._case.referred
        if step.blade == REFERENCE:
            referred.seen(self._case.hub.theta_deg(), OUT_OF_SQUARE_DEG)
            return referred.cannot_tell_tilt(taking.level, reading)
        cannot = referred.cannot_tell(self._either(taking, reading, azimuth), azimuth)
        held = isinstance(step.blade, int) and self._case.members[step.blade].baseline is not None
        return f"{cannot} {words.WAS_NOT_THERE}" if cannot and held else cannot

    def _either(
        self, taking: Taking, reading: Reading, azimuth: Azimuth | None
    ) -> tuple[float, ...]:
        """Return every blade angle that gives this reading."""
        at, psi = reading.mean_deg, reading.psi_deg
        return self._case.referred.angles(taking.level, at, psi, taking.sense, azimuth)

    def _question(
        self, taking: Taking, step: Step, reading: Reading, angle: BladeAngle
    ) -> str | None:
        """Return what a person has to look at before this reading counts."""
        case, target_deg = self._case, self._case.job.target.angle_deg
        reference = case.referred.reference
        if step.blade != REFERENCE:
            profile = self.header.profiles[taking.level]
            either = self._either(taking, reading, None) if step.stage == "set" else ()
            return doubts.of_blade(
                reading, profile, taking.sense, angle, target_deg, reference, either
            )
        if case.job.setup.reference == "both-sides":
            second = step.half == SECOND
            first = case.ledger.half_of(step.stage, case.passed(step), 1) if second else None
            profile = self.header.profiles[taking.level]
            return doubts.of_side(angle, profile, target_deg, first)
        return doubts.of_reference(angle, reference)

    def _ask(self, taking: Taking, shown_deg: float, words_: str, *, wants: Wants = "") -> None:
        if taking.asked is not None:
            return
        number = self._case.takings.next_question()
        asked = Asked(number, self._case.step.blade, stated(shown_deg), words_, wants)
        taking.ask(asked)
        self._say(asked)

    def _take(
        self,
        taking: Taking,
        step: Step,
        reading: Reading,
        angle: BladeAngle,
        azimuth: Azimuth | None,
        by: By,
    ) -> None:
        """Book a reading on the step's blade; everything that follows from it follows here."""
        case = self._case
        entry = Entry(
            id=len(case.ledger.entries) + 1,
            blade=step.blade,
            stage=step.stage,
            passed=case.passed(step),
            level=taking.level,
            reading=reading,
            sense=taking.sense,
            angle=angle,
            t_ns=self._now_ns,
            half=step.half,
            azimuth=azimuth,
        )
        case.ledger.book(entry)
        taking.take(entry.id)
        self._say(self._captured(entry, step, by))
        if isinstance(step.blade, int):
            case.hub.tie(step.blade)
        else:
            case.hub.forget_tilts()
        baselines.settle(case, step.blade)
        case.progress.name(None)
        self._proceed()

    def _captured(self, entry: Entry, step: Step, by: By) -> Captured:
        angle, reading = entry.angle, entry.reading
        of_blade = entry.blade != REFERENCE
        error, u95 = angle.angle_deg - self._case.job.target.angle_deg, angle.budget.u95_deg
        return Captured(
            id=entry.id,
            blade=entry.blade,
            stage=entry.stage,
            angle_deg=stated(angle.angle_deg),
            u95_deg=stated(u95),
            samples=reading.n,
            level=entry.level,
            reading_deg=stated(reading.mean_deg),
            error_deg=stated(error) if of_blade else None,
            tolerance=self._case.tolerance(error, u95) if of_blade else None,
            sense=entry.sense,
            placement=step.placement,
            by=by,
            reached=reading.reached,
            half=entry.half,
        )

    def _proceed(self) -> None:
        """Announce the next step if it is another one; judge the round when it is complete."""
        case = self._case
        while (step := self._next_step()) is None:
            if case.progress.judged:
                rounds.go_on(case)
            else:
                rounds.judge_round(case)
        if step != case.step:
            case.announce(step)

    def _next_step(self) -> Step | None:
        case = self._case
        return next_step(case.job.plan, case.members, case.progress, tuple(case.alarms))

    def _crept(self, taking: Taking, fact: Crept) -> None:
        """What was just read from this placement may have crept while it was read: say so."""
        last = self._case.ledger.last()
        lying = taking.placement == taking.taken == fact.placement
        if last is None or last.level != taking.level or not lying:
            return
        off = difference_deg(fact.angle_deg, last.reading.mean_deg)
        if taking.crept == fact.placement or abs(off) < 2.0 * own_u(last.angle.budget):
            return
        taking.creep(fact.placement)
        self._say(Noted("caution", words.crept(self._case.job, last)))

    def _turned_after(self, taking: Taking, reading: Reading) -> None:
        """It still lies where it was read, and shows another angle at rest: say so at once."""
        entry = self._case.ledger.entry(taking.lies_on)
        if entry is None or entry.withdrawn:
            return
        off = difference_deg(reading.mean_deg, entry.reading.mean_deg)
        u = math.hypot(reading.u_deg, entry.reading.u_deg)
        if abs(off) > max(TURNED_DEG, TURNED_US * u, 2.0 * reading.resolution_deg):
            taking.turn()
            baselines.turned(self._case, entry, off)
            self._proceed()

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
        try:
            done = execute(self._case, command, self._now_ns)
        except (RefusedError, ValueError, TypeError) as error:
            return _answered(command, "refused", str(error))
        self._follow(command)
        return _answered(command, "done", done)

    def _follow(self, command: Command) -> None:
        """Go on from what a command changed."""
        if command.kind in {"take", "confirm"}:
            for taking in self._case.takings:
                if taking.armed or taking.confirmed:
                    self._consider(taking)
        else:
            self._proceed()

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
        for words_ in (*self._doubts(), words.unproven(job, self.header.unproven)):
            if words_:
                self._say(Noted("caution", words_))
        carry.restore(self._case, self.header.carried)
        self._proceed()

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
                self._hear(fact)
        for level, seating in seatings(self._case.ledger).items():
            self._hear(LearnedFact(level, "seating", seating.u_deg, 0.0, seating.n))
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
