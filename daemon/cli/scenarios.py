"""`stillblade scenarios`: run the suite, print what was breached and the confusion table."""

import sys
from collections import Counter
from dataclasses import asdict
from json import dumps
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson, Flag, check

if TYPE_CHECKING:
    from daemon.demo.suite import Done


def scenarios(
    *names: str, all_: Flag = False, seeds: int = 5, first: int = 1, json_: AsJson = False
) -> int:
    """List the simulated scenarios, or run them and hold what was said against the truth.

    Exit 1 when anything was said that a scenario does not allow.

    Parameters
    ----------
    names
        Which scenarios to run; without a name they are listed.
    all_
        Run every one of them.
    seeds
        How many seeds of each.
    first
        The first seed.
    json_
        One JSON object a line on standard output.
    """
    from daemon.demo.suite import run_all
    from simulator import scenario

    if not (names or all_):
        _list(as_json=json_)
        return 0
    unknown = sorted(set(names) - set(scenario.names()))
    problem = f"no scenario {unknown[0]!r}" if unknown else f"{seeds} seeds"
    check(not unknown and seeds >= 1, "scenarios", problem, "see simulator/scenarios")
    chosen = list(names) or scenario.names()
    done = sorted(
        run_all(chosen, range(first, first + seeds), _progress),
        key=lambda one: (one.job.name, one.job.seed),
    )
    print(file=sys.stderr)
    _print_json(done) if json_ else _print(chosen, done)
    return 1 if any(one.breaches for one in done) else 0


def _list(*, as_json: bool) -> None:
    """One line a scenario: its name and what happens in it."""
    from simulator import scenario

    titles = {name: scenario.load(name).title for name in scenario.names()}
    for name, title in titles.items():
        if as_json:
            print(dumps({"event": "scenario", "name": name, "title": title}))
        else:
            print(f"{name:28} {title}")
    if sys.stdout.isatty():
        print("to see one: stillblade demo --scenario NAME")


def _progress(count: int, of: int) -> None:
    if sys.stderr.isatty() or count % 50 == 0 or count == of:
        print(f"\r{count} of {of} jobs", end="", file=sys.stderr, flush=True)


def _print(names: list[str], done: list["Done"]) -> None:
    """One line a breach, then how many jobs of each scenario kept what it allows, the table."""
    from daemon.demo.suite import table

    for one in done:
        for breach in one.breaches:
            print(f"{one.job.name} seed {one.job.seed}: {breach}")
    kept = Counter(one.job.name for one in done if not one.breaches)
    of = Counter(one.job.name for one in done)
    for name in names:
        print(f"{name:34} {kept[name]:5} of {of[name]:5} as it should be")
    print(f"\n{'of all jobs':52} {'cases':>7} {'of':>7} {'share':>8}   95 % bounds")
    for rate in table(done):
        bounds = f"{rate.low:7.4f} to {rate.high:6.4f}" if rate.of else "no case"
        print(f"{rate.what:52} {rate.count:7} {rate.of:7} {rate.share:8.4f}  {bounds}")


def _print_json(done: list["Done"]) -> None:
    from daemon.demo.suite import table

    for one in done:
        print(dumps({"event": "job", **asdict(one.job), "breaches": one.breaches}))
    print(dumps({"event": "table", "rates": [asdict(rate) for rate in table(done)]}))
