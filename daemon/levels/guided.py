"""`stillblade levels learn`: a person is asked for motions with a level, one after the other.

Nothing is ever sent to the level. Every wait has an end: for the level, for the person.
"""

import asyncio
import math
from dataclasses import dataclass
from typing import Protocol, TextIO

from daemon.levels.unknown import Files, keep, told
from daemon.levels.way_by_wire import ByWire
from daemon.levels.ways import Kept, Tempo, WallTempo, Way
from drivers.learn.asked import Mark, Motion
from drivers.learn.learning import Learned, learn_each
from drivers.links.look import on_the_ports
from drivers.links.patience import PATIENT, Patience
from drivers.links.where import is_address
from shared.errors import BadInputError, OutsideError

ANSWER_S = 300.0
"""A person who says nothing for so long is not there."""
MORE = 3
"""So often it asks for one motion more."""
TRIES = 3
"""So often a motion is asked for that a broken link spoils."""
COUNT_S = 5.0
"""A motion is counted down in such steps."""


class Person(Protocol):
    """Who is asked."""

    async def answer(self) -> str | None:
        """Return the next line typed, "" for Enter alone; None when there will be no more."""
        ...


@dataclass(frozen=True, slots=True)
class Asking:
    """One motion: what is said, which it is, how long it takes."""

    says: str
    motion: Motion
    deg: float | None
    seconds: float


FIRST = (
    Asking(
        "Mark one end of the level: it will point to the leading edge. Lay the level flat on a "
        "steady, nearly level surface, mark where it lies, and do not touch it.",
        "still", None, 20.0,
    ),
    Asking(
        "Raise the marked end slowly to about 40 degrees, a little less than half upright, and "
        "lower it again.",
        "tilt", 40.0, 18.0,
    ),
    Asking("Now the other end: slowly to about 40 degrees, and back.", "tilt", -40.0, 18.0),
    Asking(
        "Turn the level end for end and lay it on the same place; leave it there.",
        "turned", None, 12.0,
    ),
    Asking(
        "Raise the marked end by about 30 degrees, and keep it so. Roll the level onto its right "
        "side (the marked end points away from you), hold it there for 2 seconds, roll it back, "
        "lay it down.",
        "side", 30.0, 21.0,
    ),
)  # fmt: skip
SLOPE = (
    "For the scale a surface of known slope is needed. Type its degrees: 90 for an upright wall "
    "or the side of a right angle, or those of a wedge; Enter alone when you have none."
)


