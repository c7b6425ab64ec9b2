"""A reading's way, top to bottom: from what a level tells to the next step.

Facts of a pipe (`daemon.core.pipe`) come to `hear`; a level that lies still is looked at by
`_consider`; `_take` makes it an angle, books it on a blade and lets that blade be held; `proceed`
judges the round and says the next step.
"""

import math

from daemon.measure.angle.means import BladeAngle
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
    TurnedOver,
)
from daemon.measure.stream.reading import Reading
from daemon.workflow import baselines, doubts, hands_free, landing, rounds, words
from daemon.workflow.agreement import own_u
from daemon.workflow.aircraft import OUT_OF_SQUARE_DEG
from daemon.workflow.case import Case
from daemon.workflow.commands import RefusedError, execute
from daemon.workflow.ledger import Entry
from daemon.workflow.plan import FOUND, Step, next_step
from daemon.workflow.referred import SECOND, Azimuth
from daemon.workflow.result import say_round
from daemon.workflow.takings import By, Taking
from daemon.workflow.watching import Watching
from shared.angles import difference_deg, stated
from shared.events import (
    REFERENCE,
    Asked,
    Captured,
    Learned,
    Linked,
    Noted,
    Refused,
    Wants,
)
from shared.inputs import NS, Command
from shared.view import Turnover

SLACKENS_SINCE = 5
"""Rules since which slackening is a step of its own."""
BREAKS_SINCE = 6
"""Rules since which what is held is read first after a break."""
SWAYS_AGAIN_NS = 600 * NS
"""That the aircraft sways is said again after so long at the earliest."""
TURNED_DEG, TURNED_US = 0.1, 6.0
"""So far from its reading, and so many standard uncertainties, a level that lies on was turned."""
LEVEL_CALLED = {"swapped": "is another instrument", "stuck": "is stuck"}
"""What a level did that stops the job."""


UNSEEN_SINCE = 9
"""Rules since which a level that lay where it was read, and lies there after a gap, gives no fresh reading."""

LAY_THERE_S = 1.75
"""A level that rests so soon after a gap lay there when it was heard again: a rest is known after 1 to
1.5 s (of slow levels later, and then nothing is said)."""


