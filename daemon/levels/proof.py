"""`stillblade levels zero`, `standard`, `noise`, `seating`, `play`: a level, or a loose blade, looked at.

What is asked of the person and made of the answers is a `Proof`; `run` puts it to a level and
prints (0 the answer is yes, 1 no or nothing came to rest, 3 no signal).
"""

import asyncio
import contextlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from daemon.core.pipe import Pipe
from daemon.levels.ear import Target
from daemon.measure.proving.checks import (
    Found,
    noise_found,
    off_the_blade,
    play_found,
    seating_found,
    standard_found,
    zero_found,
)
from daemon.measure.proving.placing import Placing, Stage
from daemon.measure.proving.resting import Resting
from daemon.measure.proving.seats import PLACEMENTS
from daemon.measure.proving.zero import Standard
from daemon.measure.stream.facts import Fact
from daemon.measure.stream.reading import Reading
from daemon.session.jobs import load_job
from drivers.links import PATIENT, Patience, keep
from shared.inputs import NS
from shared.job import Job, Thresholds

LEAD_S = 5.0
"""The person has so long to lay the level, or to bring a finger to the blade."""
LOOK_S, TELL_S = 0.25, 1.0
"""Between two looks at silence, and between two lines of progress."""


@dataclass(frozen=True, slots=True)
class Proof:
    """One thing to find out about a level.

    Attributes:
        level: with the profile it is read by.
        job: the level's, for its thresholds and the length of its blade; None without one.
        placing: what the person is asked to do, one placement after the other.
        answer: what the readings of all placements come to.
    """

    level: Target
    job: Job | None
    placing: Placing | Resting
    answer: Callable[[list[Reading]], Found]


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a proof ended: the exit code, and what was found; None: nothing was."""

    code: int
    found: Found | None = None


class Eye:
    """A sink that hands one level's bytes to its pipe, and what that tells to the placing.

    clock: nanoseconds that never go back.

    Attributes:
        done: set when every stage has its reading.
    """

    def __init__(
        self, proof: Proof, out: TextIO, clock: Callable[[], int] = time.monotonic_ns
    ) -> None:
        level, job, placing = proof.level, proof.job, proof.placing
        thresholds = job.thresholds if job else Thresholds()
        self.pipe = Pipe(level.entry, level.profile, thresholds.lift_deg)
        self.placing = placing
        self.done = asyncio.Event()
        self._out = out
        self._clock = clock
        self._told_s = 0.0
        self._say(placing.begin(clock() / NS))

    def bytes(self, level: str, channel: int, data: bytes) -> None:
        """Take one chunk from the link."""
        del level
        now_ns = self._clock()
        self._take(now_ns, self.pipe.feed(now_ns, channel, data))

    def up(self, level: str, identity: str) -> None:
        """The link works."""
        del level
        self._take(self._clock(), self.pipe.link("up", "", identity))

    def down(self, level: str, reason: str) -> None:
        """The link does not work."""
        del level
        self._take(self._clock(), self.pipe.link("down", reason, ""))

    def look(self) -> None:
        """Notice silence, and tell how far it is. Call it a few times a second."""
        now_ns = self._clock()
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


def zero(
    level: Target, job: Path | None = None, *, lead_s: float = LEAD_S, written: bool = False
) -> Proof:
    """Return how to find the zero error: laid down, then turned end for end on the same place.

    written: what takes it out is written for the person, who need not be told how.
    """
    shown = Target(level.entry, off_the_blade(level.profile))
    stages = [
        Stage("lay the level on a steady surface, nearly level, and mark where", lead_s),
        Stage("lift it, turn it end for end, and lay it on the same place", lifted=True),
    ]
    where = f"{job}, [[level]] {level.entry.name!r}, under [level.settings]"
    if job is None:
        where = "" if written else "the job file, under [level.settings] of this level"

    def answer(readings: list[Reading]) -> Found:
        return zero_found(readings[0], readings[1], shown.profile, where)

    return Proof(shown, _of(job), Placing(shown.profile, stages), answer)


def standard(
    level: Target, known: Standard, job: Path | None = None, *, lead_s: float = LEAD_S
) -> Proof:
    """Return how to prove the level by one placement on a wedge or sine bar."""
    shown = Target(level.entry, off_the_blade(level.profile))
    stages = [Stage("lay the level on the standard, straight up its slope", lead_s)]

    def answer(readings: list[Reading]) -> Found:
        return standard_found(readings[0], shown.profile, known)

    return Proof(shown, _of(job), Placing(shown.profile, stages), answer)


def noise(level: Target, job: Path | None = None) -> Proof:
    """Return how to find its noise: laid down and left alone."""
    # a level that watches tells every sample, one for the blades its averages only
    shown = Target(level.entry.model_copy(update={"role": "watch"}), off_the_blade(level.profile))
    resting = Resting(shown.profile)

    def answer(readings: list[Reading]) -> Found:
        del readings
        return noise_found(resting.noise(), resting.rate_hz, shown.profile)

    return Proof(shown, _of(job), resting, answer)


def seating(level: Target, job: Path | None = None, *, lead_s: float = LEAD_S) -> Proof:
    """Return how to find how well it finds its seat again: laid on one place several times."""
    shown = Target(level.entry, off_the_blade(level.profile))
    place = "lay the level on a steady surface that is like the blades, and mark where"
    again = "lift it, tip it in your hand, and lay it on the same place"
    stages = [Stage(f"(1 of {PLACEMENTS}) {place}", lead_s)] + [
        Stage(f"({number} of {PLACEMENTS}) {again}", lifted=True)
        for number in range(2, PLACEMENTS + 1)
    ]

    def answer(readings: list[Reading]) -> Found:
        return seating_found(readings, shown.profile)

    return Proof(shown, _of(job), Placing(shown.profile, stages), answer)


def play(level: Target, job: Path | None = None, *, lead_s: float = LEAD_S) -> Proof:
    """Return how to find a loose blade's play: the level strapped on, a light finger either way."""
    hold = "and hold it there"
    stages = [
        Stage(f"do not lift the level: a light finger turns the blade towards {end} {hold}", lead_s)
        for end in ("coarse", "fine")
    ]
    loaded = _of(job)

    def answer(readings: list[Reading]) -> Found:
        return play_found(readings[0], readings[1], level.profile, loaded)

    return Proof(level, loaded, Placing(level.profile, stages, stays=True), answer)


