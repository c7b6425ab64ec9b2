"""What trial flights come to on 1,000 simulated aircraft: followed advice, ranges, wrong points, limits that contradict.

    python -m benchmarks.trial [--aircraft 1000] [--first 1] [--way sound] [--processes 1]

A simulated person starts within 2 degrees of the best allowed setting, flies, does what is advised, and flies again, until
three flights are flown. Where the static run is out of its limits nothing is flown before the next step, and where
none is advised then, the person asks the propeller's maker how far rpm in level flight lies above the static one (right
to 1.5 %, one standard deviation); who has nobody to ask ends there. Fractions
with their exact 95 % bound, one-sided (Clopper and Pearson).
"""

import argparse
import math
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial

from scipy import stats

from daemon.trial.advice import Advice, advise, within_static
from daemon.trial.evidence import weighed
from daemon.trial.points import Limit, Manual, Point, Propeller, Trial
from simulator.aircraft import Aircraft, drawn
from simulator.draws import Draws
from simulator.flights import Habits, Papers, Shown, flown, habits, papers

FLIGHTS, MOST_TRIALS = 3, 7
ANGLE_U95 = 0.1
BIAS = 3.0
MAKERS_PERCENT = 1.5
STREAM = {"aircraft": 1, "papers": 2, "person": 3, "days": 4, "maker": 5}
WAYS = (
    "sound",
    "sound, nobody to ask",
    "contradicting",
    "contradicting, nobody to ask",
    "bias",
    "session",
    "unchecked",
)


def trial_of(limits: Papers) -> Trial:
    """Return a file of trial flights with the limits and no point."""

    def limit(name: str, runs: list[str], feet: float | None = None, **rpm: float) -> Limit:
        return Limit.model_validate(
            {"name": name, "manual": "simulated", "runs": runs, "density_altitude_ft": feet, **rpm}
        )

    return Trial(
        stillblade_trial=1,
        propeller=Propeller(hub="S-1", blades=2, station="75 %"),
        manual=Manual(may_change=True),
        limit=[
            limit("static, least", ["static"], 0.0, least_rpm=limits.least_static_rpm),
            limit("static, most", ["static"], 0.0, most_rpm=limits.most_static_rpm),
            limit("redline", ["static", "climb", "level"], None, most_rpm=limits.redline_rpm),
        ],
    )


def point_of(number: int, shown: Shown, angle_deg: float, flew: bool, checked: bool) -> Point:
    """Return what the person enters."""
    check = (
        {"checked_by": "optical", "checked_rpm": shown.check_true, "shown_rpm": shown.check_shown}
        if checked
        else {}
    )
    flight = (
        {
            "climb_rpm": shown.climb_rpm,
            "level_rpm": shown.level_rpm,
            "true_airspeed_kt": shown.true_airspeed_kt,
        }
        if flew
        else {}
    )
    return Point.model_validate(
        {
            "session": f"s{number}",
            "flown": f"2031-05-{number:02}",
            "angle_deg": angle_deg,
            "u95_deg": ANGLE_U95,
            "static_rpm": shown.static_rpm,
            "pressure_altitude_ft": shown.altitude_ft,
            "celsius": shown.celsius,
            "ground_altitude_ft": shown.ground_ft,
            "ground_celsius": shown.ground_celsius,
            "wind_kt": shown.wind_kt,
            "read_on": "panel",
            **check,
            **flight,
        }
    )


@dataclass(slots=True)
class Came:
    """What one aircraft came to."""

    violated: list[str] = field(default_factory=list)
    followed: int = 0
    kind: str = ""
    off_deg: float = 9.0
    held: bool | None = None
    beside_deg: float = 0.0
    misplaced_deg: float = 0.0
    width_deg: float = 0.0
    said_wrong: bool = False
    said_none: bool = False
    proposed: bool = False
    asked: int = 0
    trials: int = 0
    flights: int = 0