class Way:
    """Where facts become readings, and readings verdicts.

    case: the job; watching: the levels left on blades.
    """

    def __init__(self, case: Case, watching: Watching) -> None:
        self.case = case
        self.watching = watching
        self._now_ns = 0
        self._sways_again_ns = 0

    def follow(self, command: Command, now_ns: int) -> None:
        """Go on from what a command changed."""
        self._now_ns = now_ns
        if command.kind in {"take", "confirm"}:
            for taking in self.case.takings:
                if taking.armed or taking.confirmed:
                    self._consider(taking)
        else:
            self.proceed()

    def clock(self, wall: str, now_ns: int, *, stood: bool) -> None:
        """The wall clock was read; stood: machine or program stood still before it."""
        self.case.breaks.clock(wall, now_ns, stood=stood)
        if stood:
            self.acted(now_ns)

    def acted(self, now_ns: int) -> bool:
        """Somebody does something; return whether what is held is read first, after a break."""
        self._now_ns = now_ns
        away_s = self.case.breaks.act(now_ns)
        if not away_s or self.case.header.rules < BREAKS_SINCE:
            return False
        if not rounds.read_first(self.case, words.stood_still(away_s)):
            return False
        for taking in self.case.takings:
            taking.take()  # what lies there now has lain there since before
        self.proceed()
        return True

    def hear(self, fact: Fact, now_ns: int) -> None:
        """Take one fact of a level; now_ns: session time."""
        self._now_ns = now_ns
        match fact:
            case LinkFact():
                self._link(fact)
            case RefusedFact(level, reason, count):
                self.case.say(Refused(level, reason, count))
            case LearnedFact(level, what, value, lag1, n):
                self.case.say(Learned(level, what, stated(value), stated(lag1), n))
            case Sampled():
                self._sampled(fact)
            case Sways():
                self._sways(fact)
            case _:
                if (taking := self.case.takings.get(fact.level)) is not None:
                    self._placed(taking, fact)

    def _link(self, fact: LinkFact) -> None:
        case = self.case
        self.case.say(Linked(fact.level, fact.state, fact.reason, stated(fact.gap_s)))
        self.watching.linked(fact)
        if fact.level == case.hub.level and fact.state in {"silent", "down"}:
            case.hub.lost()
        if fact.state in {"up", "down", "swapped"} and case.proofs.lose(fact.level):
            case.say(Noted("caution", words.unproven_hearing(f"level {fact.level} was gone")))
        if (called := LEVEL_CALLED.get(fact.state)) is not None:
            case.alarms.call(REFERENCE, "level", f"level {fact.level} {called}: {fact.reason}")
            self.proceed()

    def _sways(self, fact: Sways) -> None:
        """Doubt what was read before, and say so once in a while whichever level shows it."""
        case = self.case
        again = baselines.sways(case, fact.swing_deg)
        if again or self._now_ns >= self._sways_again_ns:
            self._sways_again_ns = self._now_ns + SWAYS_AGAIN_NS
            by_deg = math.sqrt(2.0) * fact.swing_deg
            case.say(Noted("caution", words.sways(by_deg, again=again)))
        if again:
            for taking in case.takings:
                taking.take()  # what lies there now does not lie on the reference
            self.proceed()

    def _sampled(self, fact: Sampled) -> None:
        """One sample of the hub witness, or of a level left on a blade."""
        case = self.case
        if fact.level != case.hub.level:
            if self.watching.sampled(fact):
                self.proceed()
            return
        by = case.hub.push(fact.tilt, self._now_ns)
        if by is not None and case.members.reference.baseline is not None:
            rounds.tilted(case, by)
            for taking in case.takings:
                taking.take()  # what lies there now lies on a blade, not on the reference
            self.proceed()

    def _placed(self, taking: Taking, fact: PlacementFact) -> None:
        match fact:
            case InHand(_, unseen):
                since = self.case.header.rules >= UNSEEN_SINCE
                taking.lift(self._now_ns, unseen=unseen and since)
                self.acted(self._now_ns)
            case Rested():
                self._rested(taking, fact)
            case Still(_, placement, turned, reading):
                taking.lie(placement, reading)
                self._turned_after(taking, reading)
            case Ready(_, placement, turned, reading):
                taking.settle(placement, reading, self._now_ns, turned=turned)
                self._turned_after(taking, reading)
                self._consider(taking)
            case Restless():
                taking.stir()
            case Hearing(_, heard):
                taking.hear(heard)
            case Crept():
                self._crept(taking, fact)
            case TurnedOver():
                self._turned_over(taking)
            case Pressed():
                taking.press("button", self._now_ns)
                self._consider(taking)

    def _rested(self, taking: Taking, fact: Rested) -> None:
        taking.rest(fact.placement, self._now_ns)
        before = self.case.ledger.entry(taking.unseen)
        lay_there = fact.after_gap_s <= LAY_THERE_S
        if lay_there and before is not None and before.blade == self.case.step.blade:
            taking.still_there()
        self.acted(self._now_ns)

    def _turned_over(self, taking: Taking) -> None:
        """Do what the level stands for that was turned over in the hand."""
        case = self.case
        match turnover := hands_free.means(case, taking, self._now_ns):
            case "proof":
                case.proofs.give(taking.level)
                case.say(Noted("note", words.proven(taking.level)))
            case "take":
                taking.press("gesture", self._now_ns, hands_free.COUNTS_NS)
            case "set again" if case.header.rules >= hands_free.LEAVES_SINCE:
                alarm = hands_free.answered(case)
                case.alarms.wait(alarm, self._now_ns + hands_free.LEAVES_NS)
                blades = alarm.blades or (alarm.blade,)
                case.say(Noted("note", words.set_again_soon(case.job, blades)))
            case "leave":
                case.alarms.leave()
                case.say(Noted("note", words.turned_over("the alarm stands, nothing is set again")))
            case "done" | "back" | "set again":
                case.say(Noted("note", words.turned_over(self._do(turnover))))

    def _do(self, turnover: Turnover) -> str:
        """Do it; return in words what was done, or why not."""
        case = self.case
        try:
            did = execute(case, hands_free.command(case, turnover), self._now_ns)
        except RefusedError as error:
            did = f"not done: {error}"
        case.alarms.leave()
        self.proceed()
        return did

    @property
    def due(self) -> int | None:
        """Session time at which something waits to be done; None: nothing does."""
        return self.case.alarms.due_ns

    def fire(self, due_ns: int) -> None:
        """Do it: nobody took it back."""
        self._now_ns = due_ns
        self.case.say(Noted("note", words.not_left(self._do("set again"))))

    def _consider(self, taking: Taking) -> None:
        """Take the level's average if everything a reading wants is there."""
        case = self.case
        if not (case.step.reads and taking.free and taking.ready):
            return
        if self._witness_disagrees(taking):
            return
        if taking.reading is not None:
            self._weigh(taking, case.step, taking.reading)

    def _weigh(self, taking: Taking, step: Step, reading: Reading) -> None:
        """Take an average that something confirms, or ask about it; else leave it lying."""
        case = self.case
        azimuth = case.hub.azimuth(step.blade) if isinstance(step.blade, int) else None
        if taking.armed == "gesture" and landing.too_soon(case, taking, step):
            taking.landing.too_soon(taking.placement)
            taking.disarm()
        by = taking.armed or ("turn" if self._turned_to_target(taking, reading, azimuth) else None)
        if by is None and not landing.waited(case, taking, step, self._now_ns):
            return
        if cannot := self._cannot_tell(taking, step, reading, azimuth):
            if by is not None and taking.refuse():
                self.case.say(Noted("caution", cannot))
            return
        angle = self._angle(taking, step, reading, azimuth)
        by = by or self._landed(taking, step, angle, reading)
        if by is None:
            return
        asked = None if taking.confirmed else self._question(taking, step, reading, angle)
        if step.blade == REFERENCE and case.referred.wants_nose(taking.level):
            self._ask(taking, reading.mean_deg, doubts.of_nose(angle), wants="nose")
        elif asked:
            self._ask(taking, reading.mean_deg, asked)
        else:
            before = landing.agreed_with(case, taking, step) if by == "landing" else None
            if before is not None:
                at = self._angle(taking, step, before, azimuth)
                self._take(taking, step, before, at, azimuth, by)
            self._take(taking, case.step, reading, angle, azimuth, by)

    def _landed(self, taking: Taking, step: Step, angle: BladeAngle, reading: Reading) -> By | None:
        """Return that nobody has to press; what does not read as expected is remembered."""
        lacking = landing.lacks(self.case, taking, step, angle.angle_deg)
        if lacking == "agreement":
            landing.surprise(taking, angle.angle_deg, reading)
        elif lacking == "a turn":
            taking.landing.too_soon(taking.placement)
        return "landing" if lacking is None else None

    def _witness_disagrees(self, taking: Taking) -> bool:
        """Follow the hub witness: the blade that stands horizontal is the one being read.

        Where that blade wants no reading now, nothing is taken, and it is asked about.
        """
        case, blade = self.case, self.case.step.blade
        stands = case.hub.horizontal()
        if stands is None or not isinstance(blade, int) or stands == blade or taking.confirmed:
            return False
        if self._wants(stands):
            armed, until = taking.armed, taking.armed_until_ns
            case.progress.name(stands)
            self.proceed()
            taking.keep_armed(armed, until)
            return case.step.blade != stands
        if taking.armed:
            self._ask(taking, 0.0, words.witness_asks(case.job, stands, blade))
        return True

    def _wants(self, blade: int) -> bool:
        """Whether the present stage lacks a reading of this blade."""
        case, member = self.case, self.case.members[blade]
        if case.step.stage in {"set", "baseline"}:
            return member.baseline is None and case.step.stage == "set"
        have = case.ledger.of(blade, case.step.stage, case.passed(case.step))
        return len(have) < (1 if case.step.stage == FOUND else case.progress.wants(member))

    def _turned_to_target(self, taking: Taking, reading: Reading, azimuth: Azimuth | None) -> bool:
        """While setting: the blade turned under the level and lies surely within the tolerance.

        A still moment out of tolerance is shown and not taken; nor is anything taken by
        itself for a blade with an open alarm.
        """
        case = self.case
        if case.step.stage != "set" or not taking.turned or case.alarms.of(case.step.blade):
            return False
        angle = case.referred.live(
            taking.level, reading.mean_deg, reading.psi_deg, taking.sense, azimuth
        )
        return abs(angle - case.aim_deg) <= landing.near_deg(case)

    def _angle(
        self, taking: Taking, step: Step, reading: Reading, azimuth: Azimuth | None
    ) -> BladeAngle:
        """Turn a level's average into the angle of a blade, or into the shaft's tilt."""
        referred = self.case.referred
        if step.blade == REFERENCE:
            return referred.of_reference(taking.level, reading, taking.sense, step.half)
        return referred.of_blade(taking.level, reading, taking.sense, azimuth)

    def _cannot_tell(
        self, taking: Taking, step: Step, reading: Reading, azimuth: Azimuth | None
    ) -> str | None:
        """Return why the level cannot tell what it lies at, so that nothing is taken."""
        referred = self.case.referred
        if step.blade == REFERENCE:
            referred.seen(self.case.hub.theta_deg(), OUT_OF_SQUARE_DEG)
            return referred.cannot_tell_tilt(taking.level, reading)
        cannot = referred.cannot_tell(self._either(taking, reading, azimuth), azimuth)
        held = isinstance(step.blade, int) and self.case.members[step.blade].baseline is not None
        return f"{cannot} {words.WAS_NOT_THERE}" if cannot and held else cannot

    def _either(
        self, taking: Taking, reading: Reading, azimuth: Azimuth | None
    ) -> tuple[float, ...]:
        """Return every blade angle that gives this reading."""
        at, psi = reading.mean_deg, reading.psi_deg
        return self.case.referred.angles(taking.level, at, psi, taking.sense, azimuth)

    def _question(
        self, taking: Taking, step: Step, reading: Reading, angle: BladeAngle
    ) -> str | None:
        """Return what a person has to look at before this reading counts."""
        case, target_deg = self.case, self.case.job.target.angle_deg
        reference = case.referred.reference
        if step.blade != REFERENCE:
            profile = self.case.header.profiles[taking.level]
            either = self._either(taking, reading, None) if step.stage == "set" else ()
            return doubts.of_blade(
                reading, profile, taking.sense, angle, target_deg, reference, either
            )
        if case.job.setup.reference == "both-sides":
            second = step.half == SECOND
            first = case.ledger.half_of(step.stage, case.passed(step), 1) if second else None
            profile = self.case.header.profiles[taking.level]
            return doubts.of_side(angle, profile, target_deg, first)
        return doubts.of_reference(angle, reference)

    def _ask(self, taking: Taking, shown_deg: float, words_: str, *, wants: Wants = "") -> None:
        if taking.asked is not None:
            return
        number = self.case.takings.next_question()
        asked = Asked(number, self.case.step.blade, stated(shown_deg), words_, wants)
        taking.ask(asked)
        self.case.say(asked)

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
        case = self.case
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
        self.case.say(self._captured(entry, step, by))
        if isinstance(step.blade, int):
            case.hub.tie(step.blade)
        else:
            case.hub.forget_tilts()
        baselines.settle(case, step.blade)
        case.progress.name(None)
        self.proceed()

    def _captured(self, entry: Entry, step: Step, by: By) -> Captured:
        angle, reading = entry.angle, entry.reading
        of_blade = entry.blade != REFERENCE
        error, u95 = angle.angle_deg - self.case.aim_deg, angle.budget.u95_deg
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
            tolerance=self.case.tolerance(error, u95) if of_blade else None,
            sense=entry.sense,
            placement=step.placement,
            by=by,
            reached=reading.reached,
            half=entry.half,
        )

    def proceed(self) -> None:
        """Announce the next step if it is another one; judge the round when it is complete."""
        case = self.case
        while (step := self._next_step()) is None or self._goes_without_saying(step):
            if step is not None:
                case.slacken()
            elif case.progress.judged:
                rounds.go_on(case)
            else:
                rounds.judge_round(case)
        if case.step.stage == FOUND != step.stage:
            say_round(case, FOUND)
        if step != case.step:
            case.announce(step, self._now_ns)

    def _goes_without_saying(self, step: Step) -> bool:
        """Whether a recorded session is of rules under which nobody was told to slacken."""
        return step.stage == "slacken" and self.case.header.rules < SLACKENS_SINCE

    def _next_step(self) -> Step | None:
        """Return what comes next; nothing is set or held by a tilt of the shaft that is known to be another."""
        step = self._planned_step()
        case = self.case
        if (
            step is None
            or step.stage not in {"set", "baseline"}
            or case.hub.tilted is None
            or case.header.rules < rounds.TILTED_SINCE
        ):
            return step
        case.members.reference.refer_anew()
        return self._planned_step()

    def _planned_step(self) -> Step | None:
        case = self.case
        return next_step(case.job.plan, case.members, case.progress, tuple(case.alarms))

    def _crept(self, taking: Taking, fact: Crept) -> None:
        """What was just read from this placement may have crept while it was read: say so."""
        last = self.case.ledger.last()
        lying = taking.placement == taking.taken == fact.placement
        if last is None or last.level != taking.level or not lying or baselines.at_bolts(self.case):
            return
        off = difference_deg(fact.angle_deg, last.reading.mean_deg)
        if taking.crept == fact.placement or abs(off) < 2.0 * own_u(last.angle.budget):
            return
        taking.creep(fact.placement)
        self.case.say(Noted("caution", words.crept(self.case.job, last)))

    def _turned_after(self, taking: Taking, reading: Reading) -> None:
        """It still lies where it was read, and shows another angle at rest: say so at once."""
        entry = self.case.ledger.entry(taking.lies_on)
        if entry is None or entry.withdrawn:
            return
        off = difference_deg(reading.mean_deg, entry.reading.mean_deg)
        u = math.hypot(reading.u_deg, entry.reading.u_deg)
        if abs(off) > max(TURNED_DEG, TURNED_US * u, 2.0 * reading.resolution_deg):
            taking.turn()
            baselines.turned(self.case, entry, off)
            self.proceed()
