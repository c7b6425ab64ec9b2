"""A stranger, the person who moves it and the clock of the dialog, in step.

What is asked for takes as long as the bytes of it, and no real time. A level on a line sees at which
speed the line is read (a pseudo-terminal keeps it) and is garbage at any other.
"""

import asyncio
import io
import os
import termios
from dataclasses import replace

from daemon.levels.guided import FIRST, Dialog
from daemon.levels.way_by_air import ByAir
from daemon.levels.way_by_wire import ByWire
from daemon.levels.ways import MOVE_IT
from drivers.links.uuids import long_uuid
from simulator.draws import Draws
from simulator.line import Line
from simulator.strangers.level import Stranger, stranger
from simulator.strangers.person import NS, Motion, Performer
from simulator.strangers.poses import Pose
from simulator.strangers.speeds import read_at
from tests.drivers.fake_air import World
from tests.drivers.sinks import QUICK

SPEEDS = {
    getattr(termios, f"B{baud}"): baud for baud in (2400, 4800, 9600, 19200, 38400, 57600, 115200)
}


class Acting:
    """A stranger, moved by a person who does what was asked; clock and answers too.

    answers: what is typed, in order; where they run out nobody is there any more.
    """

    def __init__(self, level: Stranger, answers: list[str]) -> None:
        self.level = level
        self.out = io.StringIO()
        self._now = 0
        self._answers = answers
        self._draws = Draws(level.seed, 3)
        self._performer = Performer(self._draws)
        self._performer.show([("still", None)])
        self._moving_s = 0.0
        self._looked = 0
        self._before: Pose | None = None

    async def answer(self) -> str | None:
        """Type the next answer."""
        return self._answers.pop(0) if self._answers else None

    def now_ns(self) -> int:
        """Return the time of the stage."""
        return self._now

    async def wait(self, seconds: float) -> None:
        """Let the level send for so long, frame by frame, each heard before the next."""
        motion = self._asked()
        if motion is not None:
            self._all_shown()
            self._performer.show([motion])
            self._moving_s = 0.0
        performance = self._performer.done
        start_s, began_s = performance.asked[-1].start_ns / NS, self._now / NS
        count = int(seconds * self.level.rate_hz)
        times = [(index + 1) / self.level.rate_hz for index in range(count)]
        moved_s = [start_s + self._moving_s + t_s for t_s in times]
        at_s = [min(performance.length_s, moment) for moment in moved_s]
        self._moving_s += seconds
        poses = [performance.at(moment, self._draws) for moment in at_s]
        sent = self._sent([(began_s + t, pose) for t, pose in zip(times, poses, strict=True)])
        for t_s, frame in zip(times, sent, strict=True):
            self._now = round((began_s + t_s) * NS)
            await self._send(frame)

    def _sent(self, poses: list[tuple[float, Pose]]) -> list[bytes]:
        """Return a frame a pose; what it sends only on a change goes on from the pose before."""
        if poses and self.level.change:
            before = poses[0] if self._before is None else (poses[0][0], self._before)
            self._before = poses[-1][1]
            return list(self.level.frames([before, *poses]))[1:]
        return list(self.level.frames(poses))

    def _all_shown(self) -> None:
        performance = self._performer.done
        takes_s = performance.length_s - performance.asked[-1].start_ns / NS
        assert takes_s <= max(self._moving_s, 20.0), "the dialog gave no time"

    def _asked(self) -> tuple[Motion, float | None] | None:
        """Return the motion that was asked for since it was last looked."""
        said, self._looked = self.out.getvalue()[self._looked :], len(self.out.getvalue())
        if "on a level floor" in said or "Lay it on the surface" in said:
            return ("known", 90.0 if "Lay it on the surface" in said else 0.0)
        if MOVE_IT in said:
            return ("tilt", 40.0)
        asked = [(one.motion, one.deg) for one in FIRST if one.says in said]
        return asked[-1] if asked else None

    async def _send(self, frame: bytes) -> None:
        raise NotImplementedError


class Stage(Acting):
    """A stranger on a line."""

    def __init__(self, level: Stranger, answers: list[str]) -> None:
        super().__init__(level, answers)
        self.line = Line("stranger")
        self.port = self.line.open()
        self.dialog = Dialog(ByWire(self.port, QUICK), self, self.out, self)
        self.speeds: list[int] = []
        self.sent_to = b""

    async def _send(self, frame: bytes) -> None:
        data = read_at(frame, self.level.baud, self._speed())
        wanted = self.dialog.received + len(data)
        self.line.write(data)
        self.sent_to += self.line.read()
        async with asyncio.timeout(20):
            while self.dialog.received < wanted:  # noqa: ASYNC110 - the link has no event
                await asyncio.sleep(0)

    def _speed(self) -> int:
        """Return the speed that whoever opened the line reads it at."""
        slave = os.open(self.port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            speed = SPEEDS[termios.tcgetattr(slave)[5]]
        finally:
            os.close(slave)
        if speed not in self.speeds:
            self.speeds.append(speed)
        return speed


UUID, BESIDE = "7d1c0002-5a2e-4c7b-9b1f-2f6e8d3a4b5c", "2a19"
ADDRESS = "AA:BB:CC:00:00:0A"


class AirStage(Acting):
    """A stranger in the fake air, which notifies its battery beside.

    lost_at: the link is lost as often as this motion is asked for, counted down.
    """

    def __init__(self, level: Stranger, answers: list[str]) -> None:
        super().__init__(level, answers)
        self.world = World()
        self.one = self.world.add(ADDRESS, {long_uuid(BESIDE): b"\x4b", UUID: b""})
        way = ByAir(ADDRESS, QUICK, self.world.air(), self.world.client_class())
        self.dialog = Dialog(way, self, self.out, self)
        self.losses: list[str] = []

    async def wait(self, seconds: float) -> None:
        """Let the level send for so long; lose the link where it is to be lost now."""
        if self.losses and self.losses[0] in self.out.getvalue()[self._looked :]:
            self.losses.pop(0)
            self.one.lose_loudly()
        await super().wait(seconds)
        self.one.notify(long_uuid(BESIDE), b"\x4b")

    async def _send(self, frame: bytes) -> None:
        for at in range(0, len(frame), 20):
            self.one.notify(UUID, frame[at : at + 20])
        await asyncio.sleep(0)


def a_level(family: str, **differs: object) -> Stranger:
    """Return an invented one in degrees, of a certain speed, on a clean line."""
    found = next(
        level
        for level in map(stranger, range(1, 300))
        if (level.family, level.meaning.unit) == (family, "deg") and not level.meaning.sideways
    )
    return replace(found, rate_hz=8.0, line_noise=0.0, **differs)  # type: ignore[arg-type]
