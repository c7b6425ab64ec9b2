"""A Bayesian straight line for each run, all of them fitted together: percent of rpm a degree.

Numbers of runs are taken as 100 ln(rpm), so that a difference of one is one percent. A line has four coefficients:
its level; its slope against the angle; what it bends; and what the air does to it, percent for a thousand feet of
density altitude. All have priors, wide and physical, but for one: how fast the aircraft turns at all is free. How far
the other runs lie above the static one is believed, and how alike their slopes are, so that a run that nobody has
flown yet has a line too, with a range that says so. What the runs of one point share (its angle) and what the points
of one instrument share (its error) stands in the covariance of what was read.

Normal-inverse-gamma conjugate model (Gelman et al., Bayesian Data Analysis, 3rd ed., 14.2 and 14.8): the covariance
is known up to a factor, whose prior is worth `DOF` readings, so that every range comes from a Student's t.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from daemon.measure.quantiles import t95, t_two_sided
from daemon.trial.points import Run

Array = npt.NDArray[np.float64]

FREE = 1000.0
"""Standard deviation of the prior of the level that all runs share, percent: it says nothing."""
ALIKE = 0.6
"""Correlation of the slopes of two runs before a point is read: the same blades, the same engine."""
DOF = 10.0
"""The stated repeatability counts as much as so many readings of one's own."""
OWN_FROM = 3
"""From so many points on the user's own scatter counts too."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of a line before a point is read: mean and standard deviation of each.

    above: percent of rpm above the level that all runs share, which is the static run's. slope: percent of rpm a
    degree. bend: percent a degree squared, of (angle - middle)^2 / 2. air: percent for a thousand feet of density
    altitude.
    """

    above: tuple[float, float]
    slope: tuple[float, float]
    bend: tuple[float, float]
    air: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Reading:
    """One rpm of one run of one point.

    point: which point, and instrument: which instrument, each any number that tells them apart.
    sd_percent: of the reading alone. angle_sd_deg: of the point's angle.
    instrument_sd_percent: of the error that all readings of this instrument share.
    """

    point: int
    run: Run
    rpm: float
    angle_deg: float
    air_kft: float
    sd_percent: float
    angle_sd_deg: float = 0.0
    instrument: int = 0
    instrument_sd_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of all runs: a Student's t over their coefficients, four a run.

    runs: in the order of the coefficients, all that something is believed of. mean, scale: of the coefficients; scale is the t's scale matrix.
    factor: by how much the readings scatter more (>1) or less than was stated, as a standard deviation.
    middle_deg, middle_kft: where a level is the line's own value.
    """

    runs: tuple[Run, ...]
    mean: Array
    scale: Array
    dof: float
    factor: float
    middle_deg: float
    middle_kft: float

    def row(self, run: Run, angle_deg: float, air_kft: float) -> Array:
        """Return what the coefficients are multiplied with to give 100 ln(rpm)."""
        found = np.zeros(4 * len(self.runs))
        at = 4 * self.runs.index(run)
        found[at : at + 4] = _features(angle_deg - self.middle_deg, air_kft - self.middle_kft)
        return found

    def at(self, run: Run, angle_deg: float, air_kft: float) -> tuple[float, float]:
        """Return 100 ln(rpm) of a run at an angle and the scale of its Student's t."""
        row = self.row(run, angle_deg, air_kft)
        return float(row @ self.mean), math.sqrt(max(0.0, float(row @ self.scale @ row)))

    def band(self, run: Run, angle_deg: float, air_kft: float) -> tuple[float, float, float]:
        """Return the rpm of a run at an angle: 2.5 %, 50 % and 97.5 %."""
        mean, scale = self.at(run, angle_deg, air_kft)
        wide = t95(self.dof) * scale
        low, middle, high = (math.exp((mean + way) / 100.0) for way in (-wide, 0.0, wide))
        return low, middle, high

    def chance_below(self, run: Run, angle_deg: float, air_kft: float, rpm: float) -> float:
        """Return the chance that the true rpm of a run is below this."""
        mean, scale = self.at(run, angle_deg, air_kft)
        return student_cdf((100.0 * math.log(rpm) - mean) / max(scale, 1e-9), self.dof)

    def slope(self, run: Run) -> tuple[float, float]:
        """Return a run's slope at the middle, percent a degree, and its U95."""
        at = 4 * self.runs.index(run) + 1
        return float(self.mean[at]), t95(self.dof) * math.sqrt(float(self.scale[at, at]))


def student_cdf(t: float, dof: float) -> float:
    """Return the chance of Student's t below t."""
    beyond = 0.5 * t_two_sided(t, dof)
    return beyond if t < 0.0 else 1.0 - beyond


