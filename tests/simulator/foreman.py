"""A scripted program for the hangar's tests: asks for steps in order, reads what the level sends.

It follows the plan of the job and believes every reading; it judges a blade by a plain limit
against its baseline. It is not the product's engine, only something for the person to work with.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import TypeVar

from daemon.workflow.hands import hands_of
from shared.events import (
    REFERENCE,
    Alarm,
    AlarmKind,
    Answered,
    Asked,
    BladeId,
    Body,
    Captured,
    Cleared,
    Event,
    Held,
    StepChanged,
    Summary,
)
from shared.view import Live, View
from simulator.hangar import Chunk, Hangar, Plug, Press

Kind = TypeVar("Kind")
NS = 1_000_000_000
STEP_NS = 50_000_000
WINDOW = 10


@dataclass
class Foreman:
    """Runs one hangar to its end; keeps everything that was said and sent."""

    hangar: Hangar
    limit_deg: float = 0.15
    deaf: bool = False
    """Never takes a reading: the person must not hang."""
    events: list[Event] = field(default_factory=list)
    outs: list[Chunk | Press | Plug] = field(default_factory=list)
    shown: list[float] = field(default_factory=list)
    lain_s: list[float] = field(default_factory=list)
    """How long the level had lain at each press."""
    _fresh: list[Event] = field(default_factory=list)
    _text: str = ""
    _steps: int = 0
    _phi: float = 0.0
    _base: dict[BladeId, list[float]] = field(default_factory=dict)
    _press: Press | None = None
    _step: StepChanged | None = None
    _alarms: int = 0

    def run(self, most_s: float = 900.0) -> "Foreman":
        """Work until the hangar is finished."""
        script = self._script()
        next(script, None)
        t_ns = 0
        while not self.hangar.finished and t_ns < most_s * NS:
            t_ns += STEP_NS
            heard, self._fresh = self._fresh, []
            for out in self.hangar.advance(t_ns, heard, partial(self._view, t_ns)):
                self.outs.append(out)
                if isinstance(out, Chunk):
                    self._hear_level(out)
                elif isinstance(out, Press):
                    self._press = out
                    self.lain_s.append(self.hangar._scene.level._seated_s)
            next(script, None)
        return self

    def said(self, kind: type) -> list[Event]:
        """Return all events of one kind."""
        return [event for event in self.events if isinstance(event.body, kind)]

    def bodies(self, kind: type[Kind]) -> list[tuple[int, Kind]]:
        """Return time and body of all events of one kind."""
        return [(e.t_ns, e.body) for e in self.events if isinstance(e.body, kind)]

    # -- the plan ------------------------------------------------------------------------

    def _script(self) -> Iterator[None]:
        job = self.hangar.job
        yield from self._wait_done("prepare", "")
        yield from self._reading("reference", REFERENCE, job.plan.reference_placements)
        for blade in range(1, job.propeller.blades + 1):
            yield from self._set(blade)
        for one in job.plan.in_order:
            for hand in hands_of(job.plan, one):
                yield from self._wait_done(hand.stage, one.name)
            yield from self._round(one.name)
        yield from self._wait_done("finished", "")
        self._say(Summary("finished", [], None, None, None, None, [], [], 0))

    def _set(self, blade: int) -> Iterator[None]:
        yield from self._reading("set", blade, 1)
        yield from self._reading("baseline", blade, self.hangar.job.plan.baseline_placements)
        mean = math.fsum(self._base[blade]) / len(self._base[blade])
        self._say(Held(blade, mean, 0.06, 0.0, "in"))

    def _round(self, stage: str) -> Iterator[None]:
        before = self._phi
        yield from self._reading(stage, REFERENCE, 1)
        if abs(-self._base[REFERENCE][-1] - before) > self.limit_deg:
            self._phi = -self._base[REFERENCE][-1]
            yield from self._alarm(stage, REFERENCE, before)
        for blade in range(1, self.hangar.job.propeller.blades + 1):
            before = math.fsum(self._base[blade]) / len(self._base[blade])
            yield from self._reading(stage, blade, 1)
            if abs(self._base[blade][-1] - before) > self.limit_deg:
                yield from self._alarm(stage, blade, before)

    def _alarm(self, stage: str, blade: BladeId, before: float) -> Iterator[None]:
        self._alarms += 1
        number = self._alarms
        kind: AlarmKind = "shifted" if blade == REFERENCE else "moved"
        self._say(Alarm(number, blade, kind, before, f"{blade} {kind}"))
        self._announce("answer", blade, stage, 1, 1)
        while True:
            press, self._press = self._press, None
            if press is not None and press.kind == "acknowledge" and press.args["id"] == number:
                break
            yield
        then = press.args["then"]
        assert then in {"set-again", "accept"}
        self._say(Cleared(number, "set-again" if then == "set-again" else "accept", "Ada"))
        if then == "set-again" and isinstance(blade, int):
            yield from self._set(blade)

    def _wait_done(self, stage: str, label: str) -> Iterator[None]:
        self._announce(stage, None, label, 1, 1)
        while self._press is None or self._press.kind != "done":
            self._press = None
            yield
        self._press = None

    def _reading(self, stage: str, blade: BladeId, placements: int) -> Iterator[None]:
        kept: list[float] = []
        for placement in range(1, placements + 1):
            self._announce(stage, blade, "", placement, placements)
            self._press = None
            yield from self._capture(kept, stage, blade, placement)
        if stage == "reference":
            self._phi = -math.fsum(kept) / len(kept)
        self._base[blade] = kept

    def _capture(
        self, kept: list[float], stage: str, blade: BladeId, placement: int
    ) -> Iterator[None]:
        while True:
            press, self._press = self._press, None
            if press is not None and press.kind == "take" and not self.deaf:
                if not self._still():
                    self._say(Answered("c", "stub", "refused", "not still"))
                elif blade != REFERENCE and self.shown[-1] < 0.0:
                    yield from self._ask(blade)
                else:
                    break
            yield
        tilt = math.fsum(self.shown[-WINDOW:]) / WINDOW
        angle = -tilt if blade == REFERENCE else tilt + self._phi
        kept.append(angle if blade != REFERENCE else tilt)
        n = len(self.events) + 1
        self._say(
            Captured(
                n, blade, stage, angle, 0.05, WINDOW, "chord", tilt, None, None, "normal",
                placement, "press",
            )
        )  # fmt: skip

    def _ask(self, blade: BladeId) -> Iterator[None]:
        """A reading with the wrong sign: ask, and wait for `again` or `confirm`."""
        self._say(Asked(1, blade, self.shown[-1], "look: does the level lie end for end?"))
        while self._press is None or self._press.kind not in {"again", "confirm"}:
            yield

    def _still(self) -> bool:
        window = self.shown[-WINDOW:]
        return len(window) == WINDOW and max(window) - min(window) < 0.5

    def _announce(self, stage: str, blade: BladeId | None, label: str, at: int, of: int) -> None:
        self._steps += 1
        self._step = StepChanged(self._steps, stage, blade, label, at, of, f"{stage} {blade}")
        self._say(self._step)

    def _say(self, body: Body) -> None:
        event = Event(len(self.events) + 1, self.hangar.now_ns, body)
        self.events.append(event)
        self._fresh.append(event)

    # -- ears and screen -------------------------------------------------------------------

    def _hear_level(self, chunk: Chunk) -> None:
        self._text += chunk.data.decode("ascii")
        *lines, self._text = self._text.split("\r\n")
        for line in lines:
            groups = line.partition("*")[0].split(",")
            if "BLADE" in groups:
                self.shown.append(float(groups[groups.index("BLADE") - 2]))

    def _view(self, t_ns: int) -> View | None:
        if not self.shown or self._step is None:
            return None
        angle = self.shown[-1] + self._phi
        error = angle - self.hangar.job.target.angle_deg
        live = Live(angle, error, None, "", "moving", 0.0, None, may_take=True, taken=False)
        step = self._step
        return View(
            t_ns, len(self.events), "", 0.2, 0.2, step.step, step.stage, step.blade, "", 1, 1,
            "", "", live, (), None, (), (), (), "", finished=False,
        )  # fmt: skip
