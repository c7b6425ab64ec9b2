"""Jobs by ear: is a job done without a key, and is everything booked where it was read?

    python -m benchmarks.hands_free [--jobs 40] [--first 1] [ROW ...]
    python -m benchmarks.hands_free --beside [--jobs 40] [--first 1]

Simulated persons who only hear. A row is a way to work; in brackets one-sided 95 % bounds (Clopper and
Pearson). Wrong takes: readings booked on a blade and taken off
a bench or out of a hand (where a reference lay is not looked at); wrong blade: booked on another member than the level lay on, in jobs. Gestures never meant:
notes of a level turned over that nobody turned over, of all lifts.

With `--beside` the seconds of quiet jobs by ear, stage by stage, against the same job with a press for each reading by
somebody who looks at the screen. Its person has the level in one hand and the key at the other: no way to a
keyboard is counted. What is done by hand is another person's (6 to 9 s at bolts and checks against 4 to 6 and 1 to 2),
so the readings have a line of their own.
"""

import argparse
import collections
import statistics
from collections.abc import Callable, Sequence
from typing import Any

from daemon.demo import fast
from shared.events import REFERENCE, Alarm, Captured, Event, Noted, StepChanged
from shared.inputs import NS, Command
from shared.view import View
from simulator import scenario as scenarios
from simulator.bounds import exact_bounds
from simulator.hangar import Chunk, Hangar, Plug, Press
from simulator.scenario import Scenario

MEANT_NS = 5 * NS
REAL: dict[str, Any] = {"turning_deg_s": 75.0, "turning_s": (3.0, 15.0)}
WITNESS = "hub-witness"


class Watched(Hangar):
    """A hangar that notes where the level lay when something was taken, and each lift and turn."""

    newest: "Watched"

    def __init__(self, *args: Any, **ways: Any) -> None:
        super().__init__(*args, **ways)
        Watched.newest = self
        self.takes: list[tuple[Captured, object]] = []
        self.turned_ns: list[int] = []
        self.lifts = 0
        level = self._scene.level
        turn_over, lift = level.turn_over, level.lift

        def turning() -> None:
            self.turned_ns.append(self.now_ns)
            turn_over()

        def lifting() -> None:
            self.lifts += level.seat != "hand"
            lift()

        level.turn_over, level.lift = turning, lifting  # type: ignore[method-assign]

    def advance(
        self,
        to_ns: int,
        heard: Sequence[Event],
        screen: Callable[[], View | None] | None = None,
    ) -> list[Chunk | Press | Plug]:
        """Note where the level lies before the person hears that something was taken."""
        for event in heard:
            if isinstance(event.body, Captured):
                self.takes.append((event.body, self._scene.level.seat))
        return super().advance(to_ns, heard, screen)


def real(name: str, **changes: Any) -> Scenario:
    """Return a scenario whose person has real hands: 3 to 15 s a turn, at times back on the same blade."""
    made = scenarios.load(name)
    hangar = made.hangar.model_copy(update=REAL)
    person = made.person.model_copy(update={"by_ear": True, "puts_back": 0.05, "speed": 1.0})
    setup = made.job.setup.model_copy(update={"capture": "by itself"})
    job = made.job.model_copy(update={"setup": setup})
    return made.model_copy(update={"hangar": hangar, "person": person, "job": job, **changes})


ROWS: dict[str, Callable[[], Scenario]] = {
    "quiet": lambda: real("hands-free-quiet"),
    "one knock": lambda: real("hands-free"),
    "two knocks, long plan": lambda: real("by-ear"),
    "bolts that turn, out after torque": lambda: real("out-after-torque"),
    "a witness on the hub": lambda: real(WITNESS),
}


def row(name: str, seeds: range) -> str:
    """Return one line of the table."""
    scenario = ROWS[name]()
    vars(fast)["Hangar"] = Watched
    sums: collections.Counter[str] = collections.Counter()
    for seed in seeds:
        _count(sums, fast.played(scenario, f"ear-{seed}", seed))
    jobs = len(seeds)
    wrong = exact_bounds(sums["wrong takes"], sums["takes"], 0.9)[1]
    booked = exact_bounds(sums["jobs booked wrong"], jobs, 0.9)[1]
    never = exact_bounds(sums["never meant"], sums["lifts"], 0.9)[1]
    return (
        f"| {name} | {jobs} | {sums['no key']} | {sums['takes'] / jobs:.1f} | {sums['minutes'] / jobs / 100:.1f} |"
        f" {sums['wrong takes']} of {sums['takes']} (under {wrong:.4f}) |"
        f" {sums['jobs booked wrong']} (under {booked:.3f}) | {sums['put back']} |"
        f" {sums['called']} of {sums['moved']} | {sums['accused']} |"
        f" {sums['never meant']} of {sums['lifts']} (under {never:.4f}) |"
    )


HANDS = "by hand: bolts, checks"
READ, WHOLE = "all readings", "first to last reading"
WAYS: dict[str, dict[str, bool]] = {"by press": {"by_ear": False}, "by itself": {"by_ear": True}}
"""How readings are taken, and whether the person looks or hears."""


