"""The one at the blades: hears the program, sees its screen, moves blades and level, presses keys.

What is done step by step is here; the hands are in `simulator.hands`, and what is done about
alarms and questions in `simulator.answers`.
"""

from collections.abc import Generator

from shared.events import BladeId, StepChanged
from shared.inputs import NS
from simulator.answers import Answers
from simulator.body import Act, Saw
from simulator.draws import Draws
from simulator.incidents import Incidents
from simulator.instrument import TURNED_OVER_S
from simulator.scenario import PersonTable
from simulator.scene import Scene

RESTART_S, GIVE_UP_S = 60.0, 600.0
WAITS_S = 8.0
"""So long somebody whose hands are full waits for a reading to be taken by itself."""


class Person(Answers):
    """Does whatever step is announced, and never hangs.

    Attributes:
        stuck: why the person gave up, or empty.
        finished: the tools are put away.
    """

    def __init__(
        self,
        scene: Scene,
        table: PersonTable,
        tolerance_deg: float,
        incidents: Incidents,
        draws: Draws,
        *,
        lets_look_s: float = 0.0,
    ) -> None:
        super().__init__(scene, table, tolerance_deg, incidents, draws)
        self.lets_look_s = lets_look_s
        self.stuck = ""
        self.finished = False
        self._done_step = -1
        self._answers = 0
        self._mixing = ""
        self._restarted_ns = 0
        self._aimed = False
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
        self.watch_level()
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
        idle = self.incidents.claim("distracted", self.scene)
        if idle is not None:
            yield from self.pause(idle.seconds, idle.seconds + 0.1, hurry=False)
        if self.memory.asked:
            yield from self.look()
        elif step.stage == "answer":
            yield from self.answer()
        elif step.stage in {"prepare", "tighten", "slacken", "finished"}:
            yield from self._work_of_hands(step)
        elif step.stage == "set" and isinstance(step.blade, int):
            self.scene.tight = False
            yield from self._set(step, step.blade)
        elif step.blade is not None:
            yield from self._read(step, step.blade)
        else:
            yield from self._work_of_hands(step)

    def _work_of_hands(self, step: StepChanged) -> Act:
        """Make safe, tighten, look round: lay the level down, work, say `done`."""
        self.lay_down(always=True)
        if step.stage == "tighten":
            yield from self._tighten()
        else:
            yield from self.pause(1.0, 2.0)
        self.press("done")
        yield from self.until(lambda: self.memory.step is not step, 5.0)

    def _tighten(self) -> Act:
        """Work on the bolts; a level that watches a blade lies on it meanwhile."""
        watched = self.scene.watched
        for name, blade in watched.items():
            seconds = self.scene.propeller.turn_to(blade)
            yield from self.pause(seconds + 0.3, seconds + 0.9, hurry=False)
            self.scene.levels[name].on = True
            self.scene.levels[name].put(blade)
        if watched:
            yield from self.pause(6.0, 7.0)
        yield from self.pause(4.0, 6.0)
        if watched:
            yield from self.pause(6.0, 7.0)
        for name in watched:
            self.scene.levels[name].lift()
            self.scene.levels[name].on = False

    def _read(self, step: StepChanged, seat: BladeId) -> Act:
        """Put the level where it is asked for, take, lift."""
        seat = self._mistaken(seat)
        yield from self.approach(seat, step.half)
        yield from self._prove()
        before = self.memory.captured
        yield from self.put(seat)
        yield from self.pause(0.3, 1.0)
        taken = yield from self._take(step, before)
        if taken or self.memory.step is not step:
            yield from self._once_more()
            yield from self.lift()
            self._finish(step)

    def _prove(self) -> Act:
        """Turn the level over once where the job may then go without a press."""
        if self.table.hands_free and self.view is not None and self.view.turnover == "proof":
            self.scene.level.turn_over()
            yield from self.pause(TURNED_OVER_S + 0.2, TURNED_OVER_S + 0.5, hurry=False)

    def _once_more(self) -> Act:
        """By script: ask for the next reading with the level still where it was."""
        if self.incidents.claim("unlifted", self.scene) is not None:
            for _ in range(3):
                yield from self.pause(0.8, 1.6)
                self.press("take")
            yield from self.pause(3.0, 4.0)

    def _mistaken(self, seat: BladeId) -> BladeId:
        """Take one blade for another in a round, by script; then the other for the one."""
        slip = self.incidents.claim("mixed", self.scene)
        if slip is not None and isinstance(seat, int) and seat != slip.blade:
            self.mixed = {seat: slip.blade, slip.blade: seat}
            self._mixing = self.memory.step.stage if self.memory.step else ""
        here = self.memory.step is not None and self.memory.step.stage == self._mixing
        return self.mixed.get(seat, seat) if here and isinstance(seat, int) else seat

    def _finish(self, step: StepChanged) -> None:
        self._done_step = step.step

    def _take(self, step: StepChanged, before: int) -> Saw:
        """Press until the reading is taken; False when it cannot be had now."""
        for _ in range(6):
            if self.table.hands_free:
                yield from self.until(lambda: self._interrupted(step, before), WAITS_S)
            if self.memory.captured > before:
                return True
            self._ask_to_take()
            yield from self.until(lambda: self._interrupted(step, before) or self._denied(), 12.0)
            if self.memory.captured > before:
                return True
            if self.memory.step is not step or self.memory.asked or self.fell():
                return False
            if self.view is not None and self.view.live.taken:
                return False  # this placement is taken already: lift, and lay it down afresh
            yield from self.pause(1.0, 1.6)
        return False

    def _ask_to_take(self) -> None:
        self._answers = self.memory.answered
        if self.scene.level.table.own_button:
            self.scene.level.press()
        else:
            self.press("take")

    def _denied(self) -> bool:
        """Return whether the last press was answered with no."""
        answer = self.memory.answer
        fresh = self.memory.answered > self._answers
        return fresh and answer is not None and answer.result != "done"

    def _interrupted(self, step: StepChanged, before: int) -> bool:
        memory = self.memory
        asked, fell = bool(memory.asked), self.fell()
        return memory.captured > before or memory.step is not step or asked or fell

    def _set(self, step: StepChanged, wanted: int) -> Act:
        """Turn the blade until the number says so; let go; wait for it to be taken."""
        self._aim_off()
        blade = yield from self._out_of_order(step, wanted)
        if blade != wanted and self.memory.step is not step:
            return
        yield from self.approach(blade)
        before = self.memory.captured
        yield from self.put(blade)
        yield from self.pause(0.4, 0.9)
        yield from self.nudge(step, blade)
        self.let_go(blade)
        yield from self.until(lambda: self._interrupted(step, before), 6.0)
        taken = yield from self._take(step, before)
        if taken or self.memory.step is not step:
            yield from self.lift()
            self._finish(step)

    def _aim_off(self) -> None:
        """Follow the proposal, once: what is aimed at stays so."""
        known = {one.at for one in self.view.aims} if self.view else set()
        if self.table.aims_off and "off" in known and not self._aimed:
            self._aimed = True
            self.press("aim", {"at": "off"})

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
