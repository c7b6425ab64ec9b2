"""Does a job end with the word that is true? Jobs whose bolts leave blades out, and jobs that do not.

    python -m benchmarks.results [JOBS] [--processes 1]

A simulated person leaves what is out as it is, so that every kind of end is seen. A job is truly out where
a blade lies beyond the tolerance, or the blades beyond the spread, by more than the U95 that the program states of it;
truly within where all of them lie inside by more than that. Rates with exact bounds (Clopper and Pearson 1934).
Beside it: alarms and readings where bolts turn blades and leave them in tolerance and spread.
"""

import argparse
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import repeat
from random import Random
from typing import Any

from daemon.demo.fast import Outcome, played
from shared.events import Alarm
from simulator import scenario as scenarios
from simulator.bounds import exact_bounds
from simulator.scenario import Incident, Scenario, When

ROUNDS = ("snug", "torque")


@dataclass(frozen=True, slots=True)
class Ended:
    """One job: how it was judged, what was true, and what it took."""

    result: str
    beyond: float
    """By how much the worst limit is exceeded, in units of its own U95; negative: inside."""
    left_in: bool
    """Bolts turned blades and left all in, by more than U95."""
    alarms: int
    readings: int


def scenario(seed: int, *, gentle: bool) -> Scenario:
    """Return the usual job with bolts that turn every blade by something drawn."""
    draw = Random(seed)
    base = scenarios.load("quiet")
    tolerance = base.job.target.tolerance_deg
    widest = 0.35 * tolerance if gentle else 2.5 * tolerance
    blades = base.job.propeller.blades
    common = draw.uniform(-0.3, 0.3) * widest
    each = tuple(round(common + draw.uniform(-0.7, 0.7) * widest, 3) for _ in range(blades))
    turned = Incident(
        kind="tighten", each=each, when=When(stage="tighten", label=draw.choice(ROUNDS))
    )
    person = base.person.model_copy(update={"patience": 0})
    return base.model_copy(update={"incident": (turned,), "person": person})


def beyond(outcome: Outcome) -> float:
    """Return by how much the worst limit is truly exceeded, in units of its stated U95."""
    target, summary = outcome.recording.header.job.target, outcome.closing
    true = outcome.truth.angles_deg
    over = [
        (abs(angle - target.angle_deg) - target.tolerance_deg) / row["u95_deg"]
        for angle, row in zip(true, summary.blades, strict=True)
    ]
    if summary.spread_u95_deg:
        over.append((max(true) - min(true) - target.spread_deg) / summary.spread_u95_deg)
    return float(max(over))


def one(seed: int, gentle: bool) -> Ended | None:
    """Run one job; None where it did not come to its end."""
    outcome = played(scenario(seed, gentle=gentle), f"results-{seed}", seed)
    summary = outcome.closing
    if any(row["u95_deg"] is None for row in summary.blades):
        return None
    far = beyond(outcome)
    alarms = sum(isinstance(event.body, Alarm) for event in outcome.recording.events)
    return Ended(summary.result or "", far, far < -1.0, alarms, summary.readings)


def told(name: str, count: int, of: int) -> str:
    """Return one row: how often, of how many, and the bounds."""
    if not of:
        return f"| {name} | 0 | 0 | no case |"
    low, high = exact_bounds(count, of)
    return f"| {name} | {count} | {of} | {100 * low:.2f} to {100 * high:.2f} % |"


def main() -> int:
    """Print both tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.results")
    parser.add_argument("jobs", nargs="?", type=int, default=400)
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    harsh = run(asked.jobs, asked.processes, gentle=False)
    gentle = run(max(40, asked.jobs // 10), asked.processes, gentle=True)
    out = [job for job in harsh if job.beyond > 1.0]
    inside = [job for job in (*harsh, *gentle) if job.beyond < -1.0]
    deep = [job for job in inside if job.beyond < -2.0]
    print("| simulated person | seen | of | 95 % bounds |\n| --- | --- | --- | --- |")
    print(told("truly out, ended within", sum(j.result == "within" for j in out), len(out)))
    print(told("truly within, called out", sum(j.result == "out" for j in inside), len(inside)))
    print(
        told("within by two U95, called within", sum(j.result == "within" for j in deep), len(deep))
    )
    left = [job for job in gentle if job.left_in]
    print(told("bolts left all in: an alarm", sum(job.alarms > 0 for job in left), len(left)))
    print(
        "\nresults: "
        + ", ".join(f"{word} {n}" for word, n in Counter(j.result for j in harsh).items())
    )
    if left:
        print(
            f"readings where bolts left all in: {sum(j.readings for j in left) / len(left):.1f} a job"
        )
    return 0


def run(jobs: int, processes: int, *, gentle: bool) -> list[Ended]:
    """Run so many jobs, with progress."""
    found: list[Ended] = []
    with ProcessPoolExecutor(processes) as pool:
        each: Any = pool.map(one, range(1, jobs + 1), repeat(gentle), chunksize=4)
        for count, job in enumerate(each, 1):
            found += [job] if job else []
            print(f"\r{count} of {jobs}", end="", file=sys.stderr)
    print(file=sys.stderr)
    return found


if __name__ == "__main__":
    sys.exit(main())
