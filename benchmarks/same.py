"""Do whole jobs still say the same, byte for byte? For a change that must change no output.

    python -m benchmarks.same write FILE [--jobs 200] [--processes 2]
    python -m benchmarks.same compare FILE FILE
    python -m benchmarks.same lines SCENARIO SEED

`write` runs the first so many of all scenarios under seed 1, then seed 2, and so on, and writes
one digest a job: of its events as JSON lines, in order. `compare` names the jobs that differ, and
exits with 1 when there is one. `lines` prints what a digest is of, to be laid beside the lines of
another tree.
"""

import argparse
import hashlib
import itertools
import json
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from daemon.demo.fast import fast
from shared.messages import event_to_dict
from simulator import scenario as scenarios

Digests = dict[str, dict[str, str | int]]
"""What a job came to, by "scenario seed": how many events, and their digest."""


def chosen(count: int) -> list[tuple[str, int]]:
    """Return the first `count` jobs: every scenario under seed 1, then under seed 2, ..."""
    every = ((name, seed) for seed in itertools.count(1) for name in scenarios.names())
    return list(itertools.islice(every, count))


def lines(name: str, seed: int) -> list[str]:
    """Return the events of one job as JSON lines."""
    return [json.dumps(event_to_dict(event)) for event in fast(name, seed).recording.events]


def digest(job: tuple[str, int]) -> tuple[str, dict[str, str | int]]:
    """Return the name of a job and what it came to."""
    said = lines(*job)
    whole = hashlib.sha256("\n".join(said).encode())
    return f"{job[0]} {job[1]}", {"events": len(said), "sha256": whole.hexdigest()}


def differences(one: Digests, other: Digests) -> Iterator[str]:
    """Yield a sentence for every job of both that is not the same in both."""
    for name in one:
        if name in other and one[name] != other[name]:
            yield f"{name}: {one[name]['events']} events, then {other[name]['events']}"


def write(path: Path, count: int, processes: int) -> int:
    """Run the jobs and write their digests."""
    found: Digests = {}
    with ProcessPoolExecutor(processes) as pool:
        for name, came_to in pool.map(digest, chosen(count)):
            found[name] = came_to
            print(f"\r{len(found)} of {count} jobs", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    path.write_text(json.dumps(found, indent=1) + "\n", "utf-8")
    return 0


def compare(first: Path, second: Path) -> int:
    """Print the jobs that differ; return 1 when there is one, or nothing to compare."""
    one, other = json.loads(first.read_text("utf-8")), json.loads(second.read_text("utf-8"))
    found, both = list(differences(one, other)), one.keys() & other.keys()
    for difference in found:
        print(difference)
    alone = len(one.keys() ^ other.keys())
    print(f"{len(found)} of {len(both)} jobs differ; {alone} are in one file only")
    return 0 if both and not found else 1


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.same")
    ways = parser.add_subparsers(dest="way", required=True)
    writing = ways.add_parser("write")
    writing.add_argument("file", type=Path)
    writing.add_argument("--jobs", type=int, default=200)
    writing.add_argument("--processes", type=int, default=2)
    comparing = ways.add_parser("compare")
    comparing.add_argument("files", type=Path, nargs=2)
    showing = ways.add_parser("lines")
    showing.add_argument("scenario")
    showing.add_argument("seed", type=int)
    return parser.parse_args(given)


def main(given: Sequence[str] | None = None) -> int:
    """Do what the command line says; see the top of this file."""
    asked = _arguments(given)
    if asked.way == "write":
        return write(asked.file, asked.jobs, asked.processes)
    if asked.way == "compare":
        return compare(*asked.files)
    print("\n".join(lines(asked.scenario, asked.seed)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
