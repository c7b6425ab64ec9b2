"""Alarms: what needs an answer, until it has one. Nothing dismisses itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from shared.angles import stated
from shared.events import Alarm, AlarmKind, BladeId, Cleared, Say

How = Literal["set-again", "accept", "exchange", "re-reading", "confirm"]


@dataclass(frozen=True, slots=True)
class OpenAlarm:
    """An alarm nobody has answered yet."""

    id: int
    blade: BladeId
    kind: AlarmKind
    last_good_deg: float | None
    say: str
    partner: BladeId | None = None
    blades: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Acceptance:
    """An alarm that a person answered by taking what was found as it is."""

    blade: BladeId
    kind: AlarmKind
    by: str
    reason: str


class Alarms:
    """The open alarms by number, and the answer that waits for a moment in which it can be taken back.

    say: announces an event.
    """

    def __init__(self, say: Say) -> None:
        self._say = say
        self._open: dict[int, OpenAlarm] = {}
        self._next = 1
        self._waits: OpenAlarm | None = None
        self._due_ns = 0

    def __iter__(self) -> Iterator[OpenAlarm]:
        """The open ones, the oldest first."""
        return iter(list(self._open.values()))

    def __len__(self) -> int:
        """How many are open."""
        return len(self._open)

    def get(self, number: int) -> OpenAlarm | None:
        """Return an open alarm by its number."""
        return self._open.get(number)

    def of(self, blade: BladeId | None) -> list[OpenAlarm]:
        """Return the open alarms of one blade."""
        return [alarm for alarm in self if alarm.blade == blade]

    def call(
        self,
        blade: BladeId,
        kind: AlarmKind,
        say: str,
        last_good_deg: float | None = None,
        partner: BladeId | None = None,
        blades: tuple[int, ...] = (),
    ) -> None:
        """Something needs an answer from here on. partner, blades: see `Alarm`."""
        number, self._next = self._next, self._next + 1
        good = None if last_good_deg is None else stated(last_good_deg)
        self._open[number] = OpenAlarm(number, blade, kind, good, say, partner, blades)
        self._say(Alarm(number, blade, kind, good, say, partner, blades))

    def clear(self, alarm: OpenAlarm, how: How, by: str = "", reason: str = "") -> None:
        """It has its answer."""
        del self._open[alarm.id]
        if self._waits == alarm:
            self.leave()
        self._say(Cleared(alarm.id, how, by, reason))

    def wait(self, alarm: OpenAlarm, due_ns: int) -> None:
        """Its blades are set again at that time, unless it is left or answered before."""
        self._waits, self._due_ns = alarm, due_ns

    def leave(self) -> None:
        """The answer that waits is taken back: the alarm stands."""
        self._waits = None

    @property
    def waits(self) -> OpenAlarm | None:
        """The alarm whose blades are set again in a moment."""
        return self._waits

    @property
    def due_ns(self) -> int | None:
        """When they are; None: nothing waits."""
        return None if self._waits is None else self._due_ns
