"""What goes wrong, and when: the incidents of a scenario, drawn by the seed and set off.

An incident waits for its step (`When`), then for its delay, then until it can happen at all: a
blade is only knocked while it is held, let alone and without a level on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from shared.events import StepChanged
from shared.job import Job
from simulator.draws import Draws
from simulator.happenings import HAPPENINGS, IN_HAND
from simulator.propeller import TICK_NS
from simulator.scenario import Incident, Range, When
from simulator.scene import Scene

NS = 1_000_000_000
AS_DRAWN = frozenset({"knock", "creep"})
"""Kinds whose size gets a drawn sign where a range is given."""


@dataclass(slots=True)
class Waiting:
    """One incident that has not happened yet, all its draws made."""

    kind: str
    blade: int
    level: str
    size_deg: float
    each: list[float]
    seconds: float
    when: When
    delay_s: float
    seen: int = 0
    due_ns: int | None = None
    last_step: int = -1

    def notice(self, step: StepChanged, now_ns: int) -> None:
        """Start the delay when the step it waits for is announced."""
        if self.due_ns is not None or step.step == self.last_step or not matches(self.when, step):
            return
        self.last_step = step.step
        self.seen += 1
        if self.seen >= self.when.nth:
            self.due_ns = now_ns + int(self.delay_s * NS) // TICK_NS * TICK_NS


def matches(when: When, step: StepChanged) -> bool:
    """Return whether a step is the one an incident waits for."""
    return (
        (not when.stage or when.stage == step.stage)
        and (when.blade is None or when.blade == step.blade)
        and (not when.label or when.label == step.label)
        and (when.placement is None or when.placement == step.placement)
    )


@dataclass(slots=True)
class Incidents:
    """All incidents of one job."""

    waiting: list[Waiting]
    happened: list[str] = field(default_factory=list)

    def tick(self, scene: Scene) -> None:
        """Set off what is due and can happen now."""
        if scene.memory.step is not None:
            for one in self.waiting:
                one.notice(scene.memory.step, scene.t_ns)
        for one in list(self.waiting):
            if one.kind not in IN_HAND and self._ready(one, scene):
                self._strike(one)
                HAPPENINGS[one.kind](scene, one)

    def claim(self, kind: str, scene: Scene) -> Waiting | None:
        """Hand the person a slip of theirs that is due, once; the person acts it out."""
        for one in self.waiting:
            if one.kind == kind and self._ready(one, scene):
                self._strike(one)
                return one
        return None

    def _strike(self, one: Waiting) -> None:
        self.waiting.remove(one)
        self.happened.append(one.kind)

    def _ready(self, one: Waiting, scene: Scene) -> bool:
        if one.due_ns is None or scene.t_ns < one.due_ns:
            return False
        if one.kind not in {"knock", "handle", "flip"}:
            return True
        free = one.blade in scene.memory.held and not scene.memory.working_on(one.blade)
        return free and scene.level.seat != one.blade


def draw_incidents(incidents: Sequence[Incident], job: Job, main: str, draws: Draws) -> Incidents:
    """Make every draw of a scenario's incidents: how many, which blade, when, how large."""
    waiting: list[Waiting] = []
    for incident in incidents:
        count = incident.count
        number = draws.one_of(count) if isinstance(count, list) else count
        victims: set[int] = set()
        for _ in range(number):
            one = _draw(incident, job, main, draws, victims)
            victims.add(one.blade)
            waiting.append(one)
    return Incidents(waiting)


def _draw(incident: Incident, job: Job, main: str, draws: Draws, taken: set[int]) -> Waiting:
    if incident.when == "drawn":
        when, blade = _moment(incident.blade, job, draws, taken)
    else:
        when, blade = incident.when, incident.blade or _another(job, draws, incident.when)
    return Waiting(
        kind=incident.kind,
        blade=blade,
        level=incident.level or main,
        size_deg=_size(incident.size_deg, draws, signed=incident.kind in AS_DRAWN),
        each=[_size(size, draws, signed=False) for size in incident.each],
        seconds=draws.between(*incident.seconds),
        when=when,
        delay_s=draws.between(*when.after_s),
    )


def _size(size: float | Range, draws: Draws, *, signed: bool) -> float:
    if isinstance(size, tuple):
        return draws.between(*size) * (draws.sign() if signed else 1.0)
    return size


def _another(job: Job, draws: Draws, when: When) -> int:
    others = [b for b in range(1, job.propeller.blades + 1) if b != when.blade]
    return draws.one_of(others)


def _moment(blade: int | None, job: Job, draws: Draws, taken: set[int]) -> tuple[When, int]:
    """Draw a moment while some blade is held, let alone, and still to be read afterwards."""
    moments = [
        (when, victim)
        for when, victim in possible_moments(job)
        if victim not in taken and blade in {None, victim}
    ]
    when, victim = draws.one_of(moments or possible_moments(job))
    return when.model_copy(update={"after_s": (1.0, 4.0)}), victim


def possible_moments(job: Job) -> list[tuple[When, int]]:
    """List steps at which a held blade may be knocked, and which: early enough to be read again.

    Only blades that are not worked on, and only before the bolts are at torque.
    """
    blades = range(1, job.propeller.blades + 1)
    moments: list[tuple[When, int]] = []
    for now in blades:
        for stage in ("set", "baseline"):
            moments += [(When(stage=stage, blade=now), victim) for victim in range(1, now)]
    rounds = job.plan.in_order
    for one in rounds:
        stage = one.name
        if stage in {"torque", "final"} or one.read != "all":
            continue
        later = one != rounds[-1]
        moments += [
            (When(stage=stage, blade=now), victim)
            for now in blades
            for victim in blades
            if victim > now or (later and victim != now)
        ]
    return moments
