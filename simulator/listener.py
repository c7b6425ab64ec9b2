"""The one at the blades who never looks: hears signals and a voice, and answers with the level.

Knows what a voice says (blade by number, hub face, set, snug ...) and nothing else of the program: no
screen, no step, no number. A key is pressed twice: when the aircraft is made safe, and to close the record.
"""

import re
from dataclasses import dataclass

from shared.events import REFERENCE, BladeId, Event
from shared.inputs import NS
from shared.signals import LEAD_FAR_S, LEAD_NEAR_S, LEADS, OVER_FIRST
from shared.sounding import Cue, Sounding
from simulator.body import Act
from simulator.draws import Draws
from simulator.hands import REACTION_TICKS, Hands
from simulator.incidents import Incidents
from simulator.instrument import TURNED_OVER_S
from simulator.scenario import PersonTable
from simulator.scene import Scene

LISTENS_TICKS = 4
"""The program sounds 25 times a second at most."""
GIVE_UP_S = 600.0
AWAITED = frozenset({"taken", "surprise", "lay it again"})
"""What is waited for with the hand at the level: lifting it begins with a reaction (0.2 to 0.5 s), as for somebody
who looks. To a sound that is expected people react in 0.15 to 0.2 s (common practice, from memory)."""
BLADE = re.compile(r"\bblade (\d+)")
FIRST_TURN_DEG = 0.5
"""Turned when a tone leads and nothing is known yet of how far."""
FAR_TURN_DEG, SLOWEST = 3.0, 0.95
"""Turned where the tone is as slow as it gets."""
TRIES = 4
"""So often the level is turned over when nothing is heard of it."""
FEW_TOLERANCES = 10.0
"""So many tolerances off the leading tone is slowest."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a voice wants: the level on a member, which is set or only read."""

    seat: BladeId
    half: int = 0
    sets: bool = False


def understood(words: str, before: Told | None) -> Told | None:
    """Return what is wanted; None: nothing of the level. before: what was wanted until now."""
    if "hub face" in words or "half a turn" in words:
        return Told(REFERENCE, half=2 if "half a turn" in words else 0)
    found = BLADE.search(words)
    if found is None:
        return before
    return Told(int(found[1]), sets="Set " in words)


