"""Random walks through whole jobs: somebody works, errs, meddles, leaves and comes back.

A walk is its seed: the job (`WORLDS`), where the blades truly stand, and what is done next are drawn from
it. The same walk is walked by two kinds of hands: `Sampling` sends a level's bytes, as everywhere in the
tests; `Telling` tells what a level's pipe would make of them, which costs a third.
"""

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Protocol

from daemon.core.engine import Engine
from daemon.measure.stream.facts import (
    Fact,
    Hearing,
    InHand,
    LinkFact,
    Ready,
    Rested,
    Restless,
    TurnedOver,
)
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.settling import TURNED_DEG
from daemon.workflow.case import Case
from daemon.workflow.commands import offered, settable
from daemon.workflow.takings import Takings
from shared.events import (
    REFERENCE,
    Alarm,
    Answered,
    Asked,
    Assigned,
    Body,
    Captured,
    Cleared,
    Event,
    Noted,
    StepChanged,
    Summary,
    Withdrawn,
)
from shared.inputs import NS, Clock, Command, End, Link
from shared.job import Header
from tests.daemon.bench import Person, header

LEVEL = "chord"
AIM_DEG, TILT_DEG, LEAN_DEG = 20.0, 3.0, 0.2
LOOKS = 0.05
"""After so many deeds the whole picture is looked at: it costs more than a deed."""
LONG_WALK = 400
"""So many steps bring anybody who errs no more to the end of any of these jobs."""
AWAY_NS = 31 * 60 * NS
SILENT_NS = 2 * NS
"""After so long without a sample the level's profile has it called silent."""
ONE = {"reference_placements": 1, "baseline_placements": 1}
TWO_RINGS: list[dict[str, Any]] = [
    {"name": "rim", "count": 3, "torque": 12.0, "unit": "N.m", "each": True},
    {"name": "hub", "count": 4, "torque": 22.0, "unit": "N.m", "passes": [0.5, 1.0]},
]
WRENCH = {"name": "W 3", "least": 5.0, "most": 50.0, "unit": "N.m"}
TORQUED = {"bolts": TWO_RINGS, "wrench": WRENCH}
WORLDS: dict[str, dict[str, Any]] = {
    "usual": {"blades": 3, "plan": TORQUED},
    "short": {"plan": {**ONE, "rounds": ["torque"], "max_placements": 2}},
    "own clamps": {
        "blades": 3,
        "plan": {
            **ONE,
            **TORQUED,
            "clamps": [[1], [2], [3]],
            "order": "clamp by clamp",
            "rounds": ["snug", "nip", "torque", "final"],
        },
    },
    "two blades a clamp": {
        "blades": 4,
        "plan": {
            **ONE,
            "clamps": [[1, 2], [3, 4]],
            "order": "clamp by clamp",
            "rounds": ["snug", "nip", "torque", "final"],
        },
        "setup": {"reference": "half-turn"},
    },
    "procedure": {
        "plan": {
            **ONE,
            **TORQUED,
            "clamps": [[1], [2]],
            "rounds": [
                {"name": "seat", "tighten": True, "read": "nothing", "before": ["Threads dry"]},
                {"name": "one", "tighten": True, "blades": [1], "read": "these", "like": "nip"},
                {"name": "hub", "tighten": True, "torque": ["hub"]},
                {"name": "rim", "tighten": True, "torque": ["rim"], "read": "nothing"},
                {"name": "last"},
            ],
        }
    },
    "as found": {"plan": {**ONE, **TORQUED, "as_found": True, "rounds": ["check", "torque"]}},
    "read only": {"plan": ONE, "procedure": "read"},
    "both sides": {
        "plan": {**ONE, "rounds": ["snug", "final"]},
        "setup": {"reference": "both-sides"},
    },
    "by itself": {
        "plan": {**ONE, "rounds": ["check", "torque", "final"]},
        "setup": {"capture": "by itself"},
    },
    "set before": {
        "plan": {**ONE, "rounds": ["nip", "torque"]},
        "pulled_deg": 0.12,
        "earlier": "2027-01",
    },
}


@cache
def header_of(world: str) -> Header:
    """Return the header of one of the jobs."""
    told = dict(WORLDS[world])
    propeller = {
        "blades": told.pop("blades", 2),
        "rotation": "clockwise",
        "layout": "tractor",
        "station": "75 % radius",
    }
    plan, setup = told.pop("plan"), told.pop("setup", {})
    return header(plan=plan, setup=setup, propeller=propeller).model_copy(update=told)


