"""All scenarios with many seeds on data time, in several processes: the confusion table."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass

from daemon.demo.fast import fast
from simulator import scenario as scenarios
from simulator.confusion import Rate, rates
from simulator.outcome import Row, breaches, judge


@dataclass(frozen=True, slots=True)
class Job:
    """One scenario under one seed."""

    name: str
    seed: int


@dataclass(frozen=True, slots=True)
class Done:
    """What one job came to: cases of the confusion table, and what was not allowed."""

    job: Job
    rows: tuple[Row, ...]
    breaches: tuple[str, ...]


def do(job: Job) -> Done:
    """Run one job and hold what was said against the truth."""
    outcome = fast(job.name, job.seed)
    events, allowed = outcome.recording.events, scenarios.load(job.name).allowed
    found = breaches(events, outcome.truth, allowed)
    return Done(
        job,
        tuple(judge(events, outcome.truth, allowed)),
        tuple(f"{breach.t_ns / 1e9:.0f} s: {breach.says}" for breach in found),
    )


def run_all(
    names: Sequence[str], seeds: Sequence[int], told: Callable[[int, int], None]
) -> Iterator[Done]:
    """Yield the outcome of every scenario under every seed, as they are ready.

    told: called with how many are done, of how many.
    """
    jobs = [Job(name, seed) for seed in seeds for name in names]
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        waiting = [pool.submit(do, job) for job in jobs]
        for count, future in enumerate(as_completed(waiting), 1):
            told(count, len(jobs))
            yield future.result()


def table(done: Sequence[Done]) -> list[Rate]:
    """Return the confusion table of all of them."""
    return rates(row for one in done for row in one.rows)