class Dialog:
    """One level, and the person who moves it.

    way: how the level is heard. out: where it is said what to do.

    Attributes:
        received: bytes heard so far, those before the motions too.
        kept: what was heard since they began.
        marks: the motions made so far, on the same clock.
    """

    def __init__(self, way: Way, person: Person, out: TextIO, tempo: Tempo | None = None) -> None:
        self._way = way
        self._person = person
        self._out = out
        self._tempo = tempo or WallTempo()
        self._began_ns: int | None = None
        self.received = 0
        self.kept: list[Kept] = []
        self.marks: list[Mark] = []

    async def run(self, files: Files) -> int:
        """Find out how it is read, ask for the motions, learn, and write what was found.

        Returns:
            0 where something was found, 1 where nothing was or the person left.

        Raises:
            BadInputError: files of that name exist.
            OutsideError: the level cannot be heard, or is gone.
        """
        files.fresh()
        outcome: Learned | None = None
        try:
            async with self._way.opened(self._take, self._say, self._tempo) as comes:
                if not comes:
                    return 1
                self._began_ns = self._tempo.now_ns()
                outcome = await self._motions()
        finally:
            if self.marks:
                keep(self._way.heard(self.kept), self.marks, files, self._way.source)
        if outcome is None:
            self._say("stopped before anything could be learned; what was heard is kept")
            return 1
        return told(outcome, self.marks, files, self._out)

    def _take(self, channel: int, data: bytes) -> None:
        self.received += len(data)
        if self._began_ns is not None:
            self.kept.append((self._tempo.now_ns() - self._began_ns, channel, data))

    async def _motions(self) -> Learned | None:
        """Ask for all motions; return what is learned, None for nobody there."""
        for asking in FIRST:
            if not await self._asked(asking):
                return None
        return await self._learned()

    async def _learned(self) -> Learned:
        """Ask for a known slope, learn, and ask for what tells more."""
        await self._slope()
        found = await self._learn()
        for _ in range(MORE):
            outcome = found.outcome
            if outcome.ask is None or not outcome.candidates:
                break
            self._say(f"found: {outcome.candidates[0].says}")
            self._say("one motion more would tell whether it is so.")
            if not await self._one_more(outcome.ask):
                break
            found = await self._learn()
        return found

    async def _learn(self) -> Learned:
        self._say("looking what follows the motions ...")
        heard = self._way.heard(self.kept)
        return await asyncio.to_thread(learn_each, heard, tuple(self.marks))

    async def _one_more(self, ask: Mark) -> bool:
        """Ask for the motion that tells candidates apart; False where it cannot be made."""
        if ask.motion == "known":
            return await self._slope(ask.deg)
        again = next((one for one in FIRST if one.motion == ask.motion), FIRST[0])
        return await self._asked(again)

    async def _slope(self, wanted: float | None = None) -> bool:
        """Ask for a surface of known slope; tell whether there was one."""
        if wanted is not None:
            self._say(f"A slope of about {wanted:g} degrees would tell most.")
        self._say(SLOPE)
        deg = _degrees(await self._answer())
        if deg is None:
            return False
        floor = "Lay the level on a level floor or table, the marked end towards the slope."
        slope = f"Lay it on the surface of {deg:g} degrees, the marked end up."
        if not any(mark.motion == "known" and mark.deg == 0.0 for mark in self.marks):
            await self._asked(Asking(floor, "known", 0.0, 11.0))
        return await self._asked(Asking(slope, "known", deg, 11.0))

    async def _asked(self, asking: Asking) -> bool:
        """Ask for one motion and record it; False when nobody is there.

        Raises:
            OutsideError: the level is gone, or the link broke in every one of so many tries.
        """
        missed = ""
        for _ in range(TRIES):
            self._say(f"\n{asking.says}\nEnter when you are ready: it takes {asking.seconds:g} s.")
            if await self._answer() is None:
                return False
            start_ns = self._now_ns()
            await self._counted_down(asking.seconds)
            mark = Mark(start_ns, self._now_ns(), asking.motion, asking.deg)
            missed = await self._way.missed()
            if not missed:
                self.marks.append(mark)
                self._say("done")
                return True
            self._say(f"{missed}\nThe level is heard again: please make this motion once more.")
        raise OutsideError(missed)

    def _now_ns(self) -> int:
        return self._tempo.now_ns() - (self._began_ns or 0)

    async def _counted_down(self, seconds: float) -> None:
        """Let so much time pass, and say on one line how much is left."""
        while seconds > 0:
            print(f"{seconds:g} ... ", end="", file=self._out, flush=True)
            await self._tempo.wait(min(COUNT_S, seconds))
            seconds -= COUNT_S

    async def _answer(self) -> str | None:
        try:
            async with asyncio.timeout(ANSWER_S):
                return await self._person.answer()
        except TimeoutError:
            return None

    def _say(self, line: str) -> None:
        print(line, file=self._out, flush=True)


def _degrees(text: str | None) -> float | None:
    """Return the slope that was typed, None where it proves nothing."""
    try:
        deg = float((text or "").strip().replace(",", "."))
    except ValueError:
        return None
    return deg if math.isfinite(deg) and 10.0 <= abs(deg) <= 90.0 else None


async def learn_at(where: str, person: Person, files: Files, out: TextIO) -> int:
    """Learn the level on a port or at an address, or on the only port there is; return the exit code.

    Raises:
        BadInputError: nothing was given, and there is no port or more than one.
    """
    if not where:
        found = await on_the_ports(PATIENT, 0.0)
        if len(found) != 1:
            there = ", ".join(one.where for one in found) or "none: plug the level in"
            raise BadInputError(
                "command line", "WHAT", "which port is meant?", f"there are {there}"
            )
        where = found[0].where
    return await Dialog(way_to(where, PATIENT), person, out).run(files)


def way_to(where: str, patience: Patience) -> Way:
    """Return the way to a port or a Bluetooth address."""
    if is_address(where):
        # Bluetooth libraries load only where they are needed: start-up time.
        from daemon.levels.way_by_air import ByAir  # noqa: PLC0415

        return ByAir(where, patience)
    return ByWire(where, patience)
