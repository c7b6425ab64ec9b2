"""Random walks through whole jobs: how many, through what, and that each came to a record.

    python -m benchmarks.walks [WALKS] [FIRST SEED]

A walk that breaks a rule ends it with the rule, the seed and what was done last.
"""

import sys
import time
from collections import Counter, defaultdict

from shared.events import Alarm, Withdrawn
from tests.workflow.walks import WORLDS, Walk, walked

HEADINGS = (
    ("walks", "walks"),
    ("steps", "steps"),
    ("readings", "readings"),
    ("withdrawn", "taken back"),
    ("alarms", "alarms"),
    ("torqued", "wrench called for"),
    ("finished", "finished"),
    ("ended early", "ended early"),
    ("abandoned, do not fly", "abandoned"),
)


def counted(walk: Walk) -> Counter[str]:
    """Return what one walk came through."""
    record, bodies = walk.record, [event.body for event in walk.hands.events]
    assert record.summary is not None
    return Counter(
        {
            "walks": 1,
            "steps": record.step,
            "readings": len(record.taken),
            "withdrawn": sum(isinstance(body, Withdrawn) for body in bodies),
            "alarms": sum(isinstance(body, Alarm) for body in bodies),
            "torqued": record.torqued,
            record.summary.state: 1,
        }
    )


def main() -> None:
    """Walk, and print a table."""
    walks, first = (*map(int, sys.argv[1:]), *(10_000, 100)[len(sys.argv) - 1 :])
    found: dict[str, Counter[str]] = defaultdict(Counter)
    began = time.process_time()
    for seed in range(first, first + walks):
        walk = walked(seed)
        found[walk.world] += counted(walk)
    spent = time.process_time() - began
    print("| job |", " | ".join(title for _, title in HEADINGS), "|")
    print("| --- |", " | ".join("---" for _ in HEADINGS), "|")
    for world in (*WORLDS, "all"):
        row = sum(found.values(), Counter()) if world == "all" else found[world]
        print(f"| {world} |", " | ".join(f"{row[key]:,}" for key, _ in HEADINGS), "|")
    print(f"\n{walks:,} walks, {1e3 * spent / walks:.0f} ms of one core each, {spent:.0f} s in all")


if __name__ == "__main__":
    main()
