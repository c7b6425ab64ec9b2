"""Everything physical in one place: the propeller, the levels, and the time."""

from collections.abc import Callable
from dataclasses import dataclass, field

from simulator.draws import Draws
from simulator.instrument import Instrument, Seat
from simulator.memory import Memory
from simulator.propeller import Propeller


@dataclass(slots=True)
class Cable:
    """A line that goes down or up at a time to come."""

    level: str
    down_ns: int
    up_ns: int
    reason: str


@dataclass(slots=True)
class Scene:
    """The hangar without the person."""

    propeller: Propeller
    levels: dict[str, Instrument]
    memory: Memory
    chance: Draws
    main: str
    """Name of the level that reads the blades."""
    watched: dict[str, int] = field(default_factory=dict)
    """Levels that are left on a held blade while the bolts are worked on."""
    reference_seat: Seat = "hub"
    """Where the reference is read: the hub face, or blade 1 on both sides."""
    tight: bool = False
    """The bolts hold the blades: lifting a level does not turn them."""
    cables: list[Cable] = field(default_factory=list)
    later: list[tuple[int, Callable[[], None]]] = field(default_factory=list)
    """What is to happen at a time to come."""

    @property
    def t_ns(self) -> int:
        """Session time now."""
        return self.propeller.t_ns

    @property
    def level(self) -> Instrument:
        """The level that reads the blades."""
        return self.levels[self.main]

    def tick(self) -> None:
        """Let everything happen whose time has come."""
        for one in list(self.later):
            if one[0] <= self.t_ns:
                self.later.remove(one)
                one[1]()
