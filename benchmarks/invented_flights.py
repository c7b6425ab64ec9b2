"""An invented aircraft to try trial flights on: the simulated hangar does a job file, a simulated aircraft flies it.

    python -m benchmarks.invented_flights JOB.toml --on 2031-05-02

Where the job file is not there yet, the first one is written, with what the invented manuals allow. Else its session
is kept beside it, and what the instruments showed is printed as the command that enters it.
"""

import argparse
import sys
from pathlib import Path

import tomli_w

from daemon.demo.fast import Outcome, played
from daemon.session.jobs import load_job
from daemon.session.store import Store
from simulator import scenario
from simulator.aircraft import Aircraft, drawn
from simulator.draws import Draws
from simulator.flights import Habits, Papers, Shown, flown, papers

SEED = 25
AIRCRAFT, PAPERS, DAYS = 1, 2, 4
HUB, STARTS_DEG = "H-77", -1.0
"""So far off the best allowed setting the propeller comes."""


def invented() -> tuple[Aircraft, Papers]:
    """Return the aircraft and what its manuals allow."""
    aircraft = drawn(Draws(SEED, AIRCRAFT))
    return aircraft, papers(aircraft, Draws(SEED, PAPERS))


def first_job(path: Path) -> None:
    """Write the job that sets it as it comes, and print the limits."""
    _, limits = invented()
    job = scenario.load("default").job
    target = job.target.model_copy(update={"angle_deg": round(limits.best_deg + STARTS_DEG, 1)})
    propeller = job.propeller.model_copy(update={"hub": HUB})
    made = job.model_copy(update={"target": target, "propeller": propeller})
    tables = made.model_dump(mode="json", exclude_defaults=True)
    path.write_text(tomli_w.dumps({"stillblade_job": 1, **tables}), "utf-8")
    print(
        f"{path}: written. The manuals of this aircraft, all invented, allow the change, and say:\n"
    )
    for name, manual, runs, key, rpm in (
        ("static, least", "engine manual, p. 12", ["static"], "least_rpm", limits.least_static_rpm),
        ("static, most", "engine manual, p. 12", ["static"], "most_rpm", limits.most_static_rpm),
        (
            "redline",
            "engine manual, p. 3",
            ["static", "climb", "level"],
            "most_rpm",
            limits.redline_rpm,
        ),
    ):
        table = {"name": name, "manual": manual, "runs": runs, key: rpm}
        print(tomli_w.dumps({"limit": [table]}))


def done(path: Path, on: str, number: int) -> Outcome:
    """Do a job file in the simulated hangar, nothing going wrong, and keep its session."""
    calm = scenario.load("default").model_copy(update={"job": load_job(path), "incident": []})
    outcome = played(calm, f"{path.stem}-{on}", number)
    started = {"started": f"{on}T09:00:00+00:00"}
    header = outcome.recording.header.model_copy(update=started)
    store = Store.create(path.with_suffix(".session"), header)
    store.commit(outcome.recording.inputs, outcome.recording.events, outcome.recording.reach_ns)
    store.close()
    return outcome


def entered(session: Path, on: str, shown: Shown, flew: bool) -> str:
    """Return the command that enters what the instruments showed."""
    flight = (
        [("climb-rpm", f"{shown.climb_rpm:.0f}"), ("level-rpm", f"{shown.level_rpm:.0f}"),
         ("true-airspeed-kt", f"{shown.true_airspeed_kt:.0f}")] if flew else []
    )  # fmt: skip
    given = [
        ("flown", f"{on}T15:00"), ("static-rpm", f"{shown.static_rpm:.0f}"), *flight,
        ("pressure-altitude-ft", f"{shown.altitude_ft:.0f}"), ("celsius", f"{shown.celsius:.0f}"),
        ("ground-altitude-ft", f"{shown.ground_ft:.0f}"), ("ground-celsius", f"{shown.ground_celsius:.0f}"),
        ("wind-kt", f"{shown.wind_kt:.0f}"), ("read-on", "panel"), ("checked-by", "optical"),
        ("checked-rpm", f"{shown.check_true:.0f}"), ("shown-rpm", f"{shown.check_shown:.0f}"),
    ]  # fmt: skip
    words = [f"stillblade trial add {session}"]
    for option, value in given:
        if len(words[-1]) + len(option) + len(value) > 100:
            words.append("   ")
        words[-1] += f" --{option} {value}"
    return " \\\n".join(words)


def main() -> int:
    """Write the first job, or do one and fly it."""
    asked = argparse.ArgumentParser()
    asked.add_argument("job", type=Path)
    asked.add_argument("--on", default="2031-05-02", help="date of session and flight")
    told = asked.parse_args()
    if not told.job.exists():
        first_job(told.job)
        return 0
    number = int(told.on.replace("-", ""))
    truth = done(told.job, told.on, number).truth.angles_deg
    aircraft, limits = invented()
    shown = flown(aircraft, sum(truth) / len(truth), Habits(0.4, 0.8), Draws(number, DAYS))
    flew = 0.985 * limits.least_static_rpm < shown.static_rpm < 1.015 * limits.most_static_rpm
    print(entered(told.job.with_suffix(".session"), told.on, shown, flew))
    return 0


if __name__ == "__main__":
    sys.exit(main())
