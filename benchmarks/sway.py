"""Jobs on an aircraft that sways on tail and tyres: who is accused, and are the angles right?

    python -m benchmarks.sway [--jobs 20] [--first 1] [DEG,HZ ...]

Simulated persons, seeds from --first on. A row is a sway (degrees to either side, times a second;
none beside it): the jobs in which a blade that nobody touched was called moved or the reference
blamed; in how many the sway was said; the share of final angles within their own U95, and how wide
that is; and how long a job took. In brackets one-sided 95 % bounds (Clopper and Pearson). A job
takes about 4 s of one core: 400 a row take about three hours, one row half an hour.
"""

import argparse
import math
from dataclasses import dataclass
from typing import Any

from daemon.demo.fast import played
from shared.events import Noted
from simulator import scenario as scenarios
from simulator.bounds import exact_bounds
from simulator.outcome import judge
from simulator.scenario import Scenario

ROWS = ((0.0, 0.2), (0.1, 0.12), (0.1, 0.2), (0.1, 0.4), (0.2, 0.12), (0.2, 0.2), (0.2, 0.4))
ACCUSED = frozenset({"accused", "shift blamed"})


@dataclass(frozen=True, slots=True)
class Came:
    """What one job came to."""

    accused: bool
    said: bool
    inside: list[bool]
    u95: list[float]
    minutes: float


def swaying(deg: float, hz: float) -> Scenario:
    """Return the default job on an aircraft that sways like this."""
    made = scenarios.load("sway-0.1")
    hangar = made.hangar.model_copy(update={"sway_deg": deg, "sway_hz": (hz, hz)})
    return made.model_copy(update={"hangar": hangar})


def one(scenario: Scenario, seed: int) -> Came:
    """Run one job."""
    outcome = played(scenario, f"sway-{seed}", seed)
    events = outcome.recording.events
    rows = judge(events, outcome.truth, scenario.allowed)
    both = zip(outcome.closing.blades, outcome.truth.angles_deg, strict=True)
    pairs = [(row, true) for row, true in both if row["angle_deg"] is not None]
    notes = [event.body.say for event in events if isinstance(event.body, Noted)]
    return Came(
        accused=any(row.kind in ACCUSED for row in rows),
        said=any("sways" in text for text in notes),
        inside=[_holds(row, true) for row, true in pairs],
        u95=[row["u95_deg"] for row, _ in pairs if row["u95_deg"] is not None],
        minutes=outcome.truth.t_ns / 60e9,
    )


def _holds(row: dict[str, Any], true_deg: float) -> bool:
    """Whether a final angle holds the true one; a blade that was never read holds nothing."""
    known = row["angle_deg"] is not None
    return known and bool(abs(row["angle_deg"] - true_deg) <= row["u95_deg"])


def row(deg: float, hz: float, seeds: range) -> str:
    """Return one line of the table."""
    scenario = swaying(deg, hz)
    came = [one(scenario, seed) for seed in seeds]
    accused, said = sum(c.accused for c in came), sum(c.said for c in came)
    inside = [x for c in came for x in c.inside]
    widths = [x for c in came for x in c.u95]
    high = exact_bounds(accused, len(seeds), 0.9)[1]
    low = exact_bounds(sum(inside), len(inside), 0.9)[0]
    return (
        f"| {deg} | {hz} | {len(seeds)} | {accused} (under {high:.4f}) | {said} |"
        f" {sum(inside) / len(inside):.3f} (over {low:.3f}) | {math.fsum(widths) / len(widths):.3f} |"
        f" {math.fsum(c.minutes for c in came) / len(seeds):.1f} |"
    )


def main() -> None:
    """Print the table, a row as soon as it is done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=20)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("rows", nargs="*", metavar="DEG,HZ")
    given = parser.parse_args()
    rows = [tuple(float(x) for x in text.split(",")) for text in given.rows] or ROWS
    print("By a simulated person.")
    print(
        "| sway | a second | jobs | jobs with an innocent accused | said | finals within U95 | U95 | minutes |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for deg, hz in rows:
        print(row(deg, hz, range(given.first, given.first + given.jobs)), flush=True)


if __name__ == "__main__":
    main()
