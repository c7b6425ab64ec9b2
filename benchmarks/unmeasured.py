"""A level whose seating nobody measured: do final angles hold, and is an innocent accused?

    python -m benchmarks.unmeasured [--jobs 40] [--first 1] [SEATING ...]

Whole jobs through the ordinary engine (three blades; check, snug, torque, final), by a simulated
person who lays the level down and presses; samples at 10 a second with white noise of 0.03. The
level's true seating is the row's; the program is told the shipped profile (0.03, not measured), or
in the last row a profile that was measured (0.02, n = 40) and is right. In half of the jobs a blade
is turned by 0.4 to 2 before a round. Every alarm is accepted as it is. Rates with their exact
95 % bounds (Clopper and Pearson, one side each). A job takes about half a second of one core:
400 a row take about twenty minutes, one row four. SEATING 0 is the measured row.
"""

import argparse
import random
from dataclasses import dataclass, field
from functools import reduce
from pathlib import Path
from typing import Any

from daemon.core.engine import Engine
from daemon.session.headers import make_header
from shared.events import REFERENCE, Answered, BladeId, Captured, Event, Summary, Verdict
from shared.inputs import NS, Bytes, Command, CommandKind, Link
from shared.job import Header, Job
from simulator.bounds import exact_bounds

PERIOD_NS = NS // 10
NOISE_DEG, TILT_DEG, ZERO_DEG, LIFT_DEG = 0.03, 3.0, 0.1, 0.01
SEATINGS = (0.03, 0.05, 0.08, 0.12, 0.15)
HONEST_DEG = 0.02
HONEST: dict[str, Any] = {
    "noise": {"sd_deg": NOISE_DEG, "n": 3000},
    "seating": {"u_deg": HONEST_DEG, "n": 40},
}
HEAD = (
    "| {} | jobs | finals within U95 | mean U95 | jobs with an innocent accused | knocks called |"
    " readings |\n| --- | --- | --- | --- | --- | --- | --- |"
)
MOST_STEPS = 400


def job(settings: dict[str, Any], tolerance_deg: float, face_deg: float = 0.0) -> Header:
    """Return the header of a job with one level."""
    tables: dict[str, Any] = {
        "stillblade_job": 1,
        "name": "unmeasured",
        "propeller": {
            "blades": 3,
            "rotation": "clockwise",
            "layout": "tractor",
            "station": "75 % radius",
            "face_deg": face_deg,
        },
        "target": {"angle_deg": 20.0, "tolerance_deg": tolerance_deg, "spread_deg": tolerance_deg},
        "plan": {"rounds": ["check", "snug", "torque", "final"]},
        "level": [{"name": "chord", "profile": "nmea-xdr", "settings": settings}],
    }
    return make_header(Job.model_validate(tables), Path(), session="unmeasured")