# --- hands ----------------------------------------------------------------------------------------


class Hands(Protocol):
    """Whoever lays the level down and presses."""

    events: list[Event]
    """All that was said."""

    @property
    def header(self) -> Header:
        """The session's."""

    @property
    def engine(self) -> Engine:
        """What hears it."""

    def lift(self) -> None:
        """Take the level up, and carry it."""

    def lie(self, angle_deg: float) -> None:
        """Lay the level down until its average is good."""

    def turn(self, angle_deg: float) -> None:
        """What the level lies on is turned, and comes to rest."""

    def turn_over(self) -> None:
        """Turn the level over in the hand, and back."""

    def wait(self, ns: int) -> None:
        """Do nothing."""

    def go(self) -> None:
        """The level is gone, and comes back."""

    def stop(self, wall: str) -> None:
        """Program or machine stand still; the wall clock says this afterwards."""

    def press(self, kind: Any = "take", seen: int | None = None, **args: Any) -> Answered:
        """Ask for something; return the answer."""

    def end(self) -> None:
        """End the session."""


class Sampling(Person):
    """Hands that hold a level: ten samples a second, as bytes."""

    def __init__(self, header_: Header, seed: int = 1) -> None:
        super().__init__(header_, seed, LEVEL)
        self._lies = 0.0

    def lift(self) -> None:
        self.carry()

    def lie(self, angle_deg: float) -> None:
        self._lies = angle_deg
        self.lay(angle_deg, 36)

    def turn(self, angle_deg: float) -> None:
        by_deg = angle_deg - self._lies
        steps = math.ceil(8.0 * abs(by_deg))  # slower, it would creep
        for step in range(steps):
            self.send(self._lies + by_deg * step / steps, 0.02)
        self._lies = angle_deg
        self.lay(angle_deg, 36)

    def press(self, kind: Any = "take", seen: int | None = None, **args: Any) -> Answered:
        for _ in range(10):  # whoever presses to take waits until the level is seen to rest
            if kind == "take" and any(one.free and not one.reading for one in self._takings):
                self.lay(self._lies, 1)
        return super().press(kind, seen, **args)

    @property
    def _takings(self) -> Takings:
        return self.engine._case.takings

    def turn_over(self) -> None:
        for angle, samples in ((20.0, 5), (110.0, 2), (-160.0, 6), (110.0, 2), (20.0, 6)):
            for _ in range(samples):
                self.send(angle, 1.0)

    def wait(self, ns: int) -> None:
        self.t_ns += ns

    def go(self) -> None:
        self.put(Link(self.level, "down", "unplugged", t_ns=self.t_ns + 1))
        self.put(Link(self.level, "up", "", "bench", t_ns=self.t_ns + 1))

    def stop(self, wall: str) -> None:
        self.put(Clock(wall, "boot", "resume", self.t_ns + 1))


class Told(Engine):
    """An engine that is told facts, as its pipes would."""

    def tell(self, t_ns: int, *facts: Fact) -> list[Event]:
        """Take facts of this time; return what is said."""
        events = self.advance(t_ns)
        self._now_ns = t_ns
        self._fold(list(facts))
        return events + self._drain()


READ = Reading(
    mean_deg=0.0,
    u_deg=0.0064,
    dof=411.0,
    n=10,
    sd_deg=0.02,
    lag1=0.0,
    reached=True,
    psi_deg=None,
    u_psi_deg=None,
    resolution_deg=0.01,
    u_rounding_deg=0.0,
)
"""What the pipe of that level makes of a second: a test holds it against the real one."""


