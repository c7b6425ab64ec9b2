"""How many readings a job is said to want before it begins, and how many it took.

    python -m benchmarks.foretold [--jobs 20] [--first 1] [SCENARIO ...]

Jobs of a simulated person in which nothing happens (a scenario without its incidents): its readings
against the range that `daemon.core.foretold` gives for the same header. In brackets the one-sided 95 %
bound (Clopper and Pearson) of the rate of jobs within it. A scenario is one job, so its range is the same for all of its seeds.
"""

import argparse
from pathlib import Path

from daemon.core import foretold
from daemon.demo import fast
from daemon.session.headers import make_header
from shared.events import Captured
from simulator import scenario as scenarios
from simulator.bounds import exact_bounds
from simulator.hangar import Hangar
from simulator.scenario import Scenario

ROWS = (
    "quiet",
    "hands-free-quiet",
    "single-placements",
    "unmeasured-seat",
    "noisy-level",
    "coarse-level",
    "roll-pitch",
    "projection",
    "half-turn",
    "both-sides",
    "own-clamps",
    "two-rings",
    "hub-witness",
    "blades-2",
    "blades-6",
)
HEAD = "| scenario | jobs | said | took | within what was said |\n| --- | --- | --- | --- | --- |"


def quiet(name: str) -> Scenario:
    """Return a scenario in which nothing happens."""
    return scenarios.load(name).model_copy(update={"incident": []})


def row(name: str, seeds: range) -> tuple[str, int]:
    """Return one line of the table, and how many jobs were within."""
    scenario = quiet(name)
    within, said, took = 0, set[foretold.Foretold | None](), list[int]()
    for seed in seeds:
        header = make_header(Hangar(scenario, seed).job, Path(), session=f"foretold-{seed}")
        span = foretold.foretold(header)
        played = fast.played(scenario, f"foretold-{seed}", seed).recording.events
        took.append(sum(isinstance(event.body, Captured) for event in played))
        said.add(span)
        within += span is not None and span.fewest <= took[-1] <= span.most
    least = exact_bounds(within, len(seeds), 0.9)[0]
    told = ", ".join(
        "nothing" if one is None else f"{one.fewest} to {one.most}" for one in sorted(said, key=str)
    )
    return (
        f"| {name} | {len(seeds)} | {told} | {min(took)} to {max(took)} |"
        f" {within} (over {least:.2f}) |"
    ), within


def main() -> None:
    """Print the table, a row as soon as it is done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=20)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("scenarios", nargs="*", metavar="SCENARIO")
    given = parser.parse_args()
    print(HEAD)
    names, within = given.scenarios or ROWS, 0
    for name in names:
        line, so_many = row(name, range(given.first, given.first + given.jobs))
        within += so_many
        print(line, flush=True)
    jobs = given.jobs * len(names)
    least = exact_bounds(within, jobs, 0.9)[0]
    print(f"| all | {jobs} | | | {within} (over {least:.2f}) |")


if __name__ == "__main__":
    main()