@dataclass(slots=True)
class Story:
    """One aircraft and its person."""

    aircraft: Aircraft
    limits: Papers
    habit: Habits
    draws: Draws
    checked: bool
    maker: Draws | None
    wrong: str = ""
    wrong_flight: int = 0

    def fly(self) -> Came:
        """Follow the advice until three flights are flown."""
        came = Came()
        trial = trial_of(self.limits)
        angle = self.limits.best_deg + self.draws.between(-2.0, 2.0)
        before = angle
        while came.flights < FLIGHTS and came.trials < MOST_TRIALS:
            point = self.enter(came, trial, angle, before)
            trial = trial.model_copy(update={"point": [*trial.point, point]})
            advice = advise(trial)
            if advice.step_deg == 0.0 and point.level_rpm is None and self.maker:
                trial = self.asked(came, trial, angle)
                advice = advise(trial)
            self.note(came, advice)
            before, angle = angle, self.follow(came, advice, angle)
            if advice.step_deg == 0.0 and point.level_rpm is None:
                break
        self.judge(came, advice, before)
        return came

    def enter(self, came: Came, trial: Trial, angle: float, before: float) -> Point:
        """Fly a setting and write it down."""
        came.trials += 1
        spoilt = self.wrong and came.flights + 1 == self.wrong_flight
        bias = BIAS * self.draws.sign() if spoilt and self.wrong == "bias" else 0.0
        shown = flown(self.aircraft, angle, self.habit, self.draws, bias)
        measured = angle + self.draws.normal(ANGLE_U95 / 2.0)
        if spoilt and self.wrong == "session" and came.trials > 1:
            came.misplaced_deg = abs(angle - before)
            measured = before + self.draws.normal(ANGLE_U95 / 2.0)
        tied = point_of(came.trials, shown, measured, False, self.checked)
        if not may_fly(trial, tied):
            return tied
        came.flights += 1
        return point_of(came.trials, shown, measured, True, self.checked)

    def asked(self, came: Came, trial: Trial, angle: float) -> Trial:
        """Ask the propeller's maker how far level flight lies above the static run, once."""
        assert self.maker
        came.asked += 1
        above = 100.0 * math.log(self.aircraft.level_rpm(angle) / self.aircraft.static_rpm(angle))
        said = max(0.0, 100.0 * math.expm1((above + self.maker.normal(MAKERS_PERCENT)) / 100.0))
        self.maker = None
        manual = trial.manual.model_copy(update={"level_above_static_percent": said})
        return trial.model_copy(update={"manual": manual})

    def follow(self, came: Came, advice: Advice, angle: float) -> float:
        """Set the blades as advised, as well as a person does; note a limit that this breaks."""
        if not advice.step_deg:
            return angle
        came.followed += 1
        then = angle + advice.step_deg + self.draws.normal(0.06)
        came.violated += list(self.broken(angle, then))
        return then

    def broken(self, before: float, after: float) -> Iterator[str]:
        """Yield the limits that were met before a step and are not after it, or less."""
        static, level = self.aircraft.static_rpm, self.aircraft.level_rpm
        for name, rpm, limit, side in (
            ("least static", static, self.limits.least_static_rpm, 1),
            ("most static", static, self.limits.most_static_rpm, -1),
            ("redline static", static, self.limits.redline_rpm, -1),
            ("redline", level, self.limits.redline_rpm, -1),
        ):
            was, now = side * (rpm(before) - limit), side * (rpm(after) - limit)
            if now < 0.0 and now < was:
                yield f"{name} by {-now:.0f} rpm, before {was:+.0f}, step {after - before:+.2f}"

    def note(self, came: Came, advice: Advice) -> None:
        """Keep what was said on the way."""
        came.said_wrong |= advice.kind == "points contradict"
        came.said_none |= advice.kind == "no setting"
        came.proposed |= advice.kind == "angle"

    def judge(self, came: Came, advice: Advice, angle: float) -> None:
        """Hold the last advice against the truth."""
        came.kind = advice.kind
        ahead = advice.forecast
        advised = angle
        if advice.kind in {"angle", "step"} and ahead and ahead.best_deg is not None:
            measured = advice.evidence.now.angle_deg if advice.evidence else 0.0
            advised = ahead.best_deg if advice.kind == "angle" else measured + advice.step_deg
        came.off_deg = abs(advised - self.limits.best_deg)
        if ahead and ahead.low_deg is not None and ahead.high_deg is not None:
            came.held = ahead.low_deg <= self.limits.best_deg <= ahead.high_deg
            came.beside_deg = (ahead.best_deg or 0.0) - self.limits.best_deg
            came.width_deg = ahead.high_deg - ahead.low_deg


