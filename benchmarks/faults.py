"""Run the faults of docs/faults.md with given numbers, and write the table of what came of them.

    python -m benchmarks.faults [--kills A F C] [--power N] [--lines N] [--sessions N] [--stops N]
        [--seed S] [--write docs/faults.md]

What is not named is not run, and its row stays as it was. Each row is the command that was run and
the figure that it printed, with the day and how busy the machine was.
"""

import argparse
import os
import re
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from benchmarks import kills, power, stops, strangers

HEAD = "| fault | command | what came of it |"


def of_kills(anywhere: int, first: int, closing: int, seed: int) -> tuple[str, bool]:
    """Kill -9 of the program in whole jobs."""
    came = kills.run(anywhere, first, closing, seed)
    return (
        f"{came.count} kills, {came.lines} lines told, {len(came.wrong)} wrong",
        not came.wrong,
    )


def of_power(cuts: int, seed: int) -> tuple[str, bool]:
    """Power cuts, emulated."""
    came = power.run(cuts, seed)
    return f"{came.count} cuts, {len(came.wrong)} wrong", not came.wrong


def of_lines(count: int, seed: int) -> tuple[str, bool]:
    """Mutants of command lines."""
    came = strangers.command_lines(count, seed)
    return strangers.said("lines", came), came.good


def of_sessions(count: int, seed: int) -> tuple[str, bool]:
    """Mutants of session files."""
    came = strangers.sessions(count, seed)
    return strangers.said("sessions", came), came.good


def of_stops(each: int, seed: int) -> tuple[str, bool]:
    """Stops by each signal."""
    came = stops.run(each, 3, seed)
    words = "; ".join(stops.said(name, found) for name, found in came.items())
    return words, not any(found.wrong for found in came.values())


ROWS: dict[str, tuple[Callable[..., tuple[str, bool]], str, str]] = {
    "kills": (
        of_kills,
        "`kill -9` of `stillblade run` over whole jobs: anywhere, in the first second, while closing",
        "benchmarks.kills {}",
    ),
    "power": (
        of_power,
        "power cuts: of a trace of writes only what was synced, and a random torn part of the rest",
        "benchmarks.power {}",
    ),
    "lines": (
        of_lines,
        "mutants of lines on standard input, executed where they are commands",
        "benchmarks.strangers lines {}",
    ),
    "sessions": (
        of_sessions,
        "mutants of session files: bytes, rows with right checksums, the text form",
        "benchmarks.strangers sessions {}",
    ),
    "stops": (
        of_stops,
        "SIGINT, SIGTERM, SIGHUP while a level sends 10 to 400 samples a second, 3 processes at once",
        "benchmarks.stops {} 3",
    ),
}
"""By option: what runs it, what the row calls it, and the command beside it."""


def row(name: str, numbers: list[int], seed: int) -> tuple[str, bool]:
    """Run one and return its row, and whether all of it was good."""
    run, called, command = ROWS[name]
    said, good = run(*numbers, seed)
    given = " ".join(map(str, numbers))
    when = f"{datetime.now(UTC):%Y-%m-%d}, load {os.getloadavg()[0]:.0f} on {os.cpu_count()} cores"
    return f"| {called} | `python -m {command.format(given)} {seed}` | {said} ({when}) |", good


def written(text: str, rows: dict[str, str]) -> str:
    """Return the page with these rows of its table in place of the old ones, or at its end."""
    for name, new in rows.items():
        called = re.escape(ROWS[name][1])
        row = new.replace("\\", r"\\")
        text, found = re.subn(rf"^\| {called} \|.*$", row, text, flags=re.MULTILINE)
        if not found:
            table = text.index(HEAD)
            end = text.index("\n\n", table)
            text = f"{text[:end]}\n{new}{text[end:]}"
    return text


def main() -> int:
    """Run what is asked for; 1 where anything was wrong."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.faults", description=__doc__)
    parser.add_argument("--kills", type=int, nargs=3)
    for name in ("power", "lines", "sessions", "stops"):
        parser.add_argument(f"--{name}", type=int, nargs=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--write", type=Path)
    given = parser.parse_args()
    rows, all_good = {}, True
    for name in ROWS:
        if (numbers := getattr(given, name)) is not None:
            rows[name], good = row(name, numbers, given.seed)
            print(rows[name], flush=True)
            all_good = all_good and good
    if given.write is not None:
        given.write.write_text(written(given.write.read_text("utf-8"), rows), "utf-8")
    return 0 if all_good else 1


if __name__ == "__main__":
    sys.exit(main())
