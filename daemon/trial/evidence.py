"""From points to readings: which of them count, what an instrument's check corrects, how sure each rpm is.

Standard deviations in percent of rpm. Those without a source are common practice, and wide on purpose.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from daemon.trial.line import Lines, Prior, Reading, fit
from daemon.trial.points import RUNS, Point, Run, Trial

CHECKED_PERCENT = 0.25
"""Of an instrument that was checked, after its correction: the check's own error."""
UNCHECKED_PERCENT = 1.0
"""Of one that was not: two in a hundred, 19 times in 20 (common practice, no source)."""
WIND_PERCENT_KT = 0.1
"""What a knot of wind may do to a static rpm; either way, as the simulated aircraft show."""
WIND_UNSAID_KT = 3.0
PART_PERCENT = (4.0, 3.0)
"""What full throttle may add to a level run that was stopped at a limit: mean and standard deviation, wide, no source."""
Z95 = 1.96
APART_DEG = 0.5
"""So far apart two settings say something of a slope."""

ABOVE: dict[Run, tuple[float, float]] = {
    "static": (0.0, 0.0),
    "climb": (3.0, 4.0),
    "level": (11.0, 5.0),
}
"""Percent of rpm above the static run, mean and standard deviation. At one torque rpm grows with the root of 1 over the
power coefficient; at 55 to 75 % of the advance at which a propeller takes no more power, that is 6 to 25 % (from the
curves of NACA Report 640), less what an engine's torque falls with its turns."""
SLOPES: dict[Run, tuple[float, float]] = {
    "static": (-4.0, 1.2),
    "climb": (-4.1, 1.3),
    "level": (-4.2, 1.3),
}
"""Percent of rpm a degree, mean and standard deviation. At one torque the curves of NACA Report 640 give 4.1 to 5.2
standing still and 3.7 to 4.7 at one speed; an engine's torque falls a little with its turns, which makes both less. In
flight at most the kinematic limit 1 / (sin cos), 5 to 7 where speed and slip stay. The deviation lets in twice that."""
BEND: dict[Run, tuple[float, float]] = {
    "static": (-0.15, 0.2),
    "climb": (0.0, 0.25),
    "level": (0.0, 0.25),
}
"""Percent a degree squared. The same curves: standing still a slope grows by 0.2 a degree between 15 and 25 degrees."""
AIR: dict[str, dict[Run, tuple[float, float]]] = {
    "natural": {"static": (-0.2, 0.15), "climb": (-0.25, 0.2), "level": (-0.3, 0.2)},
    "boosted": {"static": (0.8, 1.0), "climb": (0.8, 1.0), "level": (0.8, 1.0)},
}
"""Percent for a thousand feet of density altitude. Without a blower torque falls a little faster than density (Gagg and
Farrar, S.A.E. 1934); with one it stays, and thin air lets the engine run."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """What is known of one: what its readings are to be multiplied with, and how unsure that leaves them."""

    name: str
    factor: float
    sd_percent: float

    @property
    def checked(self) -> bool:
        """Somebody held it against something else."""
        return self.sd_percent < UNCHECKED_PERCENT


@dataclass(frozen=True, slots=True)
class Seen:
    """One rpm as it truly was, as far as is known; standard deviations in percent."""

    rpm: float
    alone_percent: float
    instrument_percent: float

    @property
    def u95_rpm(self) -> float:
        """Half-width that holds the true rpm 19 times in 20."""
        return Z95 * math.hypot(self.alone_percent, self.instrument_percent) / 100.0 * self.rpm


@dataclass(frozen=True, slots=True)
class Evidence:
    """The points that count, the newest last, each with its number; their readings and their lines.

    fitted: None where nothing counts.
    """

    points: tuple[tuple[int, Point], ...]
    instruments: dict[str, Instrument]
    readings: tuple[Reading, ...]
    fitted: Lines | None

    @property
    def lines(self) -> Lines:
        """The lines; only asked where a point counts."""
        assert self.fitted is not None
        return self.fitted

    @property
    def now(self) -> Point:
        """The newest point: how the propeller is set."""
        return self.points[-1][1]

    def seen(self, point: Point, run: Run) -> Seen | None:
        """Return what a point says of a run; None: nothing."""
        return seen(point, run, self.instruments)

    @property
    def wide(self) -> bool:
        """Whether two settings are so far apart that a slope can be told from them."""
        return any(_apart(a, b) for (_, a), (_, b) in combinations(self.points, 2))

    @property
    def runs(self) -> tuple[Run, ...]:
        """The runs that somebody has flown."""
        return tuple(run for run in RUNS if any(one.run == run for one in self.readings))

    def airs(self, run: Run) -> tuple[float, float]:
        """Return between which density altitudes a limit must hold: sea level, and where it, or any run, was flown."""
        known = run in self.runs
        flown = [one.air_kft for one in self.readings if one.run == run or not known]
        return min(0.0, *flown), max(0.0, *flown)


def priors(trial: Trial) -> dict[Run, Prior]:
    """Return what is believed of this aircraft before a point is read."""
    manual = trial.manual
    air, above = AIR[manual.induction], dict(ABOVE)
    if manual.level_above_static_percent is not None:
        given = 100.0 * math.log1p(manual.level_above_static_percent / 100.0)
        above["level"] = (given, manual.level_above_u95_percent / Z95)
    return {run: Prior(above[run], SLOPES[run], BEND[run], air[run]) for run in RUNS}


def weighed(trial: Trial, points: Sequence[tuple[int, Point]]) -> Evidence:
    """Return what these points of a trial say together; in the order in which they were flown."""
    ordered = tuple(sorted(points, key=lambda one: (one[1].flown, one[0])))
    known = instruments(trial)
    readings = tuple(_readings(ordered, known))
    return Evidence(ordered, known, readings, fit(readings, priors(trial)) if readings else None)


def instruments(trial: Trial) -> dict[str, Instrument]:
    """Return every instrument by its name; the checks of one are taken together."""
    found = {}
    for name in dict.fromkeys(point.read_on for point in trial.point):
        checks = [
            math.log(one.checked_rpm / one.shown_rpm)
            for _, one in trial.counting
            if one.read_on == name and one.checked_rpm and one.shown_rpm
        ]
        mean = math.fsum(checks) / len(checks) if checks else 0.0
        sd = CHECKED_PERCENT if checks else UNCHECKED_PERCENT
        found[name] = Instrument(name, math.exp(mean), sd)
    return found


def seen(point: Point, run: Run, known: dict[str, Instrument]) -> Seen | None:
    """Return what a point says of a run at full throttle, corrected by the check of its instrument."""
    shown = point.rpm(run)
    if shown is None:
        return None
    alone = point.repeatability_percent / Z95
    if run == "static":
        wind = WIND_UNSAID_KT if point.wind_kt is None else point.wind_kt
        alone = math.hypot(alone, WIND_PERCENT_KT * wind)
    instrument = known[point.read_on]
    rpm = shown * instrument.factor
    if run == "level" and point.level_throttle == "part":
        rpm *= math.exp(PART_PERCENT[0] / 100.0)
        alone = math.hypot(alone, PART_PERCENT[1])
    return Seen(rpm, alone, instrument.sd_percent)


def _readings(points: Sequence[tuple[int, Point]], known: dict[str, Instrument]) -> list[Reading]:
    names = list(known)
    found = []
    for number, point in points:
        for run in RUNS:
            one = seen(point, run, known)
            if one is not None:
                found.append(
                    Reading(
                        point=number,
                        run=run,
                        rpm=one.rpm,
                        angle_deg=point.angle_deg,
                        air_kft=point.air_kft(run),
                        sd_percent=one.alone_percent,
                        angle_sd_deg=point.u95_deg / Z95,
                        instrument=names.index(point.read_on),
                        instrument_sd_percent=one.instrument_percent,
                    )
                )
    return found


def _apart(one: Point, other: Point) -> bool:
    """Whether two settings are half a degree apart as far as was measured: not proven to be less."""
    unsure = math.hypot(one.u95_deg, other.u95_deg)
    return abs(one.angle_deg - other.angle_deg) + unsure >= APART_DEG
