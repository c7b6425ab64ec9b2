"""How well formats of levels that nobody described are learned.

    python -m benchmarks.learning [COUNT] [FIRST SEED]

Invented levels (`simulator/strangers`) are moved by a person whose hands are off by 3 degrees.
What is learned is held against the true poses on a second performance, exact ones included:
right is a profile that shows the angle of every pose, by its own convention and mounting, within
1 degree. Then as many of each rarer format (a quarter of the count), and 30 inputs in which there is
nothing to find.
"""

import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from drivers.learn.asked import Outcome
from drivers.learn.learning import learn
from simulator.strangers.level import Stranger, stranger
from simulator.strangers.rarer import RARER, rarer
from simulator.strangers.unlearnable import COUNT, unlearnable
from tests.learn.truth import given, motions, wrong


@dataclass(slots=True)
class Came:
    """What came of all of them."""

    right: int = 0
    certain: int = 0
    wrong_certain: int = 0
    not_found: int = 0
    slowest_s: float = 0.0
    kinds: Counter[str] = field(default_factory=Counter)
    rights: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)


def learned(level: Stranger, seed: int) -> tuple[Outcome, float]:
    """Return what is learned of a level, and the seconds of computing it took."""
    arrived = level.heard(motions(seed))
    heard, marks = given(arrived, "serial" if level.baud else "ble-notify", level.baud)
    began = time.process_time()
    outcome = learn(heard, marks)
    return outcome, time.process_time() - began


def formats(
    count: int, first: int, came: Came, drawn: Callable[[int], Stranger] = stranger
) -> None:
    """Learn invented formats."""
    for seed in range(first, first + count):
        level = drawn(seed)
        outcome, took_s = learned(level, seed)
        problem = wrong(level, outcome)
        came.slowest_s = max(came.slowest_s, took_s)
        came.certain += outcome.certain
        came.right += not problem
        came.wrong_certain += bool(problem) and outcome.certain
        came.kinds[level.family] += 1
        came.rights[level.family] += not problem
        if problem:
            meaning = level.meaning
            kind = f"{level.family} {meaning.convention} {meaning.unit} {level.line_noise}"
            sure = "CERTAIN " if outcome.certain else ""
            came.told.append(f"seed {seed}: {sure}{problem} ({kind}; {took_s:.1f} s)")


def rarer_formats(count: int, first: int) -> Came:
    """Learn rarer formats, so many of each kind, and print what came of each."""
    all_of = Came()
    for kind in RARER:
        came = Came()
        formats(count, first, came, partial(rarer, kind))
        for line in came.told:
            print(f"{kind}: {line}")
        print(f"{kind}: right {came.right} of {count}, certain {came.certain}")
        all_of.wrong_certain += came.wrong_certain
    return all_of


def nothing(came: Came) -> None:
    """Look for an angle where there is none."""
    for number in range(COUNT):
        one = unlearnable(number)
        heard, marks = given(one.heard, "ble-notify" if one.radio else "serial", 9600)
        began = time.process_time()
        outcome = learn(heard, marks)
        came.slowest_s = max(came.slowest_s, time.process_time() - began)
        if outcome.candidates:
            came.told.append(f"{one.title}: taken for {outcome.candidates[0].says}")
        else:
            came.not_found += 1


def main() -> int:
    """Run it and print a table; 1 where something wrong was called certain or found in nothing."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    came = Came()
    formats(count, first, came)
    nothing(came)
    for line in came.told:
        print(line)
    by_family = ", ".join(f"{came.rights[one]} of {many} {one}" for one, many in came.kinds.items())
    print(f"right: {came.right} of {count} ({by_family})")
    print(f"certain: {came.certain}, of them wrong: {came.wrong_certain}")
    print(f"not found, of {COUNT} in which there is nothing: {came.not_found}")
    print(f"slowest: {came.slowest_s:.1f} s of computing")
    rare = rarer_formats(max(1, count // 4), first)
    print(f"of the rarer ones certain and wrong: {rare.wrong_certain}")
    return 0 if came.wrong_certain + rare.wrong_certain == 0 and came.not_found == COUNT else 1


if __name__ == "__main__":
    sys.exit(main())
