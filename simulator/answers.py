"""What the person does about alarms and questions.

A reading taken while the level lay end for end, or in another mode, is withdrawn as soon as an
alarm makes the person look; the level is put right first.
"""

from shared.events import Alarm
from simulator.body import Act
from simulator.draws import Draws
from simulator.hands import Hands
from simulator.incidents import Incidents
from simulator.scenario import PersonTable
from simulator.scene import Scene


class Answers(Hands):
    """Hands that think."""

    def __init__(
        self,
        scene: Scene,
        table: PersonTable,
        tolerance_deg: float,
        incidents: Incidents,
        draws: Draws,
    ) -> None:
        super().__init__(scene, table, tolerance_deg, incidents, draws)
        self.mixed: dict[int, int] = {}
        """Blades taken for each other: the one asked for, the one that was read."""
        self.lets_look_s = 0.0
        """How long the first alarm stands before anything is done about it."""
        self.lets_look = False
        """It stands so now."""
        self._doubtful: list[int] = []
        self._last_reading = 0

    def watch_level(self) -> None:
        """Keep in mind which readings a look at the level would throw doubt on."""
        level = self.scene.level
        taken = self.memory.reading
        if taken != self._last_reading and (level.reversed or level.relative_to is not None):
            self._doubtful.append(taken)
        self._last_reading = taken

    def answer(self) -> Act:
        """Answer the oldest open alarm: withdraw bad readings, set again, or accept."""
        yield from self.pause(1.0, 2.5)
        yield from self._let_look()
        if self._doubtful:
            yield from self._throw_out()
            return
        if not self.memory.alarms:
            return
        alarm = self.memory.alarms[min(self.memory.alarms)]
        then, reason = self._decide(alarm)
        args: dict[str, str | int | float] = {"id": alarm.id, "then": then}
        self.press("acknowledge", {**args, "by": self.table.name, "reason": reason})
        yield from self.until(lambda: alarm.id not in self.memory.alarms, 5.0)

    def _let_look(self) -> Act:
        """Leave the first alarm standing for whoever watches, unless they answer it."""
        seconds, self.lets_look_s = self.lets_look_s, 0.0
        if seconds and self.memory.alarms:
            self.lets_look = True
            yield from self.until(lambda: not self.memory.alarms, seconds)
            self.lets_look = False

    def _decide(self, alarm: Alarm) -> tuple[str, str]:
        kind, blade = alarm.kind, alarm.blade
        if kind == "exchanged" and alarm.partner in self.mixed:
            self.mixed.clear()
            return "exchange", "took one for the other"
        if kind in {"shifted", "level"} or blade == "reference":
            return "accept", "looked: the aircraft or the level, not a blade"
        if self.memory.set_again.get(blade, 0) >= self.table.patience:
            return "accept", "set again more than once, left as it is"
        if alarm.blades:
            return "set-again", "the set is out"
        rows = () if self.view is None else self.view.blades
        if any(row.blade == blade and row.tolerance == "in" for row in rows):
            return "accept", "still within tolerance"
        return "set-again", "to be set again"

    def _throw_out(self) -> Act:
        self._put_right()
        yield from self.pause(1.0, 2.0)
        while self._doubtful:
            reading = self._doubtful.pop(0)
            self.press("withdraw", {"id": reading, "reason": "the level lay or stood wrong"})
            yield from self.pause(0.6, 1.0)

    def _put_right(self) -> bool:
        """Look at the level; return whether anything was wrong with how it lay or stood."""
        level = self.scene.level
        wrong = level.reversed or level.relative_to is not None
        if wrong:
            level.lift()
            level.reversed, level.relative_to = False, None
        return wrong

    def look(self) -> Act:
        """Look into a question: mend what is wrong and read again, or say it is right."""
        asked = self.memory.asked.pop(0)
        yield from self.pause(1.5, 3.0)
        if self._put_right():
            yield from self.pause(1.0, 2.0)
            self.press("again")
        elif asked.wants == "nose":
            up = self.scene.propeller.theta_deg > 0.0
            self.press("confirm", {"id": asked.id, "nose": "up" if up else "down"})
        else:
            self.press("confirm", {"id": asked.id})
        yield from self.pause(0.5, 0.8)
