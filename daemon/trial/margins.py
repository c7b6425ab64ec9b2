"""What was measured, held against each limit: in, too close to say, out, with the margin and its uncertainty."""

import math
from dataclasses import dataclass

from daemon.measure.angle.verdict import Judgement
from daemon.trial.evidence import Z95, Evidence, priors
from daemon.trial.points import Limit, Point, Run, Trial


@dataclass(frozen=True, slots=True)
class Verdict:
    """One limit in one run of one point. margin_rpm: on the allowed side it is positive."""

    point: int
    limit: Limit
    run: Run
    rpm: float
    margin_rpm: float
    u95_rpm: float
    judgement: Judgement


def beside(margin: float, u95: float) -> Judgement:
    """Judge a one-sided limit with a guard band (JCGM 106:2012, guarded acceptance and rejection)."""
    if margin >= u95:
        return "in"
    return "out" if margin < -u95 else "too close to say"


def verdicts(trial: Trial, evidence: Evidence, number: int, point: Point) -> list[Verdict]:
    """Return how a point stands to every limit of every run that it has, in the order of the limits."""
    found = []
    for limit in trial.limit:
        for run in limit.runs:
            one = evidence.seen(point, run)
            if one is None:
                continue
            rpm, unsure = _moved(trial, limit, run, one.rpm, point.air_kft(run))
            u95 = math.hypot(one.u95_rpm, unsure)
            margin = limit.side * (rpm - limit.rpm)
            found.append(Verdict(number, limit, run, rpm, margin, u95, beside(margin, u95)))
    return found


def _moved(trial: Trial, limit: Limit, run: Run, rpm: float, air_kft: float) -> tuple[float, float]:
    """Return the rpm in the air that the limit is stated for, and the U95 that this adds."""
    if limit.density_altitude_ft is None:
        return rpm, 0.0
    mean, sd = priors(trial)[run].air
    way = limit.density_altitude_ft / 1000.0 - air_kft
    moved = rpm * math.exp(mean * way / 100.0)
    return moved, Z95 * sd * abs(way) / 100.0 * moved


NEEDED: tuple[tuple[Run, int, str], ...] = (
    ("static", 1, "the least static rpm"),
    ("static", -1, "the most static rpm"),
    ("level", -1, "the most rpm in level flight (the redline)"),
)
"""Without these nothing is advised."""


def missing(trial: Trial) -> list[str]:
    """Return which limits nobody has entered yet, in words."""
    given = {(run, limit.side) for limit in trial.limit for run in limit.runs}
    return [words for run, side, words in NEEDED if (run, side) not in given]


def dive_rpm(trial: Trial, evidence: Evidence, point: Point) -> float | None:
    """Return what full throttle would turn at least at the never-exceed speed; None: it is not known.

    Through the static and the level run, straight on: rpm rises with speed, and ever faster, so the true one is higher.
    """
    static, level = evidence.seen(point, "static"), evidence.seen(point, "level")
    fastest, speed = trial.manual.never_exceed_kt, point.true_airspeed_kt
    if static is None or level is None or fastest is None or speed is None:
        return None
    return level.rpm + (level.rpm - static.rpm) * (fastest - speed) / speed
