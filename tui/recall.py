"""What a screen remembers of the events it has heard: a fold without clock or I/O."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from shared.events import (
    Alarm,
    Asked,
    Body,
    Captured,
    Event,
    Linked,
    Noted,
    Opened,
    StepChanged,
)
from shared.remembered import Remembered
from shared.sentences import clock, sentence

Mark = Literal["", "alarm", "caution", "read"]
LOG_LENGTH = 100


def round_of(stage: str, label: str) -> str:
    """Name of the round a stage belongs to: tightening is part of the round it is for."""
    of_the_hands = dict.fromkeys(("tighten", "wrench", "check off"), label)
    return {**of_the_hands, "baseline": "set"}.get(stage, stage)


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
class Recall(Remembered):
    """Also the log, cautions of the step, stages so far, and reasons of the links."""

    last_n: int = 0
    log: deque[Logged] = field(default_factory=lambda: deque(maxlen=LOG_LENGTH))
    cautions: list[str] = field(default_factory=list)
    reasons: dict[str, str] = field(default_factory=dict)
    stages: list[str] = field(default_factory=list)
    _cautioned_ns: int = -1

    def hear(self, event: Event) -> None:
        """Take the next event; one that was heard before changes nothing."""
        if event.n <= self.last_n:
            return
        self.last_n = event.n
        if event.t_ns != self._cautioned_ns and isinstance(event.body, StepChanged):
            self.cautions = []  # one of the same instant says why this step comes
        self._keep(event.body)
        if isinstance(event.body, Noted) and event.body.kind == "caution":
            self._cautioned_ns = event.t_ns
        said = _words(event.body)
        if said:
            self.log.append(Logged(clock(event.t_ns), said, _mark(event.body)))

    def _keep(self, body: Body) -> None:
        self.fold(body)
        match body:
            case StepChanged():
                self.stages.append(round_of(body.stage, body.label))
            case Noted(kind="caution"):
                self.cautions.append(body.say)
            case Linked():
                self.reasons[body.level] = body.reason

    def newest(self, count: int) -> Sequence[Logged]:
        """The last lines of the log, oldest first."""
        return list(self.log)[-count:] if count > 0 else []
