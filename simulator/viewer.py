"""The hands of whoever plays a demo: one deed at a time, done as hands do it."""

from shared.events import REFERENCE
from shared.hands import Deed
from simulator.body import Act
from simulator.hands import Hands
from simulator.instrument import TURNED_OVER_S

TENTH_DEG, MUCH_DEG = 0.1, 1.0
TURNS: dict[Deed, float] = {
    "coarser": TENTH_DEG,
    "finer": -TENTH_DEG,
    "much coarser": MUCH_DEG,
    "much finer": -MUCH_DEG,
}
TURN_TICKS = 20
KNOCK_DEG = (0.4, 1.5)
HORIZONTAL_DEG = 3.0


class Viewer(Hands):
    """Does what it is told, and nothing by itself.

    Attributes:
        finished: the session is over.
        stuck: never: nobody gives up for them.
        lets_look: never: they look as long as they like.
    """

    stuck = ""
    lets_look = False
    _acting: Act | None = None

    @property
    def finished(self) -> bool:
        """The session is over."""
        return self.memory.over

    def tick(self) -> None:
        """Go on for 10 ms with what the hands are at."""
        if self._acting is not None and next(self._acting, self) is self:
            self._acting = None

    def do(self, deed: Deed) -> str:
        """Begin a deed; return in words what is done, or why not."""
        if self._acting is not None:
            return "the hands are busy"
        if deed == "lay":
            return self._lay()
        if deed == "lift":
            return self._lift()
        if deed == "turn over":
            return self._over()
        if deed == "propeller":
            return self._propeller()
        return self._knock() if deed == "knock" else self._turn(TURNS[deed])

    def _lay(self) -> str:
        step = self.memory.step
        if step is None or step.blade is None:
            return "nothing is to be read in this step"
        if not self.fell():
            return "the level lies already: O takes it off"
        blade = self._horizontal(step.blade, step.half)
        way = 0.0 if blade is None else self.scene.propeller.way_to(blade, beyond=step.half == 2)
        if abs(way) > HORIZONTAL_DEG:
            return f"blade {blade} is not horizontal: P turns the propeller"
        self._acting = self.put(step.blade)
        return "the level is laid down"

    def _lift(self) -> str:
        if self.fell():
            return "the level is in the hand"
        self._acting = self.lift()
        return "the level is taken off"

    def _over(self) -> str:
        if not self.fell():
            return "the level lies: O takes it off"
        self._acting = self._turning_over()
        return "the level is turned over, and back"

    def _turning_over(self) -> Act:
        self.scene.level.lift()
        self.scene.level.turn_over()
        yield from self.pause(TURNED_OVER_S, TURNED_OVER_S + 0.1, hurry=False)

    def _propeller(self) -> str:
        step = self.memory.step
        if not self.fell():
            return "the level lies on it: take it off first (O), it would fall"
        blade = None
        if step is not None and step.blade is not None:
            blade = self._horizontal(step.blade, step.half)
        if blade is None:
            return "it need not be turned in this step"
        self.scene.propeller.turn_to(blade, beyond=step is not None and step.half == 2)
        return f"the propeller is turned: blade {blade} horizontal"

    def _turn(self, by_deg: float) -> str:
        seat, step = self.scene.level.seat, self.memory.step
        under = seat if isinstance(seat, int) else step.blade if step is not None else None
        if not isinstance(under, int):
            return "no blade is in the hands"
        self._acting = self._turning(under, by_deg)
        return f"blade {under} is turned {abs(by_deg):.1f} {'coarser' if by_deg > 0 else 'finer'}"

    def _turning(self, blade: int, by_deg: float) -> Act:
        for _ in range(TURN_TICKS):
            self.scene.propeller.change(blade, by_deg / TURN_TICKS)
            yield

    def _knock(self) -> str:
        here = self.memory.step.blade if self.memory.step is not None else REFERENCE
        others = sorted(self.memory.held - {here, self.scene.level.seat})
        if not others:
            return "no other blade is held yet: knock one later"
        blade = others[int(self.draws.between(0.0, len(others) - 1e-9))]
        size = self.draws.between(*KNOCK_DEG) * self.draws.sign()
        self.scene.propeller.change(blade, size, "knock")
        return "a blade was knocked, behind the program's back: go on, it will find which"
