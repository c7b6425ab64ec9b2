"""What the person has heard: events folded into what matters for the hands."""

from dataclasses import dataclass, field

from shared.events import (
    Alarm,
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


@dataclass(slots=True)
class Memory:
    """Facts heard so far; `progress_ns` is when the work last went on."""

    step: StepChanged | None = None
    step_ns: int = 0
    steps: int = 0
    captured: int = 0
    reading: int = 0
    """Number of the last reading taken."""
    last: dict[BladeId | None, int] = field(default_factory=dict)
    """Number of the last reading of each blade."""
    answered: int = 0
    answer: Answered | None = None
    alarms: dict[int, Alarm] = field(default_factory=dict)
    asked: list[Asked] = field(default_factory=list)
    held: set[int] = field(default_factory=set)
    set_again: dict[BladeId, int] = field(default_factory=dict)
    over: bool = False
    progress_ns: int = 0

    def hear(self, event: Event, now_ns: int) -> None:
        """Take one event in at the moment it is heard."""
        body = event.body
        if isinstance(body, StepChanged):
            self._step(body, now_ns)
        elif isinstance(body, Captured):
            self.captured += 1
            self.reading = body.id
            self.last[body.blade] = body.id
            self.progress_ns = now_ns
        elif isinstance(body, Answered):
            self.answered += 1
            self.answer = body
        else:
            self._facts(body)

    def _step(self, step: StepChanged, now_ns: int) -> None:
        self.step, self.step_ns, self.progress_ns = step, now_ns, now_ns
        self.steps += 1
        if step.stage == "set" and isinstance(step.blade, int):
            self.held.discard(step.blade)

    def _facts(self, body: Body) -> None:
        if isinstance(body, Held):
            self.held.add(body.blade)
        elif isinstance(body, Alarm):
            self.alarms[body.id] = body
        elif isinstance(body, Cleared):
            self._cleared(body)
        elif isinstance(body, Asked):
            self.asked.append(body)
        elif isinstance(body, Summary):
            self.over = True

    def _cleared(self, body: Cleared) -> None:
        alarm = self.alarms.pop(body.alarm, None)
        if alarm is None or body.how != "set-again":
            return
        self.set_again[alarm.blade] = self.set_again.get(alarm.blade, 0) + 1
        if isinstance(alarm.blade, int):
            self.held.discard(alarm.blade)

    def working_on(self, blade: int) -> bool:
        """Return whether the present step is about this blade."""
        return self.step is not None and self.step.blade == blade