@dataclass
class Worker:
    """Does one job.

    Attributes:
        true: every blade's true angle.
        turned: who was truly turned since it was held.
        accused: blades that were called and had not been turned.
        missed: not called though turned.
    """

    header: Header
    seating_deg: float
    seed: int
    true: dict[int, float] = field(default_factory=dict)
    turned: set[int] = field(default_factory=set)
    accused: set[int] = field(default_factory=set)
    found: set[int] = field(default_factory=set)
    summary: Summary | None = None
    readings: int = 0

    def __post_init__(self) -> None:
        """Draw what is true."""
        self.random = random.Random(self.seed)
        self.zero_deg = self.random.uniform(-ZERO_DEG, ZERO_DEG)
        self.true = {blade: 20.0 + self.random.gauss(0.0, 0.05) for blade in (1, 2, 3)}
        self.knock = (
            self.random.choice(["check", "snug", "torque", "final", "", "", "", ""]),
            self.random.choice((1, 2, 3)),
            self.random.choice((-1.0, 1.0)) * self.random.uniform(0.4, 2.0),
        )
        self.engine = Engine(self.header)
        self.t_ns, self.count, self.seen, self.stage = 0, 0, 0, ""
        self.hear(self.engine.feed(Link("chord", "up", "", "one", t_ns=0)))

    def hear(self, events: list[Event]) -> None:
        """Take in what the program says."""
        for event in events:
            self.seen, body = event.n, event.body
            if isinstance(body, Verdict):
                if body.state in {"moved", "turned", "exchanged"} and isinstance(body.blade, int):
                    (self.found if body.blade in self.turned else self.accused).add(body.blade)
            elif isinstance(body, Captured):
                self.readings += 1
            elif isinstance(body, Summary):
                self.summary = body
            elif isinstance(body, Answered) and body.result != "done" and "taken" not in body.say:
                raise AssertionError(body)

    def press(self, kind: CommandKind, **args: Any) -> None:
        """Ask for something."""
        self.t_ns, self.count = self.t_ns + 1, self.count + 1
        name = f"press-{self.count}"
        self.hear(
            self.engine.feed(Command(name, "worker", self.seen, kind, args, None, t_ns=self.t_ns))
        )

    def send(self, angle_deg: float) -> None:
        """One sample."""
        self.t_ns += PERIOD_NS
        body = f"IIXDR,A,{angle_deg:.2f},D,PITCH".encode()
        data = b"$%s*%02X\r\n" % (body, reduce(lambda a, b: a ^ b, body, 0))
        self.hear(self.engine.feed(Bytes("chord", 0, data, self.t_ns)))

    def on_blade(self, blade: int) -> float:
        """What a perfect level shows on a blade in the placement that is about to be read."""
        return self.true[blade] - TILT_DEG

    def read(self, stage: str, blade: BladeId) -> None:
        """One placement: carried, laid down, pressed for, taken."""
        before, draw = self.readings, self.random
        for _ in range(9):
            self.send(draw.uniform(-70.0, 70.0))
        at = -TILT_DEG if blade == REFERENCE else self.on_blade(int(blade))
        at += self.zero_deg + draw.gauss(0.0, self.seating_deg)
        for sample in range(60):
            self.send(at + draw.gauss(0.0, NOISE_DEG))
            if sample == 9:
                self.press("take")
            if self.readings > before:
                break
        if isinstance(blade, int) and stage in {"set", "baseline"}:
            self.true[blade] += draw.gauss(0.0, LIFT_DEG)

    def work(self) -> "Worker":
        """Do the whole job."""
        for _ in range(MOST_STEPS):
            view = self.engine.view()
            if self.engine.finished:
                return self
            if view.stage == self.knock[0] and view.stage != self.stage:
                self.true[self.knock[1]] += self.knock[2]
                self.turned.add(self.knock[1])
            self.stage = view.stage
            if view.alarms and view.stage == "answer":
                one = view.alarms[0]
                if (
                    isinstance(one.blade, int) and one.kind != "out"
                ):  # of that it stays as it was held
                    self.turned.discard(one.blade)
                self.press("acknowledge", id=one.id, then="accept", by="Ada", reason="as it is")
            elif view.question:
                self.press("confirm", id=view.question.id)
            elif view.blade is None:
                self.press("done")
            else:
                self.read(view.stage, view.blade)
        raise AssertionError(f"seed {self.seed} does not end: {self.engine.view().say}")


@dataclass(slots=True)
class Tally:
    """What the jobs of a row came to."""

    inside: int = 0
    finals: int = 0
    accused: int = 0
    jobs: int = 0
    uncalled: int = 0
    knocked: int = 0
    widths: list[float] = field(default_factory=list)
    readings: int = 0

    def add(self, worker: Worker) -> None:
        """Count one job."""
        assert worker.summary is not None
        self.jobs += 1
        self.accused += bool(worker.accused)
        self.readings += worker.readings
        self.knocked += bool(worker.knock[0])
        self.uncalled += bool(worker.turned - worker.found)
        for row in worker.summary.blades:
            error = row["angle_deg"] - worker.true[row["blade"]]
            self.finals += 1
            self.inside += abs(error) <= row["u95_deg"]
            self.widths.append(row["u95_deg"])

    def row(self, name: str) -> str:
        """Return one line of the table."""
        low, _ = exact_bounds(self.inside, self.finals, 0.9)
        _, high = exact_bounds(self.accused, self.jobs, 0.9)
        width = sum(self.widths) / len(self.widths)
        return (
            f"| {name} | {self.jobs} | {self.inside / self.finals:.3f} (over {low:.3f}) | "
            f"{width:.3f} | {self.accused} (under {high:.4f}) | "
            f"{self.knocked - self.uncalled} of {self.knocked} | {self.readings / self.jobs:.0f} |"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("rows", nargs="*", type=float, metavar="SEATING")
    given = parser.parse_args()
    print("By a simulated person.")
    print(HEAD.format("true seating"))
    for seating in given.rows or [*SEATINGS, 0.0]:
        tally, header = Tally(), job({} if seating else HONEST, 0.5)
        for seed in range(given.first, given.first + given.jobs):
            tally.add(Worker(header, seating or HONEST_DEG, seed).work())
        print(tally.row(f"{seating:.2f}" if seating else "0.02, measured"), flush=True)


if __name__ == "__main__":
    main()