class Listener(Hands):
    """Two hands, two ears.

    Attributes:
        stuck: why the person gave up, or empty.
        finished: the tools are put away.
        heard: every cue, for whoever tests it.
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
        self.lets_look = False
        """An alarm stands now for whoever watches."""
        self._lets_look_s = lets_look_s
        self.stuck = ""
        self.finished = False
        self.heard: list[Cue] = []
        self._sounding = Sounding()
        self._ticks = 0
        self._cue: Cue | None = None
        self._lead: Cue | None = None
        self._lead_ns = self._before_ns = 0
        self._told: Told | None = None
        self._last: BladeId | None = None
        self._astray: int | None = None
        self._last_ns = 0
        self._acting = self.work()

    def hear(self, event: Event) -> None:
        """Events reach the ears only as what sounds because of them."""
        self._sounding.hear(event.body)

    def tick(self) -> None:
        """Listen, and go on for 10 ms."""
        if self.finished:
            return
        self._ticks += 1
        if self._ticks % LISTENS_TICKS == 0:
            self._listen()
        if self.scene.t_ns - self._last_ns > GIVE_UP_S * NS:
            self.stuck, self.finished = f"nothing new to be heard for {GIVE_UP_S:.0f} s", True
        next(self._acting, None)
        self.finished = self.finished or self.memory.over

    def _listen(self) -> None:
        view = self.view
        cue = None if view is None else self._sounding.look(view, self.scene.t_ns / NS)
        if cue is None:
            return
        if cue.name in LEADS:
            self._before_ns, self._lead_ns = self._lead_ns, self.scene.t_ns
            self._lead = cue
            return
        self.heard.append(cue)
        self._cue, self._last_ns = cue, self.scene.t_ns

    # -- what is done about what is heard ---------------------------------------------------------

    def work(self) -> Act:
        """Do what is heard, for as long as it takes."""
        while True:
            yield from self.until(lambda: self._cue is not None, 1.0)
            cue, self._cue = self._cue, None
            if cue is not None:
                if cue.name not in AWAITED:
                    yield from self.pause(0.3, 0.8)
                yield from self._do(cue)

    def _do(self, cue: Cue) -> Act:
        match cue.name:
            case "step" | "taken back" | "proof":
                if cue.name == "proof":
                    yield from self._turn_over()
                self._told = understood(cue.words, self._told)
                yield from self._go(over_first=OVER_FIRST in cue.words)
            case "lay it again":
                yield from self._lay_again()
            case "which blade" if self._astray is not None and self._told is not None:
                self._astray = None
                yield from self.approach(self._told.seat, self._told.half)
                yield from self._lay()
            case "which blade" | "turn it over":
                yield from self.lift()
                yield from self._turn_over()
                yield from self._lay()
            case "taken" | "surprise" | "question":
                yield from self.lift()
            case "hands":
                yield from self._work_of_hands(cue.words)
            case "alarm":
                yield from self._answer()
            case "the end":
                self.press("done")

    def _go(self, *, over_first: bool) -> Act:
        told = self._told
        if told is None:
            return
        self._astray = self._goes_astray(told)
        if self._astray is None:
            yield from self.approach(told.seat, told.half)
        if over_first:
            yield from self._turn_over()
        yield from self._lay()

    def _goes_astray(self, told: Told) -> int | None:
        """Return the blade that the level goes back on by mistake; None: none."""
        last, self._last = self._last, told.seat
        if not isinstance(last, int) or not isinstance(told.seat, int) or last == told.seat:
            return None
        return last if self.draws.chance(self.table.puts_back) else None

    def _lay_again(self) -> Act:
        yield from self.lift()
        yield from self._lay()

    def _lay(self) -> Act:
        told = self._told
        if told is None:
            return
        self._lead = None
        yield from self.put(told.seat if self._astray is None else self._astray)
        if told.sets and isinstance(told.seat, int):
            yield from self._set_by_ear(told.seat)

    def _set_by_ear(self, blade: int) -> Act:
        """Turn the blade the way the tone leads, by as much as it hurries, until it is in; let go."""
        for _ in range(120):
            self._lead = None
            yield from self.until(lambda: self._lead is not None or self._cue is not None, 2.0)
            if self._cue is not None or self.fell():
                return
            if self._lead is None:
                continue
            if self._lead.name == "in":
                self.let_go(blade)
                yield from self.until(lambda: self._cue is not None or self._leads_away(), 8.0)
                continue
            way = 1.0 if self._lead.name == "coarser" else -1.0
            yield from self._turn_blade(blade, way * self._how_far())
            for _ in range(REACTION_TICKS):
                yield

    def _leads_away(self) -> bool:
        return self._lead is not None and self._lead.name != "in"

    def _how_far(self) -> float:
        """Hear from the pause between two tones how far it is."""
        pause_s = (self._lead_ns - self._before_ns) / NS
        if not LEAD_NEAR_S <= pause_s <= LEAD_FAR_S + 0.2:
            return FIRST_TURN_DEG
        share = (pause_s - LEAD_NEAR_S) / (LEAD_FAR_S - LEAD_NEAR_S)
        if share > SLOWEST:
            return FAR_TURN_DEG
        return self.tolerance_deg * (0.5 + 0.5 * FEW_TOLERANCES * share)

    def _work_of_hands(self, words: str) -> Act:
        if not self.fell():
            yield from self.lift()
        yield from self.pause(0.6, 1.0, hurry=False)
        self.lay_down(always=True)
        if words.startswith("Make safe"):
            yield from self.pause(1.0, 2.0)
            self.press("done")
            return
        self.scene.tight = not words.startswith("Slacken")
        yield from self.pause(6.0, 9.0)
        self.scene.level.lift()
        yield from self.pause(0.8, 1.2)
        for _ in range(TRIES):
            yield from self._turn_over()
            if (yield from self.until(lambda: self._cue is not None, 4.0)):
                return

    def _answer(self) -> Act:
        """Setting again is all that can be said with the hands; what else there is needs a look."""
        if not self.fell():
            yield from self.lift()
        self.lets_look = self._lets_look_s > 0.0
        yield from self.pause(self._lets_look_s, self._lets_look_s + 0.1, hurry=False)
        self.lets_look, self._lets_look_s = False, 0.0
        yield from self.pause(2.0, 3.0, hurry=False)
        yield from self._turn_over()

    def _turn_over(self) -> Act:
        self.scene.level.lift()
        self.scene.level.turn_over()
        yield from self.pause(TURNED_OVER_S + 0.2, TURNED_OVER_S + 0.5, hurry=False)
