"""Would a test notice? Seeded mutants of the program, each run against the tests that reach it.

    python -m benchmarks.mutants [ROOM ...] [--count 400] [--seed 1] [--results FILE]
                                 [--processes 2] [--again] [--budget 20]

A room is a folder or a file; `benchmarks/mutation_sites.py` says what is changed. First every test
is run once and what it calls is noted (`benchmarks/mutation_tests.py`). Then each mutant is
written into a copy of the tree, never into the tree itself, and the tests that call its function
are run until one fails: those of its room first, the quick ones first, today's golden session last;
they are so many as take --budget seconds.
A mutant that no test calls has survived, and so has one that every test passes.

With --results what was found is kept and taken up again; a mutant is run anew only when its file
has changed. --again runs survivors anew, for tests that were written since.
Exits with 1 when something survived.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import ExitStack
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from queue import Queue
from random import Random
from tempfile import TemporaryDirectory

from benchmarks.mutation_runs import (
    BUDGET_S,
    Copy,
    Found,
    Kept,
    Reached,
    chosen_tests,
    importing,
    reach,
)
from benchmarks.mutation_sites import Site, sites

ROOT = Path(__file__).parent.parent
ROOMS = (
    "daemon/measure",
    "daemon/workflow",
    "daemon/core",
    "daemon/session",
    "drivers/codecs",
)
SUITE = (
    "tests/measure",
    "tests/workflow",
    "tests/core",
    "tests/daemon",
    "tests/drivers",
    "tests/session",
    "tests/shared",
    "tests/levels",
    "tests/cli/test_check.py",
    "tests/simulator/test_wires.py",
    "tests/simulator/test_with_engine.py",
    "tests/whole/test_golden.py",
)
"""What the mutants are run against; what is not there yet is left out."""


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one file."""

    room: str
    file: str
    site: Site
    digest: str
    """Of the file it changes: a result holds as long as the file is the same."""

    @property
    def name(self) -> str:
        """What it is called in the results."""
        return f"{self.file}:{self.site.name} ({self.digest})"


def drawn(root: Path, rooms: Sequence[str], count: int, seed: int) -> list[Mutant]:
    """Return so many of all mutants of these rooms, the same ones for the same seed."""
    every = [
        Mutant(room, file.relative_to(root).as_posix(), site, sha256(source).hexdigest()[:12])
        for room in rooms
        for file, source in _files(root / room)
        for site in sites(source)
    ]
    return Random(seed).sample(every, min(count, len(every)))


def _files(room: Path) -> Iterator[tuple[Path, bytes]]:
    for file in [room] if room.is_file() else sorted(room.rglob("*.py")):
        yield file, file.read_bytes()


def run_all(
    mutants: Sequence[Mutant],
    reached: Reached,
    copies: Sequence[Copy],
    kept: Kept,
    budget_s: float,
) -> None:
    """Run every mutant that has no result yet, as many at a time as there are copies."""
    free: Queue[Copy] = Queue()
    for copy in copies:
        free.put(copy)

    def one(mutant: Mutant) -> tuple[Mutant, Found]:
        naming = () if mutant.site.within else importing(ROOT, mutant.file)
        tests = chosen_tests(reached, mutant.file, mutant.site.within, naming, budget_s)
        if not tests:
            return mutant, Found("not reached", "")
        copy = free.get()
        try:
            return mutant, copy.run(mutant.file, mutant.site, tests)
        finally:
            free.put(copy)

    todo = [mutant for mutant in mutants if mutant.name not in kept.results]
    with ThreadPoolExecutor(len(copies)) as pool:
        for count, done in enumerate(as_completed([pool.submit(one, m) for m in todo]), 1):
            mutant, found = done.result()
            kept.add(mutant.name, found)
            print(f"\r{count} of {len(todo)} mutants", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)


def report(mutants: Sequence[Mutant], kept: Kept) -> int:
    """Print the survivors, then the score a room, a kind and in all; return how many survived."""
    survivors = [mutant for mutant in mutants if kept.results[mutant.name].survived]
    for mutant in sorted(survivors, key=lambda one: (one.file, one.site.line)):
        site, outcome = mutant.site, kept.results[mutant.name].outcome
        print(f"{mutant.file}:{site.line}: {site.kind}, {outcome}: {site.before}  ->  {site.after}")
    print("\n| of | mutants | killed | share |\n| --- | --- | --- | --- |")
    rooms, kinds = [one.room for one in mutants], [one.site.kind for one in mutants]
    left = Counter([one.room for one in survivors] + [one.site.kind for one in survivors])
    for name, count in [*Counter(rooms).items(), *Counter(kinds).items()]:
        print(f"| {name} | {count} | {count - left[name]} | {1 - left[name] / count:.0%} |")
    killed = len(mutants) - len(survivors)
    print(f"| all | {len(mutants)} | {killed} | {killed / max(1, len(mutants)):.1%} |")
    return len(survivors)


def main(given: Sequence[str] | None = None) -> int:
    """Draw, run and report."""
    asked = _arguments(given)
    rooms = [room for room in asked.room or ROOMS if (ROOT / room).exists()]
    mutants = drawn(ROOT, rooms, asked.count, asked.seed)
    kept = Kept(asked.results)
    if asked.again:
        kept.forget_survivors()
    with ExitStack() as stack:
        folders = [stack.enter_context(TemporaryDirectory()) for _ in range(asked.processes)]
        copies = [Copy.make(ROOT, Path(folder)) for folder in folders]
        files = sorted({mutant.file for mutant in mutants})
        suite = [path for path in asked.suite if (ROOT / path).exists()]
        digest = copies[0].digest()
        reached = kept.reached(digest, files)
        if reached is None:
            reached = reach(copies[0], files, suite, asked.processes)
            kept.keep_reached(digest, files, reached)
        run_all(mutants, reached, copies, kept, asked.budget)
    return 1 if report(mutants, kept) else 0


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.mutants")
    parser.add_argument("room", nargs="*")
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--results", type=Path)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--suite", nargs="+", default=SUITE)
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--budget", type=float, default=BUDGET_S)
    return parser.parse_args(given)


if __name__ == "__main__":
    sys.exit(main())
