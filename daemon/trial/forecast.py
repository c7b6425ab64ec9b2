"""Which settings meet every limit, as far as the lines know: the middle of them with its range, or that there are none.

Drawn from the Student's t of all lines together, so that what two lines share (an instrument) is shared here too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from daemon.trial.evidence import Evidence
from daemon.trial.line import Array, Lines
from daemon.trial.points import Limit, Run, Trial

DRAWS = 2000
SEED = 20
"""Any number: the same points always give the same range."""
REACH_DEG, STEP_DEG = 8.0, 0.04
"""Settings within this of the one that is flown are looked at, this far apart."""
LOW, HIGH = 0.05, 0.95
"""Ends of the 90 % range."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit in a run, in the air in which it binds; kft: density altitudes at which it must be met."""

    limit: Limit
    run: Run
    kft: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is known of the best allowed setting: the middle of those that meet every limit.

    exists: the chance that there is one. best_deg, low_deg, high_deg: median and 90 % range where there is one; None
    where that is hardly ever so.
    """

    exists: float
    best_deg: float | None
    low_deg: float | None
    high_deg: float | None


def bounds(trial: Trial, evidence: Evidence) -> list[Bound]:
    """Return every limit in every run, but for those of a run that nobody has flown and that another limit covers."""
    found = []
    for limit in trial.limit:
        stated = limit.density_altitude_ft
        for run in limit.runs:
            if run in evidence.runs or not _covered(trial, limit, run):
                kft = evidence.airs(run) if stated is None else (stated / 1000.0,)
                found.append(Bound(limit, run, kft))
    return found


def _covered(trial: Trial, limit: Limit, run: Run) -> bool:
    """Whether what holds in level flight holds here too: a propeller turns slower in a climb."""
    level = [one.rpm for one in trial.limit if "level" in one.runs and one.side < 0]
    return run == "climb" and limit.side < 0 and bool(level) and min(level) <= limit.rpm


def unflown(evidence: Evidence, limits: Sequence[Bound]) -> list[Bound]:
    """Return the limits of runs that nobody has flown: what is known of them is only what is believed."""
    return [one for one in limits if one.run not in evidence.runs]


def chance_met(lines: Lines, bound: Bound, angle_deg: float) -> float:
    """Return the chance that a setting meets a limit, in the air where it is least."""
    below = [lines.chance_below(bound.run, angle_deg, kft, bound.limit.rpm) for kft in bound.kft]
    return min(below) if bound.limit.side < 0 else min(1.0 - one for one in below)


def looked_ahead(trial: Trial, evidence: Evidence, limits: Sequence[Bound]) -> Forecast:
    """Return what the lines say of the best allowed setting."""
    lines = evidence.lines
    grid = _grid(trial, evidence.now.angle_deg)
    drawn = _draws(lines)
    allowed = np.ones((DRAWS, len(grid)), dtype=bool)
    for run in lines.runs:
        here = [one for one in limits if one.run == run]
        if here:
            _keep_met(allowed, lines, here, grid, drawn)
    some = allowed.any(axis=1) if len(grid) else np.zeros(DRAWS, dtype=bool)
    exists = float(some.mean())
    if exists < LOW:
        return Forecast(exists, None, None, None)
    inside = allowed[some]
    first, last = inside.argmax(axis=1), len(grid) - 1 - inside[:, ::-1].argmax(axis=1)
    middle = 0.5 * (grid[first] + grid[last])
    low, best, high = np.quantile(middle, [LOW, 0.5, HIGH])
    return Forecast(exists, float(best), float(low), float(high))


def _grid(trial: Trial, now_deg: float) -> Array:
    """Return the settings to look at: those within reach that the manual allows."""
    count = int(REACH_DEG / STEP_DEG)
    grid = now_deg + STEP_DEG * np.arange(-count, count + 1)
    manual = trial.manual
    least = -np.inf if manual.least_deg is None else manual.least_deg
    most = np.inf if manual.most_deg is None else manual.most_deg
    return np.asarray(grid[(grid >= least) & (grid <= most)], dtype=np.float64)


def _draws(lines: Lines) -> Array:
    """Return coefficients, a row a draw (Gelman et al., appendix A: a normal over the root of a chi-square)."""
    source = np.random.default_rng(SEED)
    values, vectors = np.linalg.eigh(lines.scale)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    normal = source.standard_normal((DRAWS, len(lines.mean))) @ root.T
    wide = np.sqrt(lines.dof / source.chisquare(lines.dof, DRAWS))
    return np.asarray(lines.mean + normal * wide[:, None])


def _keep_met(
    allowed: np.ndarray, lines: Lines, limits: Sequence[Bound], grid: Array, drawn: Array
) -> None:
    """Take away where a limit of one run is not met; a row a draw, a column a setting."""
    at = 4 * lines.runs.index(limits[0].run)
    deg = grid - lines.middle_deg
    percent = drawn[:, at + 1 : at + 3] @ np.stack([deg, 0.5 * deg * deg])
    for bound in limits:
        for kft in bound.kft:
            level = drawn[:, at] + drawn[:, at + 3] * (kft - lines.middle_kft)
            short = 100.0 * np.log(bound.limit.rpm) - level
            met = percent >= short[:, None] if bound.limit.side > 0 else percent <= short[:, None]
            allowed &= met
