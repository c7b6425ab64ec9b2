"""What a screen remembers of the events it has heard: a fold without clock or I/O."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from shared.events import (
    Alarm,
    Asked,
    Assigned,
    BladeId,
    Body,
    Captured,
    Event,
    Held,
    Judged,
    Linked,
    Noted,
    Opened,
    StepChanged,
    Summary,
    Withdrawn,
)
from shared.sentences import clock, sentence

Mark = Literal["", "alarm", "caution", "read"]
LOG_LENGTH = 100


def round_of(stage: str, label: str) -> str:
    """Name of the round a stage belongs to: tightening is part of the round it is for."""
    return {"tighten": label, "baseline": "set"}.get(stage, stage)


@dataclass(frozen=True, slots=True)
class Logged:
    """One line of the log: session time, sentence, and what kind of line it is."""

    at: str
    say: str
    mark: Mark


def _mark(body: Body) -> Mark:
    if isinstance(body, Alarm | Asked):
        return "alarm"
    if isinstance(body, Captured):
        return "read"
    return "caution" if isinstance(body, Noted) and body.kind == "caution" else ""


def _words(body: Body) -> str:
    # The target stays out of the log: rounds of reading again must not show it.
    return f"session open: {body.job}" if isinstance(body, Opened) else sentence(body)


@dataclass(slots=True)
class Recall:
    """Log, readings that count, cautions of the step, reasons of the links."""

    last_n: int = 0
    log: deque[Logged] = field(default_factory=lambda: deque(maxlen=LOG_LENGTH))
    readings: list[Captured] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    reasons: dict[str, str] = field(default_factory=dict)
    stages: list[str] = field(default_factory=list)
    summary: Summary | None = None
    was_deg: dict[BladeId, float] = field(default_factory=dict)
    """Where each blade was before the round that is being read."""
    _cautioned_ns: int = -1

    def hear(self, event: Event) -> None:
        """Take the next event; one that was heard before changes nothing."""
        if event.n <= self.last_n:
            return
        self.last_n = event.n
        if event.t_ns != self._cautioned_ns and isinstance(event.body, StepChanged):
            self.cautions = []  # one of the same instant says why this step comes
        self._fold(event.body)
        if isinstance(event.body, Noted) and event.body.kind == "caution":
            self._cautioned_ns = event.t_ns
        said = _words(event.body)
        if said:
            self.log.append(Logged(clock(event.t_ns), said, _mark(event.body)))

    def _fold(self, body: Body) -> None:
        match body:
            case StepChanged():
                self.stages.append(round_of(body.stage, body.label))
            case Captured():
                self.readings.append(body)
            case Assigned():
                self.readings = [
                    replace(one, blade=body.blade) if one.id == body.id else one
                    for one in self.readings
                ]
            case Withdrawn():
                self.readings = [one for one in self.readings if one.id != body.id]
            case Noted(kind="caution"):
                self.cautions.append(body.say)
            case Held():
                self.was_deg[body.blade] = body.angle_deg
            case Judged():
                angles = {row["blade"]: row["angle_deg"] for row in body.blades}
                self.was_deg |= {blade: deg for blade, deg in angles.items() if deg is not None}
            case Linked():
                self.reasons[body.level] = body.reason
            case Summary():
                self.summary = body

    def for_display(self) -> tuple[Captured | None, Summary | None, float | None]:
        """The newest reading, the end, and where the blade of that reading was before."""
        taken = self.readings[-1] if self.readings else None
        was = self.was_deg.get(taken.blade) if taken and taken.blade is not None else None
        return taken, self.summary, was

    def newest(self, count: int) -> Sequence[Logged]:
        """The last lines of the log, oldest first."""
        return list(self.log)[-count:] if count > 0 else []
