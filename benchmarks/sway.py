"""Jobs on an aircraft that sways on tail and tyres: who is accused, and are the angles right?

    python -m benchmarks.sway [JOBS A ROW]

Simulated persons. A row is a sway (degrees to either side, times a second; none beside it): the
share of jobs in which a blade that nobody touched was called moved, with the upper 95 % bound of
that share; in how many the sway was said; the share of final angles within their own U95, and
how wide that is; and how long a job took.
"""

import math
import sys
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
    pairs = list(zip(outcome.closing.blades, outcome.truth.angles_deg, strict=True))
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


def main(jobs: int = 20) -> None:
    """Print the table, a row as soon as it is done."""
    print(
        "| sway | a second | jobs | accused | at most | said | final within U95 | U95 | minutes |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for deg, hz in ROWS:
        scenario = swaying(deg, hz)
        came = [one(scenario, seed) for seed in range(1, jobs + 1)]
        accused, said = sum(c.accused for c in came), sum(c.said for c in came)
        inside = [x for c in came for x in c.inside]
        widths = [x for c in came for x in c.u95]
        least = exact_bounds(accused, jobs)[1]
        print(
            f"| {deg} | {hz} | {jobs} | {accused} | {least:.3f} | {said} |"
            f" {sum(inside)} of {len(inside)} | {math.fsum(widths) / len(widths):.3f} |"
            f" {math.fsum(c.minutes for c in came) / jobs:.1f} |",
            flush=True,
        )


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