def _features(deg: float, kft: float) -> Array:
    return np.array([1.0, deg, 0.5 * deg * deg, kft])


@dataclass(frozen=True, slots=True)
class Frame:
    """Readings as matrices: what was read, the design, the prior's mean and covariance, the reading's covariance."""

    runs: tuple[Run, ...]
    middle_deg: float
    middle_kft: float
    read: Array
    design: Array
    mean: Array
    believed: Array
    noise: Array


def framed(readings: Sequence[Reading], priors: dict[Run, Prior]) -> Frame:
    """Return the readings of a fit as matrices.

    Raises:
        ValueError: no readings.
    """
    if not readings:
        raise ValueError("no readings")
    runs = tuple(priors)
    deg = math.fsum(one.angle_deg for one in readings) / len(readings)
    kft = math.fsum(one.air_kft for one in readings) / len(readings)
    design = np.zeros((len(readings), 4 * len(runs)))
    for n, one in enumerate(readings):
        at = 4 * runs.index(one.run)
        design[n, at : at + 4] = _features(one.angle_deg - deg, one.air_kft - kft)
    read = np.array([100.0 * math.log(one.rpm) for one in readings])
    shared = read[0] - priors[readings[0].run].above[0]
    mean, believed = _prior(priors, float(shared))
    return Frame(runs, deg, kft, read, design, mean, believed, _covariance(readings, priors))


def _prior(priors: dict[Run, Prior], shared: float) -> tuple[Array, Array]:
    """Return mean and covariance of all coefficients; shared: the level that all runs share, about."""
    mean: list[float] = []
    deviations: list[float] = []
    for prior in priors.values():
        mean += [shared + prior.above[0], prior.slope[0], prior.bend[0], prior.air[0]]
        deviations += [prior.above[1], prior.slope[1], prior.bend[1], prior.air[1]]
    believed = np.diag(np.square(deviations))
    believed[::4, ::4] += FREE * FREE
    slopes = np.array(deviations[1::4])
    believed[1::4, 1::4] += ALIKE * (np.outer(slopes, slopes) - np.diag(slopes * slopes))
    return np.array(mean), believed


def _covariance(readings: Sequence[Reading], priors: dict[Run, Prior]) -> Array:
    """Return what the readings' errors have in common, and what each has alone."""
    found = np.diag([one.sd_percent**2 for one in readings])
    for i, a in enumerate(readings):
        for j, b in enumerate(readings):
            if a.point == b.point:
                steep = priors[a.run].slope[0] * priors[b.run].slope[0]
                found[i, j] += steep * a.angle_sd_deg * b.angle_sd_deg
            if a.instrument == b.instrument:
                found[i, j] += a.instrument_sd_percent * b.instrument_sd_percent
    return found


def fit(readings: Sequence[Reading], priors: dict[Run, Prior], dof: float = DOF) -> Lines:
    """Fit the lines of all runs that were read.

    dof: what the prior of the factor is worth, in readings.

    Raises:
        ValueError: no readings.
    """
    frame = framed(readings, priors)
    seen = frame.design @ frame.believed @ frame.design.T + frame.noise
    gain = np.linalg.solve(seen, frame.design @ frame.believed).T
    off = frame.read - frame.design @ frame.mean
    mean = frame.mean + gain @ off
    spread = frame.believed - gain @ frame.design @ frame.believed
    enough = len({one.point for one in readings}) >= OWN_FROM
    own = len(readings) - 1 if enough else 0
    scatter = float(off @ np.linalg.solve(seen, off)) if enough else 0.0
    factor2 = (dof + scatter) / (dof + own)
    scale = factor2 * 0.5 * (spread + spread.T)
    return Lines(
        frame.runs, mean, scale, dof + own, math.sqrt(factor2), frame.middle_deg, frame.middle_kft
    )


def own_slope(readings: Sequence[Reading], run: Run) -> tuple[float, float] | None:
    """Return a run's slope from the points alone, percent a degree, and its U95; None: from one angle.

    Weighted least squares (JCGM 100:2008, H.3) with the stated repeatability.
    """
    own = [one for one in readings if one.run == run]
    weights = [1.0 / one.sd_percent**2 for one in own]
    if len(own) < 2:
        return None
    total = math.fsum(weights)
    middle = math.fsum(w * one.angle_deg for w, one in zip(weights, own, strict=True)) / total
    lever = math.fsum(
        w * (one.angle_deg - middle) ** 2 for w, one in zip(weights, own, strict=True)
    )
    if lever / total < 0.01:
        return None
    rise = math.fsum(
        w * (one.angle_deg - middle) * 100.0 * math.log(one.rpm)
        for w, one in zip(weights, own, strict=True)
    )
    return rise / lever, 1.96 / math.sqrt(lever)