def _of(job: Path | None) -> Job | None:
    return load_job(job) if job else None


async def run(
    proof: Proof, out: TextIO, seconds: float = 120.0, patience: Patience = PATIENT
) -> Outcome:
    """Keep the link until every stage has its reading or the time is up; print what was found."""
    level, eye = proof.level, Eye(proof, out)
    with contextlib.suppress(TimeoutError):
        async with asyncio.timeout(seconds), asyncio.TaskGroup() as group:
            tasks = [
                group.create_task(keep(level.entry, level.profile, eye, patience), name="link"),
                group.create_task(_looking(eye), name="look"),
            ]
            await eye.done.wait()
            for task in tasks:
                task.cancel()
    return conclude(proof, eye, out, seconds)


def conclude(proof: Proof, eye: Eye, out: TextIO, seconds: float) -> Outcome:
    """Print the answer, or after so many seconds without one why not."""
    if proof.placing.done:
        found = proof.answer(proof.placing.readings)
        for line in found.lines:
            print(line, file=out)
        return Outcome(0 if found.good else 1, found)
    if eye.pipe.last_ns is None or not eye.pipe.heard:
        print(_no_signal(proof.level, seconds), file=out)
        return Outcome(3)
    print(f"nothing that was asked for came to rest within {seconds:g} s", file=out)
    return Outcome(1)


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
