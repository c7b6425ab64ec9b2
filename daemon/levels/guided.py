"""`stillblade levels learn PORT`: a person is asked for motions, one after the other.

Nothing is ever sent to the level. Every wait has an end: for the port, for bytes, for the person.
"""

import asyncio
import math
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, TextIO

from daemon.levels.unknown import Files, keep, told
from drivers.learn.asked import Heard, Mark, Motion, Outcome
from drivers.learn.learning import learn
from drivers.learn.speeds import USUAL, speeds
from drivers.links.look import on_the_ports
from drivers.links.patience import PATIENT, Patience
from drivers.links.port import opened
from drivers.links.retry import LinkDownError
from shared.errors import BadInputError, OutsideError
from shared.profile import Transport

LISTEN_S = 4.0
"""At each speed."""
ANSWER_S = 300.0
"""A person who says nothing for so long is not there."""
SURE = 5.0
"""What is read so well at one speed needs no other to be tried."""
MORE = 3
"""So often it asks for one motion more."""
COUNT_S = 5.0
"""A motion is counted down in such steps."""


class Tempo(Protocol):
    """The clock of a dialog: nanoseconds that never go back, and a wait."""

    def now_ns(self) -> int:
        """Return the time now."""
        ...

    async def wait(self, seconds: float) -> None:
        """Let so much time pass."""
        ...


class WallTempo:
    """Time as it passes."""

    def now_ns(self) -> int:
        """Return the time now."""
        return time.monotonic_ns()

    async def wait(self, seconds: float) -> None:
        """Let so much time pass."""
        await asyncio.sleep(seconds)


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
    """One level on a port, and the person who moves it.

    port: path of the serial port. out: where it is said what to do.

    Attributes:
        received: bytes heard so far, at any speed.
        chunks: what was heard while motions were made: nanoseconds since they began, and bytes.
        marks: the motions made so far, on the same clock.
    """

    def __init__(
        self,
        port: str,
        person: Person,
        out: TextIO,
        tempo: Tempo | None = None,
        patience: Patience = PATIENT,
    ) -> None:
        self._port = port
        self._person = person
        self._out = out
        self._tempo = tempo or WallTempo()
        self._patience = patience
        self._baud = USUAL[0]
        self._began_ns = 0
        self.received = 0
        self.chunks: list[tuple[int, bytes]] = []
        self.marks: list[Mark] = []

    async def run(self, files: Files) -> int:
        """Find the speed, ask for the motions, learn, and write what was found.

        Returns:
            0 where something was found, 1 where nothing was or the person left.

        Raises:
            BadInputError: files of that name exist.
            OutsideError: the port cannot be opened, or is gone.
        """
        files.fresh()
        found = await self._speed()
        if not found:
            return 1
        try:
            outcome = await self._motions()
        finally:
            if self.marks:
                keep(self.heard(), self.marks, files, f"a level on {Path(self._port).name}")
        if outcome is None:
            self._say("stopped before anything could be learned; what was heard is kept")
            return 1
        return told(outcome, self.heard(), self.marks, files, self._out)

    def heard(self) -> Heard:
        """Return what was heard so far."""
        return Heard(list(self.chunks), "serial", self._baud)

    async def _speed(self) -> bool:
        """Listen at the usual speeds; tell whether something could be read at one."""
        heard: dict[int, bytes] = {}
        self._say(f"listening to {self._port}; nothing is sent to it")
        for baud in USUAL:
            heard[baud] = await self._listened(baud)
            best = await asyncio.to_thread(speeds, {baud: heard[baud]})
            says = best[0].says if best else f"{len(heard[baud])} bytes that make no frames"
            self._say(f"  at {baud}: {says if heard[baud] else 'nothing'}")
            if best and best[0].read >= SURE:
                break
        ranked = await asyncio.to_thread(speeds, heard)
        if ranked:
            self._baud = ranked[0].baud
            return True
        if any(heard.values()):
            self._say("what it sends could not be read at any of these speeds: not found")
        else:
            self._say("it sends nothing by itself: switch it on, let it stream; it is never asked")
        return False

    async def _listened(self, baud: int) -> bytes:
        data = bytearray()

        def receive(part: bytes) -> None:
            data.extend(part)
            self.received += len(part)

        try:
            async with opened(self._port, Transport(baud=baud), receive, self._patience):
                await self._tempo.wait(LISTEN_S)
        except LinkDownError as error:
            raise OutsideError(str(error)) from error
        return bytes(data)

    async def _motions(self) -> Outcome | None:
        """Ask for all motions with the port open; return what is learned, None for nobody there."""
        self._began_ns = self._tempo.now_ns()

        def receive(data: bytes) -> None:
            self.chunks.append((self._tempo.now_ns() - self._began_ns, data))
            self.received += len(data)

        try:
            async with opened(
                self._port, Transport(baud=self._baud), receive, self._patience
            ) as port:
                for asking in FIRST:
                    if not await self._asked(asking) or port.lost.done():
                        break
                else:
                    return await self._learned()
                if port.lost.done():
                    raise OutsideError(port.lost.result())
        except LinkDownError as error:
            raise OutsideError(str(error)) from error
        return None

    async def _learned(self) -> Outcome:
        """Ask for a known slope, learn, and ask for what tells more."""
        await self._slope()
        outcome = await self._learn()
        for _ in range(MORE):
            if outcome.ask is None or not outcome.candidates:
                break
            self._say(f"found: {outcome.candidates[0].says}")
            self._say("one motion more would tell whether it is so.")
            if not await self._one_more(outcome.ask):
                break
            outcome = await self._learn()
        return outcome

    async def _learn(self) -> Outcome:
        self._say("looking what follows the motions ...")
        return await asyncio.to_thread(learn, self.heard(), tuple(self.marks))

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
        """Ask for one motion and record it; False when nobody is there."""
        self._say(f"\n{asking.says}\nEnter when you are ready: it takes {asking.seconds:g} s.")
        if await self._answer() is None:
            return False
        start_ns = self._tempo.now_ns() - self._began_ns
        await self._counted_down(asking.seconds)
        end_ns = self._tempo.now_ns() - self._began_ns
        self.marks.append(Mark(start_ns, end_ns, asking.motion, asking.deg))
        self._say("done")
        return True

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


async def learn_at(port: str, person: Person, files: Files, out: TextIO) -> int:
    """Learn the level on a port, or on the only one there is; return the exit code.

    Raises:
        BadInputError: no port was given, and there is none or more than one.
    """
    if not port:
        found = await on_the_ports(PATIENT, 0.0)
        if len(found) != 1:
            there = ", ".join(one.where for one in found) or "none: plug the level in"
            raise BadInputError(
                "command line", "PORT", "which port is meant?", f"there are {there}"
            )
        port = found[0].where
    return await Dialog(port, person, out).run(files)
