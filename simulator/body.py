"""What any act is made of: waiting, and pressing keys. Each `yield` is 10 ms of waiting."""

from collections.abc import Callable, Generator
from dataclasses import dataclass

from shared.inputs import NS, CommandKind
from shared.view import View
from simulator.draws import Draws
from simulator.incidents import Incidents
from simulator.propeller import TICK_NS
from simulator.scenario import PersonTable
from simulator.scene import Scene

Act = Generator[None, None, None]
Saw = Generator[None, None, bool]


@dataclass(frozen=True, slots=True)
class Press:
    """A pedal or the helper's key."""

    t_ns: int
    kind: CommandKind
    args: dict[str, str | int | float]


def _nothing() -> None:
    """There is no screen yet."""


class Body:
    """Someone in the hangar: ears (the memory), eyes (the view), a foot on a pedal."""

    def __init__(
        self,
        scene: Scene,
        table: PersonTable,
        tolerance_deg: float,
        incidents: Incidents,
        draws: Draws,
    ) -> None:
        self.scene = scene
        self.memory = scene.memory
        self.table = table
        self.tolerance_deg = tolerance_deg
        self.incidents = incidents
        self.draws = draws
        self.screen: Callable[[], View | None] = _nothing
        self.pressed: list[Press] = []

    @property
    def view(self) -> View | None:
        """The screen as it is now; None before there is one. Drawn where someone looks at it."""
        return self.screen()

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
