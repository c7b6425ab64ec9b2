"""Do whole jobs end within their stated uncertainty? Kinds of aircraft, level and reference.

    python -m benchmarks.scenario_coverage [SEEDS]

For each scenario: the share of blades whose final angle is within its own U95 of the truth,
the largest U95 and the largest error, over all seeds (default 40).
"""

import sys
from concurrent.futures import ProcessPoolExecutor

from daemon.demo.fast import fast

SCENARIOS = (
    "tail-dragger",
    "pusher",
    "left-hand",
    "projection",
    "coarse-level",
    "hub-witness",
    "witness-sees-it",
    "leaning-hub",
    "half-turn",
    "both-sides",
    "both-sides-projection",
    "first-use",
)


def one(job: tuple[str, int]) -> tuple[str, list[tuple[float, float]]]:
    """Return (error, U95) of every blade at the end of one job."""
    name, seed = job
    outcome = fast(name, seed)
    rows = outcome.closing.blades
    pairs = zip(rows, outcome.truth.angles_deg, strict=True)
    return name, [(row["angle_deg"] - true, row["u95_deg"]) for row, true in pairs]


def main() -> None:
    """Print the table."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    jobs = [(name, seed) for name in SCENARIOS for seed in range(1, seeds + 1)]
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in SCENARIOS}
    with ProcessPoolExecutor() as pool:
        for count, (name, pairs) in enumerate(pool.map(one, jobs), 1):
            found[name] += pairs
            print(f"\r{count} of {len(jobs)}", end="", file=sys.stderr)
    print(file=sys.stderr)
    print("| scenario | blades | within U95 | largest U95 | largest error |")
    print("| --- | --- | --- | --- | --- |")
    for name, pairs in found.items():
        inside = sum(abs(error) <= u95 for error, u95 in pairs) / len(pairs)
        u95, error = max(u for _, u in pairs), max(abs(e) for e, _ in pairs)
        print(f"| {name} | {len(pairs)} | {inside:.3f} | {u95:.3f} | {error:.3f} |")


if __name__ == "__main__":
    main()
