"""The one at the blades: hears the program, sees its screen, moves blades and level, presses keys.

Written as generators: each `yield` is 10 ms of waiting. What the hands do step by step is here;
what is done with alarms and questions is in `simulator.answers`.
"""

from collections.abc import Callable, Generator
from dataclasses import dataclass

from shared.events import BladeId, StepChanged
from shared.inputs import CommandKind
from shared.view import BladeView, View
from simulator.draws import Draws
from simulator.incidents import Incidents
from simulator.instrument import Seat
from simulator.propeller import TICK_NS
from simulator.scenario import PersonTable
from simulator.scene import Scene

Act = Generator[None, None, None]
Saw = Generator[None, None, bool]
REACTION_TICKS = 25
RESTART_S, GIVE_UP_S = 60.0, 600.0
NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Press:
    """A pedal or the helper's key."""

    t_ns: int
    kind: CommandKind
    args: dict[str, str | int | float]


class Person:
    """Two busy hands, and a foot on a pedal."""

    def __init__(
        self,
        scene: Scene,
        table: PersonTable,
        target: tuple[float, float],
        incidents: Incidents,
        draws: Draws,
    ) -> None:
        self.scene = scene
        self.memory = scene.memory
        self.table = table
        self.target_deg, self.tolerance_deg = target
        self.incidents = incidents
        self.draws = draws
        self.view: View | None = None
        self.pressed: list[Press] = []
        self.stuck = ""
        self.finished = False
        self._done_step = -1
        self._answers = 0
        self._restarted_ns = 0
        self._acting = self.work()

    def tick(self) -> None:
        """Go on for 10 ms; begin the step over when nothing has gone on for a minute."""
        if self.finished:
            return
        since = max(self.memory.progress_ns, self._restarted_ns)
        if self.scene.t_ns - self.memory.progress_ns > GIVE_UP_S * NS:
            step = self.memory.step
            self.stuck = f"no progress for {GIVE_UP_S:.0f} s in step {step}"
            self.finished = True
        elif self.scene.t_ns - since > RESTART_S * NS:
            self._restarted_ns = self.scene.t_ns
            self._done_step = -1
            self.scene.level.lift()
            self._acting = self.work()
        next(self._acting, None)
        self.finished = self.finished or self.memory.over

    # -- the work, step by step ---------------------------------------------------------

    def work(self) -> Act:
        """Do whatever step is announced, for as long as it takes."""
        while True:
            step = self.memory.step
            if step is None or step.step == self._done_step:
                yield from self._between_steps()
                continue
            yield from self.pause(0.3, 0.8)
            if self.memory.step is step:
                yield from self._do(step)

    def _between_steps(self) -> Act:
        """Wait for the program to go on; after 8 s do the step once more."""
        step = self.memory.step
        moved_on = yield from self.until(lambda: self.memory.step is not step, 8.0)
        if not moved_on and step is not None:
            self._done_step = -1

    def _do(self, step: StepChanged) -> Act:
        if self.memory.asked:
            yield from self.look()
        elif step.stage == "answer":
            yield from self.answer()
        elif step.stage in {"prepare", "tighten", "finished"}:
            yield from self._work_of_hands(step)
        elif step.stage == "set" and isinstance(step.blade, int):
            yield from self._set(step, step.blade)
        elif step.blade is not None:
            yield from self._read(step, step.blade)
        else:
            yield from self._work_of_hands(step)

    def _work_of_hands(self, step: StepChanged) -> Act:
        """Make safe, tighten, look round: lay the level down, work, say `done`."""
        self._lay_down(always=True)
        if step.stage == "tighten":
            yield from self.pause(4.0, 6.0)
        else:
            yield from self.pause(1.0, 2.0)
        self.press("done")
        yield from self.until(lambda: self.memory.step is not step, 5.0)

    def _read(self, step: StepChanged, seat: BladeId) -> Act:
        """Put the level where it is asked for, take, lift."""
        yield from self._approach(seat)
        before = self.memory.captured
        yield from self._put(seat)
        yield from self.pause(0.3, 1.0)
        taken = yield from self._take(step, before)
        if taken or self.memory.step is not step:
            yield from self._lift(seat)
            self._finish(step)

    def _finish(self, step: StepChanged) -> None:
        self._done_step = step.step

    def _take(self, step: StepChanged, before: int) -> Saw:
        """Press until the reading is taken; False when it cannot be had now."""
        for _ in range(6):
            if self.memory.captured > before:
                return True
            self._answers = self.memory.answered
            self.press("take")
            yield from self.until(lambda: self._interrupted(step, before) or self._denied(), 12.0)
            if self.memory.captured > before:
                return True
            if self.memory.step is not step or self.memory.asked or self._fell():
                return False
            yield from self.pause(1.0, 1.6)
        return False

    def _denied(self) -> bool:
        """Return whether the last press was answered with no."""
        answer = self.memory.answer
        fresh = self.memory.answered > self._answers
        return fresh and answer is not None and answer.result != "done"

    def _interrupted(self, step: StepChanged, before: int) -> bool:
        memory = self.memory
        asked, fell = bool(memory.asked), self._fell()
        return memory.captured > before or memory.step is not step or asked or fell

    def _fell(self) -> bool:
        return self.scene.level.seat in {"hand", "bench"}

    def _set(self, step: StepChanged, wanted: int) -> Act:
        """Turn the blade until the number says so; let go; wait for it to be taken."""
        blade = yield from self._out_of_order(step, wanted)
        if blade != wanted and self.memory.step is not step:
            return
        yield from self._approach(blade)
        before = self.memory.captured
        yield from self._put(blade)
        yield from self.pause(0.4, 0.9)
        yield from self._nudge(step, blade)
        self._let_go(blade)
        yield from self.until(lambda: self._interrupted(step, before), 6.0)
        taken = yield from self._take(step, before)
        if taken or self.memory.step is not step:
            yield from self._lift(blade)
            self._finish(step)

    def _out_of_order(self, step: StepChanged, wanted: int) -> Generator[None, None, int]:
        unsaid = self.incidents.claim("unsaid", self.scene)
        if unsaid is not None:
            return unsaid.blade
        slip = self.incidents.claim("order", self.scene)
        if slip is None or slip.blade == wanted:
            return wanted
        yield from self.pause(0.5, 1.0)
        self.press("name", {"blade": slip.blade})
        yield from self.until(lambda: self.memory.step is not step, 1.5)
        return slip.blade

    # -- hands ----------------------------------------------------------------------------

    def _approach(self, seat: BladeId) -> Act:
        """Level off, the propeller turned until the blade is horizontal."""
        if not self._fell():
            yield from self._lift(self.scene.level.seat)
        if not isinstance(seat, int) or abs(self.scene.propeller.psi(seat)) < 3.0:
            yield from self.pause(0.5, 1.0)
            return
        self._lay_down(always=False)
        self._by_handle()
        seconds = self.scene.propeller.turn_to(seat)
        yield from self.pause(seconds + 0.3, seconds + 0.9, hurry=False)
        self.scene.level.lift()

    def _by_handle(self) -> None:
        slip = self.incidents.claim("handle", self.scene)
        if slip is not None:
            self.scene.propeller.change(slip.blade, slip.size_deg, "handle")

    def _lay_down(self, *, always: bool) -> None:
        if always or self.draws.chance(self.table.bench):
            self.scene.level.put("bench")

    def _put(self, seat: BladeId) -> Act:
        yield from self.pause(0.6, 1.2)
        level = self.scene.level
        level.reversed = self.incidents.claim("reversed", self.scene) is not None
        if level.reversed:
            self.scene.propeller.note_level(0.0, "reversed", lasting=False)
        where: Seat = "hub" if seat == "reference" else seat
        level.put(where, self.scene.propeller.table.wobble_deg if where == "hub" else 0.0)

    def _lift(self, seat: BladeId | Seat) -> Act:
        """Take the level off, which may turn a loose blade a little."""
        yield from self.pause(0.2, 0.5)
        propeller = self.scene.propeller
        if isinstance(seat, int) and self.scene.level.seat == seat:
            propeller.change(seat, self.draws.normal(propeller.table.lift_sd_deg))
        self.scene.level.lift()
        yield from self.pause(0.4, 0.8)

    def _nudge(self, step: StepChanged, blade: int) -> Act:
        """Follow the number with the blade, a quarter of a second behind it."""
        calm = 0
        for _ in range(60):
            error = self._seen_error()
            if self.memory.step is not step or self.memory.asked or self._fell():
                return
            if error is None or abs(error) > 30.0:
                calm += 1  # nothing to follow, or nonsense: wait for words
            elif abs(error) <= self.tolerance_deg / 3.0:
                calm += 1
            else:
                calm = 0
                yield from self._turn_blade(blade, -error)
            if calm >= (3 if error is not None else 30):
                return
            for _ in range(REACTION_TICKS):
                yield

    def _seen_error(self) -> float | None:
        return None if self.view is None else self.view.live.error_deg

    def _turn_blade(self, blade: int, wish_deg: float) -> Act:
        """Turn a blade by hand: it sticks, slips and overshoots; large ways take longer."""
        miss = 0.05 + 0.25 * (1.0 - self.table.skill)
        wish = max(-4.0, min(4.0, wish_deg)) * (1.0 + self.draws.normal(miss))
        breakaway = self.draws.between(0.02, 0.10)
        if abs(wish) < breakaway and self.draws.chance(0.5):
            wish = 0.0  # stuck
        elif abs(wish) < 0.5:
            wish += self.draws.normal(0.04 * (1.3 - self.table.skill))
        ticks = 15 + int(abs(wish) * 15.0)
        for _ in range(ticks):
            self.scene.propeller.change(blade, wish / ticks)
            yield

    def _let_go(self, blade: int) -> None:
        """The blade creeps back a little within two seconds of letting go."""
        propeller = self.scene.propeller
        propeller.drift(blade, self.draws.normal(propeller.table.relax_sd_deg), 1.2)

    # -- alarms and questions ---------------------------------------------------------------

    def answer(self) -> Act:
        """Answer the oldest open alarm: set again, or accept with a reason."""
        yield from self.pause(1.0, 2.5)
        if not self.memory.alarms:
            return
        alarm = self.memory.alarms[min(self.memory.alarms)]
        then, reason = self._decide(alarm.kind, alarm.blade)
        args: dict[str, str | int | float] = {"id": alarm.id, "then": then}
        self.press("acknowledge", {**args, "by": self.table.name, "reason": reason})
        yield from self.until(lambda: alarm.id not in self.memory.alarms, 5.0)

    def _decide(self, kind: str, blade: BladeId) -> tuple[str, str]:
        if kind in {"shifted", "level"} or blade == "reference":
            return "accept", "looked: the aircraft or the level, not a blade"
        if self.memory.set_again.get(blade, 0) >= self.table.patience:
            return "accept", "set again more than once, left as it is"
        if any(row.blade == blade and row.tolerance == "in" for row in self._rows()):
            return "accept", "still within tolerance"
        return "set-again", "to be set again"

    def _rows(self) -> tuple[BladeView, ...]:
        return () if self.view is None else self.view.blades

    def look(self) -> Act:
        """Look into a question: mend what is wrong and read again, or say it is right."""
        asked = self.memory.asked.pop(0)
        yield from self.pause(1.5, 3.0)
        level = self.scene.level
        if level.reversed or level.relative_to is not None:
            level.lift()
            level.reversed, level.relative_to = False, None
            yield from self.pause(1.0, 2.0)
            self.press("again")
        else:
            self.press("confirm", {"id": asked.id})
        yield from self.pause(0.5, 0.8)

    # -- waiting and pressing --------------------------------------------------------------

    def press(self, kind: CommandKind, args: dict[str, str | int | float] | None = None) -> None:
        """Press a key now."""
        self.pressed.append(Press(self.scene.t_ns, kind, args or {}))

    def pause(self, low_s: float, high_s: float, *, hurry: bool = True) -> Act:
        """Let some time pass; a fast person takes less."""
        seconds = self.draws.between(low_s, high_s) / (self.table.speed if hurry else 1.0)
        for _ in range(max(1, int(seconds * NS) // TICK_NS)):
            yield

    def until(self, ready: Callable[[], bool], seconds: float) -> Saw:
        """Wait until something is so, or for so many seconds; return whether it is."""
        for _ in range(int(seconds * NS) // TICK_NS):
            if ready():
                return True
            yield
        return ready()