class Telling:
    """Hands that tell what comes of a level, without its samples."""

    def __init__(self, header_: Header, seed: int = 1) -> None:
        self.header = header_
        self.engine = Told(header_)
        self.events: list[Event] = []
        self._random = random.Random(seed)
        self._count = self._placement = 0
        self._heard = self._in_hand = False
        self._silent = self._turned = False
        self._first_rest = 0.0
        self.t_ns = 0
        self._tell(0, LinkFact(LEVEL, "up", "bench"))

    def lift(self) -> None:
        self._hear()
        self._take_up()
        self._later(12 * NS // 10)

    def lie(self, angle_deg: float) -> None:
        self.lie_as(self._read(angle_deg))

    def lie_as(self, reading: Reading) -> None:
        """Lay the level down until it reads this."""
        self._hear()
        self._placement += 1
        self._in_hand = False
        self._tell(NS, Rested(LEVEL, self._placement))
        self._first_rest, self._turned = reading.mean_deg, False
        self._ready(reading)

    def turn(self, angle_deg: float) -> None:
        self.turn_as(self._read(angle_deg))

    def turn_as(self, reading: Reading) -> None:
        """What it lies on is turned until it reads this."""
        self._hear()
        self._tell(NS // 10, Restless(LEVEL))
        self._later(16 * NS // 10)
        self._turned |= abs(reading.mean_deg - self._first_rest) > TURNED_DEG
        self._ready(reading)

    def _read(self, angle_deg: float) -> Reading:
        return replace(READ, mean_deg=round(angle_deg + self._random.gauss(0, READ.u_deg), 4))

    def _ready(self, reading: Reading) -> None:
        for ns in (0, 12 * NS // 10, 14 * NS // 10):  # what waits for its rest is asked again
            self._tell(ns, Ready(LEVEL, self._placement, self._turned, reading))

    def turn_over(self) -> None:
        self._hear()
        self._tell(21 * NS // 10, TurnedOver(LEVEL))

    def wait(self, ns: int) -> None:
        if self._heard and ns >= SILENT_NS:
            self._tell(SILENT_NS, LinkFact(LEVEL, "silent"), *self._gone())
            self._silent = True
            ns -= SILENT_NS
        self._later(ns)

    def go(self) -> None:
        self._tell(1, LinkFact(LEVEL, "down", "unplugged"), *self._gone())
        self._tell(1, LinkFact(LEVEL, "up", "bench"))
        self._silent = False

    def stop(self, wall: str) -> None:
        self._feed(Clock(wall, "boot", "resume", self._later(1)))
        self._take_up()
        self._later(NS)  # what comes now may have lain in a buffer

    def press(self, kind: Any = "take", seen: int | None = None, **args: Any) -> Answered:
        self._count += 1
        newest = self.events[-1].n if seen is None else seen
        name = f"press-{self._count}"
        events = self._feed(Command(name, "tester", newest, kind, args, None, self._later(1)))
        return next(e.body for e in events if isinstance(e.body, Answered))

    def end(self) -> None:
        self._feed(End("", self._later(1)))

    def _later(self, ns: int) -> int:
        self.t_ns += ns
        return self.t_ns

    def _hear(self) -> None:
        """A sample comes: first it is said that the level is heard, where it was not."""
        if not self._heard:
            back = [LinkFact(LEVEL, "back")] if self._silent else []
            self._heard, self._silent = True, False
            self._tell(NS // 10, *back, Hearing(LEVEL, heard=True))

    def _take_up(self) -> None:
        if not self._in_hand:
            self._in_hand = True
            self._tell(NS // 10, InHand(LEVEL))

    def _gone(self) -> list[Fact]:
        """The level is not heard, and whatever it lay on is over."""
        heard, held, self._heard, self._in_hand = self._heard, self._in_hand, False, True
        told: list[Fact] = [Hearing(LEVEL, heard=False)] if heard else []
        return told if held else [*told, InHand(LEVEL)]

    def _feed(self, item: Command | Clock | End) -> list[Event]:
        events = self.engine.feed(item)
        self.events += events
        return events

    def _tell(self, ns: int, *facts: Fact) -> None:
        self.events += self.engine.tell(self._later(ns), *facts)


# --- what must hold ---------------------------------------------------------------------------------


@dataclass(slots=True)
class Record:
    """What all that was said comes to, event by event; raises where it may not be so."""

    heard: int = 0
    open: set[int] = field(default_factory=set)
    taken: dict[int, float] = field(default_factory=dict)
    """What each reading read."""
    of: dict[int, Any] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    stage: str = ""
    step: int = 0
    torqued: int = 0
    """How often a wrench was called for."""
    summary: Summary | None = None

    def take(self, events: list[Event]) -> None:
        """Take what was said since."""
        for event in events[self.heard :]:
            assert event.n == self.heard + 1, "events are numbered without a gap"
            assert self.summary is None, "nothing is said after the summary"
            self.heard = event.n
            self._hear(event.body)

    def _hear(self, body: Body) -> None:
        match body:
            case Alarm():
                self.open.add(body.id)
            case Cleared():
                assert body.alarm in self.open, "only an open alarm is answered"
                self.open.discard(body.alarm)
            case StepChanged():
                self._step(body)
            case Captured():
                assert body.id == len(self.taken) + 1, "readings are numbered without a gap"
                self.taken[body.id], self.of[body.id] = body.reading_deg, body.blade
            case Withdrawn():
                assert body.id not in self.gone, "a reading is withdrawn once"
                self.gone.add(body.id)
            case Assigned():
                assert self.of[body.id] == body.before
                self.of[body.id] = body.blade
            case Summary():
                self.summary = body

    def _step(self, body: StepChanged) -> None:
        assert body.step == self.step + 1
        self.step, self.stage = body.step, body.stage
        if body.stage in AT_THE_WRENCH:
            self.torqued += 1
            assert not self.open, f"{body.label} while alarms {self.open} are not answered"

    def holds(self, case: Case) -> None:
        """Hold the ledger against what was said of it."""
        entries = case.ledger.entries
        assert len(entries) == len(self.taken), "a reading is lost"
        for number, entry in enumerate(entries, 1):
            assert entry.id == number
            assert abs(entry.reading.mean_deg - self.taken[number]) < 1e-6, "a reading changed"
            assert (entry.id in self.gone) == entry.withdrawn
            assert entry.blade == self.of[number]
        assert {alarm.id for alarm in case.alarms} == self.open
        assert not (self.open and case.step.stage in AT_THE_WRENCH)


AT_THE_WRENCH = frozenset({"tighten", "wrench"})
TAME, WILD = (60, 22, 10, 8), (40, 36, 12, 12)
"""How often somebody works, meddles, has something happen, errs."""


# --- the walk -----------------------------------------------------------------------------------------


class Walk:
    """One walk: a job, where its blades truly stand, and somebody who does anything.

    Attributes:
        hands: whose.
        record: what was said so far.
        deeds: what was done, for whoever looks why a walk failed.
        wild: more is meddled and erred than worked.
    """

    def __init__(
        self, seed: int, hands: Callable[[Header, int], Hands], *, wild: bool = False
    ) -> None:
        self.wild = wild
        self._random = random.Random(seed)
        self.world = self._random.choice(sorted(WORLDS))
        self.hands = hands(header_of(self.world), seed)
        self.record = Record()
        self.deeds: list[tuple[Any, ...]] = []
        self.blades = self.hands.header.job.propeller.blades
        self.truth = {b: AIM_DEG + self._random.uniform(-0.5, 0.5) for b in self._numbers}
        self.tilt = TILT_DEG
        self.lies_at = 0.0
        self.read_first = False
        """The last thing asked for came after a break."""

    @property
    def _numbers(self) -> range:
        return range(1, self.blades + 1)

    @property
    def case(self) -> Case:
        return self.hands.engine._case

    @property
    def stage(self) -> str:
        return self.case.step.stage

    @property
    def question(self) -> Asked | None:
        return self.case.takings.question()

    @property
    def over(self) -> bool:
        return self.hands.engine.finished

    def go(self, most: int = 24) -> "Walk":
        """Walk: so many deeds at most, and then to a record."""
        for _ in range(self._random.randint(0, most)):
            if self.over:
                break
            self._anything()
        if not self.over:
            self._random.choices((self._to_the_end, self._break_off), (4, 1))[0]()
        self._checked()
        summary = self.record.summary
        assert summary is not None, "there is no record"
        assert summary.readings == len(self.record.taken)
        assert set(summary.open_alarms) == self.record.open
        assert summary.result != "within" or not self.record.open
        return self

    def _checked(self) -> None:
        self.record.take(self.hands.events)
        self.record.holds(self.case)
        if self._random.random() < LOOKS:
            view = self.hands.engine.view()
            assert (view.stage, view.offers) == (self.stage, offered(self.case))
            assert {alarm.id for alarm in view.alarms} == self.record.open

    def _did(self, *deed: Any) -> None:
        self.deeds.append(deed)

    # --- one deed ------------------------------------------------------------------------------------

    def _anything(self) -> None:
        do = self._random.choices(
            (self.works, self._meddles, self._happens, self._errs), WILD if self.wild else TAME
        )[0]
        do()
        self._checked()

    def works(self) -> None:
        """Do what the step wants; a blade may be set carelessly."""
        question = self.question
        if self.stage == "answer":
            self._answers(accept=self._random.random() < 0.4)
        elif question is not None and self._random.random() < 0.5:
            self._looks(question)
        elif self.stage in HANDS:
            self._hands_done(self.stage)
        else:
            self._reads(careless=self._random.random() < 0.3)

    def _answers(self, *, accept: bool) -> None:
        alarm = next(iter(self.case.alarms))
        then = "accept" if accept or not settable(self.case, alarm) else "set-again"
        if alarm.partner is not None and self._random.random() < 0.5:
            then = "exchange"
        self._asks("acknowledge", id=alarm.id, then=then, by="Ada", reason="seen")

    def _looks(self, question: Asked) -> None:
        args: dict[str, Any] = {"id": question.id}
        if question.wants == "nose":
            args["nose"] = "up"
        self._asks("confirm", **args)

    def _hands_done(self, stage: str) -> None:
        """The bolts may turn what they hold."""
        if stage in {"tighten", "slacken"}:
            for blade in self._numbers:
                self.truth[blade] += self._random.choice((0.0, 0.0, 0.05, 0.3))
        answer = self._asks("done")
        assert answer.result == "done" or self.read_first, answer

    def _reads(self, *, careless: bool = False, blade: Any = None) -> None:
        """Lay the level where the step wants it, or elsewhere, and press."""
        stage, blade = self.stage, self.case.step.blade if blade is None else blade
        if stage == "set" and isinstance(blade, int):
            off = self._random.choice((0.0, 0.15, 0.9)) if careless else 0.0
            self.truth[blade] = self.case.aim_deg + off
        turns = stage == "set" and self._random.random() < 0.3
        self.lays(self._shows(blade) - (2.0 if turns else 0.0))
        if turns:
            self._turns(self._shows(blade))
        self._presses()

    def lays(self, angle_deg: float) -> None:
        """Lift the level and lay it down."""
        self._did("lift")
        self.hands.lift()
        self.lies_at = angle_deg
        self._did("lie", angle_deg)
        self.hands.lie(angle_deg)

    def _turns(self, angle_deg: float) -> None:
        self.lies_at = angle_deg
        self._did("turn", angle_deg)
        self.hands.turn(angle_deg)

    def _shows(self, blade: Any) -> float:
        """Return what the level shows where it lies."""
        half, reference = self.case.step.half, self.hands.header.job.setup.reference
        if blade != REFERENCE:
            return self.truth[blade] - self.tilt
        if reference == "both-sides":
            return self.truth[1] - self.tilt if half == 1 else self.truth[1] + self.tilt - 180.0
        lean = {1: -LEAN_DEG, 2: LEAN_DEG}.get(half, 0.0)
        return -self.tilt + lean

    def _presses(self) -> None:
        """Press; who presses a level that lies there at rest gets a reading, a question or a reason."""
        before = len(self.hands.events)
        answer = self._asks("take")
        left = [one for one in self.case.takings if one.free and one.ready and one.reading]
        if answer.result == "done" and left and self.question is None:
            said = [event.body for event in self.hands.events[before:]]
            assert any(isinstance(one, Captured | Noted) for one in said), said

    def _asks(self, kind: str, seen: int | None = None, **args: Any) -> Answered:
        self._did("press", kind, seen, args)
        case, step = self.case, self.case.step
        entries, offers = list(case.ledger.entries), offered(case)
        before = len(self.hands.events)
        answer = self.hands.press(kind, seen, **args)
        said = [event.body for event in self.hands.events[before:]]
        self.read_first = any(isinstance(one, Noted) and "stood still" in one.say for one in said)
        if answer.result == "refused":
            assert answer.say
            assert self.read_first or case.step == step
            assert case.ledger.entries == entries
        elif answer.result == "done":
            assert kind in offers
        return answer

    # --- what else people do ------------------------------------------------------------------------

    def _meddles(self) -> None:
        draw, blade = self._random, self._random.choice((0, *self._numbers))
        number = draw.randint(1, len(self.record.taken) + 1)
        who = draw.choice(({}, {"by": "Ada", "reason": "seen"}))
        asked: list[tuple[str, dict[str, Any]]] = [
            ("back", {}),
            ("back", {}),
            ("again", {}),
            ("again", {"blade": blade}),
            ("look", {"blade": blade}),
            ("look", {}),
            ("found", {}),
            ("set", {"blade": blade}),
            ("name", {"blade": blade}),
            ("aim", {"at": draw.choice(("target", "off", "held"))}),
            ("withdraw", {"id": number}),
            ("withdraw", {"id": number}),
            ("assign", {"id": number, "blade": blade}),
            ("assign", {"id": number, "blade": blade}),
            ("relieve", {"by": "Bo"}),
            ("unheard", {}),
            ("note", {"text": "tools counted"}),
            ("take", {}),
            ("done", {}) if self.stage != "finished" else ("note", {"text": "not yet"}),
            ("confirm", {"sense": draw.choice(("normal", "reversed"))}),
            ("acknowledge", {"id": max(self.record.open, default=1), "then": "accept", **who}),
            ("acknowledge", {"id": max(self.record.open, default=1), "then": "set-again"}),
            ("end", who if draw.random() < 0.1 else {}),
            ("abandon", who if draw.random() < 0.1 else {}),
        ]
        if self.wild:  # mostly what is not refused anyway
            asked = [one for one in asked if one[0] in offered(self.case)] or asked
        kind, args = draw.choice(asked)
        stale = max(0, len(self.hands.events) - draw.randint(1, 6)) if draw.random() < 0.1 else None
        self._asks(kind, stale, **args)

    def _happens(self) -> None:
        """A blade is knocked, the aircraft tilts, somebody leaves, the level is gone."""
        what = self._random.randrange(6)
        if what == 0:
            self.truth[self._random.choice(list(self._numbers))] += self._random.uniform(-1.5, 1.5)
        elif what == 1:
            self.tilt += self._random.choice((-0.4, 0.1, 0.8))
        elif what == 2:
            self._did("wait", AWAY_NS)
            self.hands.wait(AWAY_NS)
        elif what == 3:
            wall = self._random.choice(("2026-05-02T09:10:00+00:00", "2026-05-02T11:00:00+00:00"))
            self._did("stop", wall)
            self.hands.stop(wall)
        elif what == 4:
            self._did("go")
            self.hands.go()
        else:
            self._did("lift")
            self.hands.lift()
            self._did("turn_over")
            self.hands.turn_over()

    def _errs(self) -> None:
        """The level lies on another blade, on a bench, end for end; or what it lies on is turned."""
        if self.stage in {*HANDS, "answer"}:
            return
        draw = self._random
        what = draw.randrange(4)
        if what == 0:
            self._reads(blade=draw.choice((REFERENCE, *self._numbers)))
        elif what == 1:
            self.lays(draw.choice((0.0, 12.0, -17.0, 70.0)))
            self._presses()
        elif what == 2:
            self.lays(self._shows(self.case.step.blade))  # and nobody presses
        else:
            blade = self.case.step.blade
            self._reads()
            if isinstance(blade, int):
                self.truth[blade] += 0.4
            self._turns(self.lies_at + 0.4)

    # --- to a record --------------------------------------------------------------------------------

    def _to_the_end(self) -> None:
        """Whatever happened, who errs no more comes to the end."""
        for count in range(LONG_WALK):
            if self.over:
                break
            question = self.question
            if self.stage == "answer":
                self._answers(accept=count > 30 or self._random.random() < 0.5)
            elif question is not None:
                self._looks(question)
            elif self.stage in HANDS:
                self._hands_done(self.stage)
            else:
                self._reads()
            self._checked()
        assert self.over, f"no end in sight: {self.stage}"
        summary = self.record.summary
        assert summary is not None
        assert summary.state == "finished"
        assert summary.result in {"within", "too close to say", "out", "open"}

    def _break_off(self) -> None:
        """From anywhere the job may be ended, or given up."""
        who: dict[str, Any] = {"by": "Ada", "reason": "dusk"}
        how = self._random.choice(("abandon", "end", "end of the session"))
        if how == "end of the session" or (how == "end" and self.stage == "finished"):
            self._did("end")
            self.hands.end()
        else:
            assert self._asks(how, **who).result == "done"
        assert self.over


HANDS = frozenset({"prepare", "tighten", "wrench", "check off", "slacken", "finished"})


def walked(
    seed: int,
    hands: Callable[[Header, int], Hands] = Telling,
    most: int = 24,
    *,
    wild: bool = False,
) -> Walk:
    """Walk one walk; what it did and where it failed is in the error."""
    walk = Walk(seed, hands, wild=wild)
    try:
        return walk.go(most)
    except AssertionError as error:
        last = "\n".join(map(str, walk.deeds[-12:]))
        raise AssertionError(f"walk {seed}, job '{walk.world}': {error}; last:\n{last}") from error
