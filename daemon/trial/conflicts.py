"""Points that cannot all be right: of another propeller, entered twice, or off the line of the others."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from daemon.trial.evidence import Evidence, priors
from daemon.trial.line import framed
from daemon.trial.points import RUNS, Point, Run, Trial

Kind = Literal["another propeller", "another station", "entered twice", "off the others"]
OFF_BY = 2.6
"""So many standard deviations off what the other points and the prior expect, a point is said: of three sound points one
is said in about 3 of 100 trials."""
NEARLY = 0.8
"""A point that is off by so much of the worst one may be the wrong one as well."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """What is wrong with a point.

    other: of points entered twice the first one; of points off the others one that may be wrong instead, or 0.
    percent: how far off all its runs are together; runs: how far off each is by itself, percent, + is faster.
    """

    kind: Kind
    point: int
    other: int = 0
    percent: float = 0.0
    runs: tuple[tuple[Run, float], ...] = ()


def unfit(trial: Trial) -> list[Conflict]:
    """Return the points that must not count, for what they say of themselves."""
    found: list[Conflict] = []
    before: list[tuple[int, Point]] = []
    for number, point in trial.counting:
        twice = next((n for n, one in before if _same_run(one, point)), 0)
        if _other_propeller(trial, point):
            found.append(Conflict("another propeller", number))
        elif point.station and point.station != trial.propeller.station:
            found.append(Conflict("another station", number))
        elif twice:
            found.append(Conflict("entered twice", number, twice))
        before.append((number, point))
    return found


def _other_propeller(trial: Trial, point: Point) -> bool:
    told = [
        (trial.propeller.hub, point.hub),
        (tuple(trial.propeller.serials), tuple(point.serials)),
    ]
    return any(one and other and one != other for one, other in told)


def _same_run(one: Point, other: Point) -> bool:
    """Whether two points are one flight: the same rpm in every run on the same day or in the same air."""
    rpm = all(one.rpm(run) == other.rpm(run) for run in RUNS)
    air = (one.pressure_altitude_ft, one.celsius) == (other.pressure_altitude_ft, other.celsius)
    return rpm and (air or one.flown == other.flown)


def off(trial: Trial, evidence: Evidence) -> list[Conflict]:
    """Return the point that the others and the prior do not expect, and one that may be wrong instead of it.

    Every run of a point together: what is wrong with an instrument, a session or a day moves all of them. The score
    of a shift common to a point's runs, in the covariance of all readings before they were read (Rao's score test).
    """
    if len(evidence.points) < 2:
        return []
    frame = framed(evidence.readings, priors(trial))
    seen = frame.design @ frame.believed @ frame.design.T + frame.noise
    weight = np.linalg.inv(seen)
    pulled = weight @ (frame.read - frame.design @ frame.mean)
    numbers = [one.point for one in evidence.readings]
    found = []
    for number, _ in evidence.points:
        here = np.array([float(n == number) for n in numbers])
        found.append((*_score(here, weight, pulled), number))
    found.sort(key=lambda one: -abs(one[0]))
    worst, percent, number = found[0]
    if abs(worst) < OFF_BY:
        return []
    others = [n for z, _, n in found[1:] if abs(z) > NEARLY * abs(worst)]
    alone = _each_run(evidence, number, weight, pulled)
    return [Conflict("off the others", number, others[0] if others else 0, percent, alone)]


def _score(here: np.ndarray, weight: np.ndarray, pulled: np.ndarray) -> tuple[float, float]:
    """Return by how many standard deviations these readings are off together, and by how much."""
    known = max(float(here @ weight @ here), 1e-12)
    pull = float(here @ pulled)
    return pull / math.sqrt(known), pull / known


def _each_run(
    evidence: Evidence, number: int, weight: np.ndarray, pulled: np.ndarray
) -> tuple[tuple[Run, float], ...]:
    found = []
    for at, one in enumerate(evidence.readings):
        if one.point == number:
            here = np.zeros(len(evidence.readings))
            here[at] = 1.0
            found.append((one.run, _score(here, weight, pulled)[1]))
    return tuple(found)


def explained(conflict: Conflict, points: Sequence[tuple[int, Point]]) -> list[str]:
    """Return what could explain a point that is off the others, the likeliest first."""
    by_run = dict(conflict.runs)
    own = next(point for number, point in points if number == conflict.point)
    others = [point for number, point in points if number != conflict.point]
    found = []
    if by_run and all(percent * conflict.percent > 0 for percent in by_run.values()):
        if any(one.read_on != own.read_on for one in others) or not own.checked_by:
            found.append("the instrument: check it against an optical one")
        found.append("the session: is this the setting that was flown?")
    static = abs(by_run.get("static", 0.0))
    flown = max((abs(v) for run, v in by_run.items() if run != "static"), default=0.0)
    if static > flown:
        found.append("wind in the static run, or an aircraft that was not held")
    if any(one.configuration != own.configuration for one in others):
        found.append("another configuration")
    found.append("another density altitude than was entered, throttle, mixture or carburettor heat")
    return found
