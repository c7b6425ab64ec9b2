"""Jobs nobody thought of: one scenario's job with what goes wrong in others. Is what is said so?

    python -m benchmarks.mixed [--jobs 200] [--first 1] [--shown]

A seed draws a scenario, the incidents of up to two others, the limits, how hasty the person is, how well the level seats
and how it shakes; what the job says of its level is left, so it may be wrong of it by as much as `seats` and
`noise` say. Rates as `stillblade scenarios` gives them, with exact bounds (Clopper and Pearson 1934), of all jobs and of
those whose level is what the job says. Below: jobs that ended within though a blade or the spread was out by more
than twice its U95, and no blade was knocked after its last reading; `--shown` lists every job behind a wrong row, with its seed.
"""

import argparse
import os
import sys
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from random import Random

from pydantic import ValidationError

from benchmarks.results import beyond
from daemon.demo.fast import played
from simulator import scenario as scenarios
from simulator.confusion import rates
from simulator.outcome import Row, judge
from simulator.scenario import Incident, Scenario

WRONG = {"missed", "accused", "reference blamed", "steady but moved"}
NOT_MIXED = {"mode", "swapped", "reversed", "mixed", "order", "unsaid", "gaps"}
"""Of these the program asks, or nobody can tell them from something else: what has them is not mixed."""


@dataclass(frozen=True, slots=True)
class Mixed:
    """One job and what came of it."""

    seed: int
    of: str
    as_told: bool
    """Its level is what the job says of it."""
    result: str
    beyond: float
    """By how much the worst limit is truly exceeded, in U95; see `benchmarks.results`."""
    rows: tuple[Row, ...]


def drawn(seed: int) -> tuple[str, Scenario, bool]:
    """Return what is mixed, the scenario, and whether its level is what the job says."""
    draw = Random(seed)
    base, *others = draw.sample(mixable(), draw.choice((2, 3)))
    mixed = scenarios.load(base)
    incidents = [*mixed.incident]
    for other in others:
        incidents += [
            _fitting(one, mixed.job.propeller.blades, draw)
            for one in scenarios.load(other).incident
            if one.level in {"", *mixed.hangar.level}
        ]
    seats, noise = draw.choice((1.0, 1.0, 0.5, 1.5)), draw.choice((1.0, 1.0, 0.7, 1.3))
    levels = {
        name: level.model_copy(
            update={
                "seating_sd_deg": level.seating_sd_deg * seats,
                "noise_sd_deg": level.noise_sd_deg * noise,
            }
        )
        for name, level in mixed.hangar.level.items()
    }
    wider = draw.choice((1.0, 1.0, 0.7, 1.5))
    target = mixed.job.target
    target = target.model_copy(
        update={
            "tolerance_deg": round(target.tolerance_deg * wider, 3),
            "spread_deg": round(target.spread_deg * wider, 3),
        }
    )
    made = mixed.model_copy(
        update={
            "incident": tuple(incidents),
            "hangar": mixed.hangar.model_copy(
                update={"level": levels, "theta_deg": theta(mixed, draw)}
            ),
            "person": mixed.person.model_copy(
                update={"speed": draw.uniform(0.7, 2.0), "skill": draw.uniform(0.4, 0.9)}
            ),
            "job": mixed.job.model_copy(update={"target": target}),
        }
    )
    return "+".join((base, *others)), made, seats == noise == 1.0


@cache
def mixable() -> list[str]:
    """Return the names of the scenarios that are mixed."""
    kinds = {
        name: {one.kind for one in scenarios.load(name).incident} for name in scenarios.names()
    }
    return [name for name, of in kinds.items() if not of & NOT_MIXED]


def theta(mixed: Scenario, draw: Random) -> float:
    """Return the tilt of the shaft; where a level folds, on the side that its job may count on."""
    nose = mixed.hangar.theta_deg
    if any(level.convention == "projection" for level in mixed.hangar.level.values()):
        return round(nose * draw.uniform(0.7, 1.2), 2)
    return round(draw.uniform(-12.0, 12.0), 2)


def _fitting(one: Incident, blades: int, draw: Random) -> Incident:
    """Return the incident for so many blades."""
    blade = None if one.blade is None else min(one.blade, blades)
    each = tuple(draw.choice(one.each) for _ in range(blades)) if one.each else ()
    return one.model_copy(update={"blade": blade, "each": each})


def one(seed: int) -> Mixed | str:
    """Do one job; a sentence where it could not be done."""
    of, made, as_told = drawn(seed)
    try:
        made = Scenario.model_validate(made.model_dump(exclude_unset=True))
    except ValidationError as error:
        return f"{of}: {error.errors()[0]['msg']}"
    outcome = played(made, f"mixed-{seed}", seed)
    summary = outcome.closing
    known = all(row["u95_deg"] is not None for row in summary.blades)
    rows = judge(outcome.recording.events, outcome.truth, made.allowed)
    far = beyond(outcome) if known else 0.0
    return Mixed(seed, of, as_told, summary.result or summary.state, far, tuple(rows))


def table(title: str, jobs: Sequence[Mixed]) -> None:
    """Print the rates of some of the jobs."""
    print(f"\n{title}: {len(jobs)} jobs\n\n| simulated person | seen | of | 95 % bounds |")
    print("| --- | --- | --- | --- |")
    for rate in rates(row for job in jobs for row in job.rows):
        low, high = 100 * rate.low, 100 * rate.high
        print(f"| {rate.what} | {rate.count} | {rate.of} | {low:.2f} to {high:.2f} % |")


def main() -> int:
    """Print the tables, and what is wrong."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mixed")
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--shown", action="store_true")
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    asked = parser.parse_args()
    jobs: list[Mixed] = []
    with ProcessPoolExecutor(asked.processes) as pool:
        seeds = range(asked.first, asked.first + asked.jobs)
        for count, done in enumerate(pool.map(one, seeds), 1):
            print(f"\r{count} of {asked.jobs}", end="", file=sys.stderr)
            if isinstance(done, str):
                print(f"\nnot done: {done}", file=sys.stderr)
            else:
                jobs.append(done)
    print(file=sys.stderr)
    table("all", jobs)
    table("level as told", [job for job in jobs if job.as_told])
    for job in jobs:
        unread = any(row.kind == "unread" for row in job.rows)
        if job.result == "within" and job.beyond > 2.0 and not unread:
            print(f"within, but out by {job.beyond:.1f} U95: seed {job.seed}, {job.of}")
        if asked.shown:
            for row in job.rows:
                if row.kind in WRONG:
                    told = "" if job.as_told else " (level not as told)"
                    print(
                        f"{row.kind}: blade {row.blade} {row.size_deg:+.3f} at {row.t_ns / 1e9:.0f} s,"
                        f" seed {job.seed}, {job.of}, {job.result}{told}"
                    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
