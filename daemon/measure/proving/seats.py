"""Seating: how well a level finds one place again, from a handful of placements on it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daemon.measure.quantiles import chi2_95, t_two_sided
from daemon.measure.stream.learning import LEAST_SHARE
from daemon.measure.stream.reading import Reading
from shared.angles import difference_deg

PLACEMENTS = 5
"""So many are asked for: as many as can be asked of a person, and few enough to need the range."""
ODD = 0.01
"""A placement that lies apart further than chance lets one in a hundred sets is asked about."""


@dataclass(frozen=True, slots=True)
class Seats:
    """What placements on one place show.

    Attributes:
        u_deg: standard uncertainty of one placement's seating, without what averaging adds.
        low_deg, high_deg: its 95 % interval.
        apart: number of the placement that lies apart, from 1, and how far from the mean of the
            others; None: none does.
    """

    u_deg: float
    low_deg: float
    high_deg: float
    apart: tuple[int, float] | None


def seats_of(readings: Sequence[Reading]) -> Seats:
    """Return the scatter of at least three placements on one place, nothing moved between.

    The interval is that of a standard deviation of normal values (chi-squared), from which the
    averages' own variance is taken. Rounding may hide a scatter: the upper end is no less than that
    of the deviation that a step of the level's display has by itself (JCGM 100:2008, F.2.2.1).

    Raises:
        ValueError: fewer than three.
    """
    if len(readings) < 3:
        raise ValueError(f"{len(readings)} placements show no scatter")
    off = [difference_deg(one.mean_deg, readings[0].mean_deg) for one in readings]
    return Seats(*_spread(readings, _squares(off)), _apart(off))


def _spread(readings: Sequence[Reading], squares: float) -> tuple[float, float, float]:
    dof, n = len(readings) - 1, len(readings)
    averaging = math.fsum([one.u_deg**2 for one in readings]) / n
    rounding = math.fsum([_rounding(one) ** 2 for one in readings]) / n
    few, many = chi2_95(dof)
    # what the averages' noise explains alone cannot be told from a perfect seat
    floor = LEAST_SHARE * averaging
    high = max(squares, dof * rounding) / few
    return (
        math.sqrt(max(squares / dof - averaging, floor)),
        math.sqrt(max(squares / many - averaging, 0.0)),
        math.sqrt(max(high - averaging, floor)),
    )


def _rounding(reading: Reading) -> float:
    if reading.u_rounding_deg is not None:
        return reading.u_rounding_deg
    return reading.resolution_deg / (2.0 * math.sqrt(3.0))


def _squares(values: Sequence[float]) -> float:
    mean = math.fsum(values) / len(values)
    return math.fsum([(value - mean) ** 2 for value in values])


def _apart(off: Sequence[float]) -> tuple[int, float] | None:
    """Return the placement that Grubbs' test (1969) finds apart, and how far from the others."""
    n, mean, squares = len(off), math.fsum(off) / len(off), _squares(off)
    worst = max(range(n), key=lambda k: abs(off[k] - mean))
    share = (off[worst] - mean) ** 2 / squares * n / (n - 1) if squares else 0.0
    if share >= 1.0 or (
        share > 0.0 and n * t_two_sided(math.sqrt((n - 2) * share / (1.0 - share)), n - 2) < ODD
    ):
        return worst + 1, (off[worst] - mean) * n / (n - 1)
    return None
