"""`stillblade levels zero`, `standard` and `play`: a level, or a loose blade, looked at once.

Plain functions: they print to the given stream and return an exit code (0 the answer is yes,
1 no or nothing came to rest, 3 no signal). The command line wires them.
"""

import asyncio
import contextlib
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from daemon.clocks import wall
from daemon.core.pipe import Pipe
from daemon.hearing import Target
from daemon.jobs import load_job
from daemon.learned import remember_zero
from daemon.measure.proving.checks import (
    Found,
    off_the_blade,
    play_found,
    standard_found,
    zero_found,
)
from daemon.measure.proving.placing import Placing, Stage
from daemon.measure.proving.zero import Standard
from daemon.measure.stream.facts import Fact
from daemon.measure.stream.reading import Reading
from drivers.links import PATIENT, Patience, keep
from shared.errors import BadInputError
from shared.inputs import NS
from shared.job import Job, Thresholds

LEAD_S = 5.0
"""The person has so long to lay the level, or to bring a finger to the blade."""
LOOK_S, TELL_S = 0.25, 1.0
"""Between two looks at silence, and between two lines of progress."""


class Eye:
    """A sink that hands one level's bytes to its pipe, and what that tells to the placing.

    Attributes:
        done: set when every stage has its reading.
    """

    def __init__(self, level: Target, job: Job | None, placing: Placing, out: TextIO) -> None:
        thresholds = job.thresholds if job else Thresholds()
        self.pipe = Pipe(level.entry, level.profile, thresholds.lift_deg)
        self.placing = placing
        self.done = asyncio.Event()
        self._out = out
        self._told_s = 0.0
        self._say(placing.begin(time.monotonic_ns() / NS))

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Take one chunk from the link."""
        del level
        now_ns = time.monotonic_ns()
        self._take(now_ns, self.pipe.feed(now_ns, channel, data))

    def up(self, level: str, identity: str) -> None:
        """The link works."""
        del level
        self._take(time.monotonic_ns(), self.pipe.link("up", "", identity))

    def down(self, level: str, reason: str) -> None:
        """The link does not work."""
        del level
        self._take(time.monotonic_ns(), self.pipe.link("down", reason, ""))

    def look(self) -> None:
        """Notice silence, and tell how far it is. Call it a few times a second."""
        now_ns = time.monotonic_ns()
        while (due := self.pipe.due) is not None and due <= now_ns:
            self._take(now_ns, self.pipe.fire(due))
        if now_ns / NS - self._told_s >= TELL_S:
            line = self._waiting(now_ns / NS)
            self._told_s = now_ns / NS if line else self._told_s
            self._say([line] if line else [])

    def _waiting(self, now_s: float) -> str:
        motion = self.pipe.motion
        if motion is None:
            return self.placing.waiting(now_s, "in hand", 0.0)
        return self.placing.waiting(now_s, motion.doing, motion.progress)

    def _take(self, now_ns: int, facts: Sequence[Fact]) -> None:
        self._say(self.placing.take(now_ns / NS, facts, self.pipe.rate_hz))
        if self.placing.done:
            self.done.set()

    def _say(self, lines: Sequence[str]) -> None:
        for line in lines:
            print(line, file=self._out, flush=True)


async def zero(
    level: Target,
    out: TextIO,
    seconds: float = 120.0,
    job: Path | None = None,
    *,
    patience: Patience = PATIENT,
    lead_s: float = LEAD_S,
) -> int:
    """Find the zero error by laying the level down, turned end for end the second time."""
    shown = Target(level.entry, off_the_blade(level.profile))
    stages = [
        Stage("lay the level on a steady surface, nearly level, and mark where", lead_s),
        Stage("lift it, turn it end for end, and lay it on the same place", lifted=True),
    ]
    placing = Placing(shown.profile, stages)
    readings = await _placed(shown, _of(job), placing, out, seconds, patience)
    if isinstance(readings, int):
        return readings
    where = f"{job}, [[level]] {level.entry.name!r}, under [level.settings]"
    if job is None:
        where = "the job file, under [level.settings] of this level"
    found = zero_found(readings[0], readings[1], shown.profile, where)
    if found.good and job is not None:
        today = wall()[:10]
        remember_zero(job.parent, level.entry, today)
        print(f"{today} is kept beside the job as the day on which this was proven", file=out)
    return _answer(found, out)


async def standard(
    level: Target,
    out: TextIO,
    known: Standard,
    seconds: float = 120.0,
    job: Path | None = None,
    *,
    patience: Patience = PATIENT,
    lead_s: float = LEAD_S,
) -> int:
    """Prove the level by one placement on a wedge or sine bar."""
    shown = Target(level.entry, off_the_blade(level.profile))
    stages = [Stage("lay the level on the standard, straight up its slope", lead_s)]
    placing = Placing(shown.profile, stages)
    readings = await _placed(shown, _of(job), placing, out, seconds, patience)
    if isinstance(readings, int):
        return readings
    return _answer(standard_found(readings[0], shown.profile, known), out)


async def play(
    level: Target,
    out: TextIO,
    seconds: float = 120.0,
    job: Path | None = None,
    *,
    patience: Patience = PATIENT,
    lead_s: float = LEAD_S,
) -> int:
    """Find the play of a loose blade: the level strapped on, a light finger either way."""
    hold = "and hold it there"
    stages = [
        Stage(f"do not lift the level: a light finger turns the blade towards {end} {hold}", lead_s)
        for end in ("coarse", "fine")
    ]
    placing, loaded = Placing(level.profile, stages, stays=True), _of(job)
    readings = await _placed(level, loaded, placing, out, seconds, patience)
    if isinstance(readings, int):
        return readings
    return _answer(play_found(readings[0], readings[1], level.profile, loaded), out)


def bar(length: float, u_length: float, height: float, u_height: float) -> Standard:
    """Return the standard that the command line means.

    Raises:
        BadInputError: a size that no wedge or sine bar has.
    """
    known = Standard(length, u_length, height, u_height)
    _check(0.0 < length < float("inf"), "--length", f"{length} is no length", "more than 0")
    inside = 0.0 <= height < length
    _check(
        inside, "--height", f"{height} on a slope of {length}", "0 or more, less than the length"
    )
    for key, value in (("--u-length", u_length), ("--u-height", u_height)):
        small = 0.0 <= value < length
        _check(small, key, f"{value} is no uncertainty of it", "0 or more, same unit as the length")
    return known


def check_seconds(seconds: float) -> None:
    """Raise BadInputError for a limit that is none."""
    _check(0.0 < seconds < float("inf"), "--seconds", f"{seconds} is no limit", "for example 120")


def _check(good: bool, key: str, problem: str, remedy: str) -> None:
    if not good:
        raise BadInputError("command line", key, problem, remedy)


def _of(job: Path | None) -> Job | None:
    return load_job(job) if job else None


def _answer(found: Found, out: TextIO) -> int:
    for line in found.lines:
        print(line, file=out)
    return 0 if found.good else 1


async def _placed(
    level: Target,
    job: Job | None,
    placing: Placing,
    out: TextIO,
    seconds: float,
    patience: Patience,
) -> list[Reading] | int:
    """Keep the link until every stage has its reading; or say why not, and the exit code."""
    eye = Eye(level, job, placing, out)
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds), asyncio.TaskGroup() as group:
            tasks = [
                group.create_task(keep(level.entry, level.profile, eye, patience), name="link"),
                group.create_task(_looking(eye), name="look"),
            ]
            await eye.done.wait()
            for task in tasks:
                task.cancel()
    if placing.done:
        return placing.readings
    if eye.pipe.last_ns is None or not eye.pipe.heard:
        print(_no_signal(level, seconds), file=out)
        return 3
    print(f"nothing that was asked for came to rest within {seconds:g} s", file=out)
    return 1


def _no_signal(level: Target, seconds: float) -> str:
    press = "press its button, " if level.profile.reporting.mode == "on-press" else ""
    return (
        f"no signal from {level.entry.name} on {level.entry.port} when the {seconds:g} s were over: "
        f"{press}see that it is on, and what `stillblade levels listen` shows of it"
    )


async def _looking(eye: Eye) -> None:
    while True:
        await asyncio.sleep(LOOK_S)
        eye.look()