def may_fly(trial: Trial, tied: Point) -> bool:
    """Return whether a setting may be flown by its static run."""
    ran = trial.model_copy(update={"point": [*trial.point, tied]})
    return within_static(ran, weighed(ran, ran.counting))


def story(seed: int, way: str) -> Came:
    """Draw an aircraft and fly it."""
    draws = {name: Draws(seed, stream) for name, stream in STREAM.items()}
    aircraft = drawn(draws["aircraft"])
    person = draws["person"]
    apart = person.between(0.5, 2.5) if way.startswith("contradicting") else 0.0
    limits = papers(aircraft, draws["papers"], apart)
    habit = habits(draws["days"])
    wrong = way if way in {"bias", "session"} else ""
    which = 2 + int(person.between(0, 2)) if way == "session" else 1 + int(person.between(0, 3))
    maker = None if way.endswith("nobody to ask") else draws["maker"]
    return Story(
        aircraft,
        limits,
        habit,
        draws["days"],
        way != "unchecked",
        maker,
        wrong,
        which if wrong else 0,
    ).fly()


def upper(count: int, of: int) -> float:
    """Return the one-sided 95 % upper bound of a fraction."""
    return 1.0 if count >= of else float(stats.beta.ppf(0.95, count + 1, of - count))


def lower(count: int, of: int) -> float:
    """Return the one-sided 95 % lower bound of a fraction."""
    return 0.0 if count == 0 else float(stats.beta.ppf(0.05, count, of - count + 1))


def rate(words: str, count: int, of: int, bound: str = "lower") -> str:
    """Return a figure in words."""
    if not of:
        return f"  {words}: none of them"
    edge = lower(count, of) if bound == "lower" else upper(count, of)
    return f"  {words}: {count} of {of} = {count / of:.1%} ({bound} bound {edge:.1%})"


def table(way: str, came: list[Came]) -> Iterator[str]:
    """Yield the figures of one way."""
    many = len(came)
    asked = sum(bool(c.asked) for c in came)
    yield f"{way}: {many} simulated aircraft, {sum(c.trials for c in came) / many:.1f} runs-up for {FLIGHTS} flights"
    yield f"  asked the propeller's maker: {asked}; ended before {FLIGHTS} flights: {sum(c.flights < FLIGHTS for c in came)}"
    broken = [v for c in came for v in c.violated]
    yield rate("a limit violated by following", sum(bool(c.violated) for c in came), many, "upper")
    yield from (f"    {one}" for one in broken[:5])
    yield f"  steps followed: {sum(c.followed for c in came)}; last advice {dict(Counter(c.kind for c in came))}"
    yield rate("advised within 0.5 degrees of the best", sum(c.off_deg <= 0.5 for c in came), many)
    ranged = [
        c
        for c in came
        if c.held is not None and c.kind in {"angle", "stay", "step", "hold", "fly first"}
    ]
    yield rate("90 % range holds the best", sum(bool(c.held) for c in ranged), len(ranged))
    named = [c for c in ranged if c.kind == "angle"]
    yield rate("  the same, of angles proposed", sum(bool(c.held) for c in named), len(named))
    width = sorted(c.width_deg for c in ranged)
    if width:
        yield f"  width of the range: median {width[len(width) // 2]:.2f} degrees"
    yield rate("points said to contradict", sum(c.said_wrong for c in came), many)
    if way == "session":
        for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 9.0)):
            some = [c for c in came if low <= c.misplaced_deg < high]
            words = f"  the same, its session {low} degrees off or more, up to {high}"
            yield rate(words, sum(c.said_wrong for c in some), len(some))
    yield rate("no setting said to meet all", sum(c.said_none for c in came), many)
    yield rate("an angle proposed on the way", sum(c.proposed for c in came), many, "upper")


def main() -> None:
    """Fly all of them and print."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--aircraft", type=int, default=1000)
    asked.add_argument("--first", type=int, default=1)
    asked.add_argument("--way", choices=WAYS, action="append")
    asked.add_argument("--processes", type=int, default=1)
    told = asked.parse_args()
    seeds = range(told.first, told.first + told.aircraft)
    with ProcessPoolExecutor(told.processes) as pool:
        for way in told.way or WAYS:
            came = list(pool.map(partial(story, way=way), seeds, chunksize=10))
            print("\n".join(table(way, came)), flush=True)


if __name__ == "__main__":
    main()
