"""How many readings a job will want if nothing moves: done once in thought, before it begins.

What a placement buys decides how many are asked for, so no arithmetic of the plan alone foretells them.
The same plan, ledger and judging that will ask are therefore told the facts of somebody who sets each
blade on its angle at the first attempt, lays the level down as well as its profile says, and touches
nothing else. That is done a few times, each with other placements; nothing of it is recorded.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from typing import NamedTuple

from daemon.core.way import Way
from daemon.measure.angle.geometry import planar_reading, projection_reading, seat
from daemon.measure.stream.average import inflation, prior_of, rounding_u
from daemon.measure.stream.facts import Hearing, InHand, Ready, Rested
from daemon.measure.stream.reading import Reading
from daemon.workflow import carry
from daemon.workflow.case import Case
from daemon.workflow.commands import RefusedError, execute
from daemon.workflow.plan import Step
from daemon.workflow.referred import SECOND
from daemon.workflow.result import judge_set, result
from daemon.workflow.watching import Watching
from shared.angles import wrap_deg
from shared.events import REFERENCE, BladeId, Body, Captured
from shared.inputs import NS, UNSTAMPED, Command, CommandKind
from shared.job import Header
from shared.profile import LevelProfile

DRAWS = 20
"""So often it is done in thought."""
MORE = 0.1
"""Of readings: no blade is set twice in thought, nor do placements disagree as often as a hand's."""
TILT_DEG = 3.0
"""Nobody knows the tilt of the shaft before the reference; how many readings there are hangs little on it."""
LONGEST = 300
"""So many steps are no quiet job."""
LOOSE = frozenset({"set", "baseline"})
"""Stages in which lifting the level turns a blade."""
LAIN_S = 2.0
"""So long a level lies until its reading is taken."""


class Quiet(NamedTuple):
    """One quiet job in thought: how many readings it took, and whether its result was within."""

    readings: int
    within: bool


class Foretold(NamedTuple):
    """What some quiet jobs of a header come to.

    fewest, most: readings; the most with a tenth more. provable: one of them at least was within its limits;
    else they are narrower than such readings can tell of blades that all stand on their angle.
    """

    fewest: int
    most: int
    provable: bool


def foretold(header: Header) -> Foretold | None:
    """Return what a quiet job of this header will come to.

    None where nothing is read, or where the job does not come to its end in thought. It hangs on the job,
    its profiles and what it takes over, so it is the same whenever it is asked; it changes nothing.
    """
    jobs = [quiet(header, draw) for draw in range(DRAWS)]
    found = span([None if job is None else job.readings for job in jobs])
    if found is None:
        return None
    provable = any(job is not None and job.within for job in jobs)
    return Foretold(found[0], found[1] + math.ceil(MORE * found[1]), provable)


def span(counts: Sequence[int | None]) -> tuple[int, int] | None:
    """Return the fewest and the most of counts; None where one is not known, or there is none."""
    known = [one for one in counts if one is not None]
    return (min(known), max(known)) if known and len(known) == len(counts) else None


def quiet(header: Header, draw: int) -> Quiet | None:
    """Return what one quiet job comes to; draw: which of them. None: see `foretold`."""
    if header.procedure == "watch":
        return None
    alone = _alone(header)
    return _Quiet(alone, _Draws(f"{alone.job.model_dump_json()} {draw}")).done()


def _alone(header: Header) -> Header:
    """Return the same job with the level for its blades and nothing else, by press."""
    job = header.job
    level = [entry for entry in job.level if entry.role == "blade"][:1]
    setup = job.setup.model_copy(update={"capture": "by press"})
    alone = job.model_copy(update={"level": level, "setup": setup})
    return header.model_copy(update={"job": alone})


class _Draws:
    """Normal deviates that hang on what they are for and nothing else: any machine draws the same."""

    def __init__(self, of: str) -> None:
        self._of = blake2b(of.encode(), digest_size=16)
        self._drawn = 0

    def gauss(self, sd: float) -> float:
        """Return a normal deviate (Box and Muller, Annals of Mathematical Statistics 29, 1958)."""
        self._drawn += 1
        one = self._of.copy()
        one.update(b" %d" % self._drawn)
        far, way = (int.from_bytes(part, "big") for part in (one.digest()[:8], one.digest()[8:]))
        size = math.sqrt(-2.0 * math.log((far + 1) / 2.0**64))
        return sd * size * math.cos(2.0 * math.pi * way / 2.0**64)