def worked(capture: str) -> Scenario:
    """Return a quiet job with real hands whose readings are taken by `capture`."""
    made = real("hands-free-quiet")
    setup = made.job.setup.model_copy(update={"capture": capture})
    job = made.job.model_copy(update={"setup": setup})
    person = made.person.model_copy(update={"hands_free": False, **WAYS[capture]})
    return made.model_copy(update={"job": job, "person": person})


def beside(seeds: range) -> list[str]:
    """Return the lines of the table of times: seconds a job in each stage, both ways."""
    pressed, heard = (
        [spent(fast.played(worked(way), f"beside-{seed}", seed).recording.events) for seed in seeds]
        for way in WAYS
    )
    lines = []
    for stage in dict.fromkeys(stage for job in (*pressed, *heard) for stage in job):
        before = [job[stage] for job in pressed]
        now = [job[stage] for job in heard]
        ratio = statistics.mean(now) / statistics.mean(before) if any(before) else float("nan")
        lines.append(
            f"| {stage} | {statistics.mean(before):.1f} | {statistics.mean(now):.1f} | {ratio:.2f} |"
            f" {_spread(before, now)} |"
        )
    return lines


def spent(events: Sequence[Event]) -> dict[str, float]:
    """Return seconds from the first reading's step to the last reading, by what was wanted meanwhile."""
    took: dict[str, float] = collections.defaultdict(float)
    wanted, since_ns = "", 0
    last_ns = max(event.t_ns for event in events if isinstance(event.body, Captured))
    for event in events:
        if not isinstance(event.body, StepChanged) or event.t_ns > last_ns:
            continue
        if wanted:
            took[wanted] += (event.t_ns - since_ns) / NS
        since_ns = event.t_ns
        if wanted or event.body.blade is not None:
            wanted = _wanted(event.body)
    took[wanted] += (last_ns - since_ns) / NS
    whole = sum(took.values())
    took[READ], took[WHOLE] = whole - took[HANDS], whole
    return took


def _wanted(step: StepChanged) -> str:
    if step.blade is None:
        return HANDS
    return "reference" if step.blade == REFERENCE else step.stage


def _spread(before: Sequence[float], now: Sequence[float]) -> str:
    """Return between what the ratios of eight jobs in ten lie."""
    ratios = sorted(one / other for one, other in zip(now, before, strict=True) if other)
    cut = len(ratios) // 10
    return f"{ratios[cut]:.2f} to {ratios[-1 - cut]:.2f}" if ratios else "none"


def _count(sums: collections.Counter[str], outcome: fast.Outcome) -> None:
    hangar, events = Watched.newest, outcome.recording.events
    keys = [item.kind for item in outcome.recording.inputs if isinstance(item, Command)]
    sums["no key"] += keys == ["done", "done"]
    sums["minutes"] += round(events[-1].t_ns / 60e9 * 100)
    sums["takes"] += len(hangar.takes)
    seats = [(body, seat) for body, seat in hangar.takes if body.blade != "reference"]
    sums["wrong takes"] += sum(not isinstance(seat, int) for _, seat in seats)
    astray = [body for body, seat in seats if isinstance(seat, int) and seat != body.blade]
    sums["jobs booked wrong"] += bool(astray)
    sums["put back"] += len(astray)
    said = [e for e in events if isinstance(e.body, Noted) and "was turned over" in e.body.say]
    sums["never meant"] += sum(
        not any(0 <= e.t_ns - at <= MEANT_NS for at in hangar.turned_ns) for e in said
    )
    sums["lifts"] += hangar.lifts
    alarms = [e.body for e in events if isinstance(e.body, Alarm)]
    called = {blade for one in alarms for blade in (one.blades or (one.blade,))}
    moved = {one.blade for one in outcome.truth.moved if abs(one.size_deg) >= 0.4}
    sums["moved"] += len(moved)
    sums["called"] += len(moved & called)
    sums["accused"] += len(
        {b for b in called if isinstance(b, int)} - set(outcome.truth.moved_blades())
    )


HEADS = (
    "way to work", "jobs", "without a key", "readings", "minutes", "wrong takes", "jobs with one booked wrong",
    "so booked", "moves of 0.4 called", "innocents accused", "gestures never meant",
)  # fmt: skip
TIMES = ("what is wanted", "by press, s", "by ear, s", "ratio", "eight jobs in ten")


def main() -> None:
    """Print the table, a row as soon as it is done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--beside", action="store_true", help="times, against a press a reading")
    parser.add_argument("rows", nargs="*", metavar="ROW")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.jobs)
    print("By a simulated person.")
    heads = TIMES if given.beside else HEADS
    print("| " + " | ".join(heads) + " |")
    print("| " + " | ".join(["---"] * len(heads)) + " |")
    lines = beside(seeds) if given.beside else (row(name, seeds) for name in given.rows or ROWS)
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main()
