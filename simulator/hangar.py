"""The simulated hangar: a pure, seeded world in steps of 10 ms, in a closed loop.

The person in it hears the program's events and sees its screen; out come what the levels send,
what is pressed, and lines that are pulled. The same seed and the same answers give the same
world, however `advance` is split.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from shared.events import Event
from shared.hands import Deed
from shared.job import Job, LevelEntry
from shared.view import View
from simulator.body import Press
from simulator.draws import Draws
from simulator.incidents import draw_incidents
from simulator.instrument import Instrument
from simulator.listener import Listener
from simulator.memory import Memory
from simulator.person import Person
from simulator.propeller import TICK_NS, Propeller
from simulator.scenario import LevelTable, Scenario
from simulator.scene import Scene
from simulator.truth import Truth
from simulator.viewer import Viewer
from simulator.wires import PACKETS, wire_of

__all__ = ["Chunk", "Hangar", "Plug", "Press"]


@dataclass(frozen=True, slots=True)
class Chunk:
    """What a level sends: one piece off the line, of any size."""

    t_ns: int
    level: str
    channel: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Plug:
    """A line went down or came up."""

    t_ns: int
    level: str
    state: Literal["up", "down"]
    reason: str


class Hangar:
    """One scenario under one seed.

    Attributes:
        job: the job the scenario uses, ready to run but for the ports.
        finished: the person has put the tools away (or has given up, see `truth().stuck`).

    lets_look_s: how long the first alarm stands before its person does anything about it.
    played: nobody works in it but whoever watches: see `do`.
    """

    def __init__(
        self, scenario: Scenario, seed: int, lets_look_s: float = 0.0, *, played: bool = False
    ) -> None:
        self.job: Job = scenario.job
        entries = {entry.name: entry for entry in scenario.job.level}
        main = next(entry.name for entry in scenario.job.level if entry.role == "blade")
        tables = scenario.hangar.level
        levels = {
            name: _instrument(entry, tables[name], seed, 8 + 2 * place)
            for place, (name, entry) in enumerate(sorted(entries.items()))
        }
        self._propeller = Propeller(self.job, scenario.hangar, Draws(seed, 0))
        for table in tables.values():
            if table.warmup_deg:
                self._propeller.note_level(-table.warmup_deg, "warmup")
        self._line = {name: Draws(seed, 40 + place) for place, name in enumerate(sorted(levels))}
        watched = {entry.name: entry.watches for entry in self.job.level if entry.watches}
        self._scene = Scene(self._propeller, levels, Memory(), Draws(seed, 1), main, watched)
        if self.job.setup.reference == "both-sides":
            self._scene.reference_seat = 1
        self._incidents = draw_incidents(scenario.incident, self.job, main, Draws(seed, 2))
        tolerance_deg = self.job.target.tolerance_deg
        ways = (scenario.person, tolerance_deg, self._incidents, Draws(seed, 3))
        self._viewer = Viewer(self._scene, *ways) if played else None
        self._listener = None
        if scenario.person.by_ear and not played:
            self._listener = Listener(self._scene, *ways, lets_look_s=lets_look_s)
        other = self._viewer or self._listener
        self._person = other or Person(self._scene, *ways, lets_look_s=lets_look_s)

    @property
    def finished(self) -> bool:
        """Whether the person has stopped working."""
        return self._person.finished

    def do(self, deed: Deed) -> str:
        """Have the hands do something where the hangar is played; return in words what or why not."""
        return self._viewer.do(deed) if self._viewer else "the hands are the simulated person's"

    @property
    def lets_look(self) -> bool:
        """Whether the first alarm is left standing now, for whoever watches."""
        return self._person.lets_look

    @property
    def now_ns(self) -> int:
        """Session time the world has come to."""
        return self._propeller.t_ns

    def advance(
        self, to_ns: int, heard: Sequence[Event], screen: Callable[[], View | None] | None = None
    ) -> list[Chunk | Press | Plug]:
        """Let the world go on to `to_ns`; return what came of it, in order of time.

        Args:
            to_ns: session time; the world moves in whole steps of 10 ms up to it.
            heard: all events since the last call, oldest first; heard at once.
            screen: draws the screen as it is when it is looked at; None leaves the one there is.
        """
        for event in heard:
            self._scene.memory.hear(event, self.now_ns)
            if self._listener is not None:
                self._listener.hear(event)
        if screen is not None:
            self._person.screen = screen
        out: list[Chunk | Press | Plug] = []
        while self.now_ns + TICK_NS <= to_ns:
            self._step(out)
        return out

    def truth(self) -> Truth:
        """Return what is true now."""
        propeller = self._propeller
        return Truth(
            t_ns=self.now_ns,
            angles_deg=tuple(propeller.angle(b) for b in range(1, propeller.blades + 1)),
            theta_deg=propeller.theta_deg,
            moved=tuple(propeller.moves),
            shifts=tuple(propeller.shifts),
            past=tuple(tuple(past) for past in propeller.past),
            stuck=self._person.stuck,
        )

    def _step(self, out: list[Chunk | Press | Plug]) -> None:
        scene, step = self._scene, self._scene.memory.step
        self._propeller.t_ns += TICK_NS
        self._propeller.stage = "" if step is None else step.stage
        self._incidents.tick(scene)
        scene.tick()
        self._propeller.tick()
        self._person.tick()
        out += self._cables()
        for name, level in scene.levels.items():
            for channel, data in level.tick(self._propeller, self._line[name]):
                out.append(Chunk(self.now_ns, name, channel, data))
        out += self._person.pressed
        self._person.pressed = []

    def _cables(self) -> list[Plug]:
        """Pull and put back the lines whose time has come."""
        plugs: list[Plug] = []
        for cable in list(self._scene.cables):
            level = self._scene.levels[cable.level]
            if cable.down_ns == self.now_ns:
                level.up = False
                level.cut()
                plugs.append(Plug(self.now_ns, cable.level, "down", cable.reason))
            if cable.up_ns <= self.now_ns:
                self._scene.cables.remove(cable)
                level.on = True
                if cable.down_ns >= 0:
                    level.up = True
                    plugs.append(Plug(self.now_ns, cable.level, "up", cable.reason))
        return plugs


def _instrument(entry: LevelEntry, table: LevelTable, seed: int, stream: int) -> Instrument:
    wire = wire_of(entry, table, Draws(seed, stream))
    whole = entry.profile in PACKETS
    level = Instrument(entry.name, table, wire, Draws(seed, stream + 1), whole=whole)
    level.seat = "tape" if entry.role == "hub" else "hand"
    if entry.role == "watch" and entry.watches:
        level.on = False  # in its case until it is laid on its blade
    elif entry.role == "watch":
        level.put("cowling")
    return level
