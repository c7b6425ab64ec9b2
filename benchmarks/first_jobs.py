"""First jobs with a level that nobody has measured: is its noise learned, and is it right?

    python -m benchmarks.first_jobs [JOBS A ROW]

Simulated persons. A row is a true noise (the profile assumes 0.03, white) and how hasty the
person is: in how many jobs a noise was learned, in how many of those it was within a factor of
1.5 of the true one, the least and the greatest of them; and the same of a second job that knows
what the first one taught.
"""

import math
import sys
import tempfile
from pathlib import Path

from daemon.demo.fast import Outcome, played
from daemon.session.learned import known, remember
from shared.events import Learned
from simulator import scenario as scenarios
from simulator.scenario import Scenario

ROWS = ((0.03, 0.1, 1.0), (0.03, 0.1, 2.0), (0.03, 0.3, 1.0), (0.015, 0.1, 1.0), (0.06, 0.1, 1.0))
"""Noise, its autocorrelation, and the person's speed."""
NEAR = 1.5


def first_use(sd: float, lag1: float, speed: float) -> Scenario:
    """Return a first job with a level of this noise."""
    made = scenarios.load("first-use")
    level = made.hangar.level["chord"].model_copy(update={"noise_sd_deg": sd, "lag1": lag1})
    return made.model_copy(
        update={
            "hangar": made.hangar.model_copy(update={"level": {"chord": level}}),
            "person": made.person.model_copy(update={"speed": speed}),
        }
    )


def noise_of(outcome: Outcome) -> float | None:
    """Return what a job said it learned."""
    bodies = [event.body for event in outcome.recording.events]
    found = [b.value for b in bodies if isinstance(b, Learned) and b.what == "noise"]
    return found[0] if found else None


def two_jobs(scenario: Scenario, seed: int) -> list[float | None]:
    """Return what a first job taught, and a second that begins with that."""
    with tempfile.TemporaryDirectory() as name:
        folder, taught = Path(name), []
        for k in range(2):
            outcome = played(scenario, f"first-{k}", 2 * seed + k, levels=known(folder))
            taught.append(noise_of(outcome))
            remember(folder, outcome.recording.header, outcome.recording.events)
    return taught


def main(jobs: int = 20) -> None:
    """Print the table, a row as soon as it is done."""
    print("| noise | r | speed | job | learned | within 1.5 | least | greatest |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for sd, lag1, speed in ROWS:
        scenario = first_use(sd, lag1, speed)
        taught = [two_jobs(scenario, seed) for seed in range(1, jobs + 1)]
        for k, which in enumerate(("first", "second")):
            found = [value for one in taught if (value := one[k]) is not None]
            near = sum(abs(math.log(max(x, 1e-9) / sd)) <= math.log(NEAR) for x in found)
            print(
                f"| {sd} | {lag1} | {speed} | {which} | {len(found)} of {jobs} |"
                f" {near} of {len(found)} | {min(found, default=0.0):.3f} |"
                f" {max(found, default=0.0):.3f} |",
                flush=True,
            )


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