@dataclass(slots=True)
class _Quiet:
    """One quiet job in thought."""

    header: Header
    draws: _Draws
    read: int = 0
    said: int = 0
    _placement: int = 0
    _now_ns: int = 0
    _lies_on: BladeId | None = None
    _psi_deg: float = 0.0
    _true: dict[int, float] = field(default_factory=dict)

    def done(self) -> Quiet | None:
        """Do it; None: it did not come to its end."""
        case = Case(self.header, self._say)
        way = Way(case, Watching(case, always=False))
        level = self.header.job.level[0].name
        way.hear(Hearing(level, heard=True), 0)
        carry.restore(case, self.header.carried)
        way.proceed()
        for _ in range(LONGEST):
            if case.step.stage == "finished":
                return Quiet(self.read, result(case, judge_set(case)) == "within")
            if not self._step(case, way):
                return None
        return None

    def _tilt_deg(self) -> float:
        return -TILT_DEG if self.header.job.setup.nose == "down" else TILT_DEG

    def _say(self, body: Body) -> int:
        self.said += 1
        self.read += isinstance(body, Captured)
        return self.said

    def _step(self, case: Case, way: Way) -> bool:
        """Do what the step wants; return whether that changed it."""
        before = case.step_number
        if case.step.stage == "answer":
            alarm = next(iter(case.alarms))
            answer: dict[str, str | int] = {
                "id": alarm.id,
                "then": "accept",
                "by": "nobody",
                "reason": "in thought",
            }
            self._press(case, way, "acknowledge", answer)
        elif not case.step.reads:
            self._press(case, way, "done", {})
        else:
            self._lay(case, way)
            self._press(case, way, "take", {})
            self._look(case, way)
        return case.step_number > before

    def _press(self, case: Case, way: Way, kind: CommandKind, args: dict[str, str | int]) -> None:
        command = Command("", "in thought", UNSTAMPED, kind, {**args})
        try:
            execute(case, command, self._later())
        except RefusedError:
            return
        way.follow(command, self._now_ns)

    def _look(self, case: Case, way: Way) -> None:
        """Answer what is asked of what lies there; which way the shaft points first."""
        while (asked := case.takings.question()) is not None:
            answer: dict[str, str | int] = {"id": asked.id}
            if asked.wants == "nose":
                answer["nose"] = "up"
            self._press(case, way, "confirm", answer)
            if case.takings.question() is asked:
                return

    def _lay(self, case: Case, way: Way) -> None:
        """Lift the level, and lay it where the step wants it until its average is good."""
        level, reading = self.header.job.level[0].name, self._reading(case.step, case.aim_deg)
        self._placement += 1
        way.hear(InHand(level), self._later())
        way.hear(Rested(level, self._placement), self._later())
        way.hear(Ready(level, self._placement, False, reading), self._later())

    def _later(self) -> int:
        self._now_ns += NS
        return self._now_ns

    def _reading(self, step: Step, aim_deg: float) -> Reading:
        """Return what a level as good as its profile says makes of this placement."""
        profile = self.header.profiles[self.header.job.level[0].name]
        prior, n = prior_of(profile), self._averaged(profile)
        u = prior.sd * math.sqrt(inflation(prior.lag1, n) / n)
        loose = self.header.job.setup.lift_u_deg if step.stage in LOOSE else 0.0
        off = self.draws.gauss(math.hypot(u, profile.seating.u_deg, loose))
        return Reading(
            mean_deg=wrap_deg(self._shown(step, aim_deg, profile) + off),
            u_deg=u,
            dof=n - 1.0 + prior.weight,
            n=n,
            sd_deg=prior.sd,
            lag1=prior.lag1,
            reached=True,
            psi_deg=None,
            u_psi_deg=None,
            resolution_deg=profile.resolution_deg,
            u_rounding_deg=rounding_u(prior.step, prior.clean_sd) if prior.learned else None,
        )

    def _averaged(self, profile: LevelProfile) -> int:
        """Return how many samples are averaged: one where the level sends on a press."""
        if profile.reporting.mode == "on-press":
            return 1
        return max(2, round(LAIN_S * profile.reporting.rate_hz))

    def _shown(self, step: Step, aim_deg: float, profile: LevelProfile) -> float:
        """Return what a perfect level shows there; the propeller is turned to the next blade."""
        if step.blade != self._lies_on:
            self._lies_on = step.blade
            self._psi_deg = self.draws.gauss(self.header.job.setup.psi_u_deg)
        both = step.blade == REFERENCE and self.header.job.setup.reference == "both-sides"
        blade = 1 if both else step.blade
        if not isinstance(blade, int):
            lies = seat(0.0, self._tilt_deg())
        else:
            if step.stage == "set":
                self._true[blade] = aim_deg
            true = self._true.setdefault(blade, aim_deg)
            psi_deg = self._psi_deg + (180.0 if both and step.half == SECOND else 0.0)
            lies = seat(true, self._tilt_deg(), psi_deg, 0.0, self.header.job.propeller.face_deg)
        shown = projection_reading if profile.convention == "projection" else planar_reading
        return shown(lies)
