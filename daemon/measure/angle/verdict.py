"""In or out, with a guard band; and how much equal blades may differ."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from daemon.measure.angle.budget import Budget, difference
from daemon.measure.angle.means import BladeAngle

Judgement = Literal["in", "out", "too close to say"]
WORST_FIRST: tuple[Judgement, ...] = ("out", "too close to say", "in")

RANGE_MEAN = (1.128379, 1.692569, 2.058751, 2.325929, 2.534413)
"""Mean range of 2 to 6 independent normals in standard deviations."""
RANGE_95 = (2.771808, 3.314493, 3.633160, 3.857656, 4.030092)
"""95 % point of the same: studentized range, infinite degrees of freedom."""


def judge(error_deg: float, u95_deg: float, tolerance_deg: float) -> Judgement:
    """Decide with a guard band (JCGM 106:2012, guarded acceptance and rejection).

    In: |error| + U <= tolerance. Out: |error| - U > tolerance. Otherwise too close to say.
    """
    if abs(error_deg) + u95_deg <= tolerance_deg:
        return "in"
    if abs(error_deg) - u95_deg > tolerance_deg:
        return "out"
    return "too close to say"


REMEDY = {
    "averaging": "average longer",
    "resolution": "place it again, or use a level with finer steps",
    "seating": "place it again",
    "sway": "place it again, now that the sway is known",
    "skew": "place it again, squarely across the chord",
    "station": "mark the station and place it again",
    "zero": "read the level's zero by turning it end for end, or read the reference in the "
    "same sense",
    "reference": "read the reference again",
    "gain": "check the level on a wedge near the target, or compare blades only",
    "cross-axis": "bring the blade nearer the horizontal, or compare blades only",
    "temperature": "let the level settle at this temperature, or compare blades only",
    "psi": "bring the blade nearer the horizontal, or use a hub witness",
    "face": "measure the face's inclination, or compare blades only",
    "play": "settle it after the nip",
    "lift": "leave the level strapped on, or place it again",
}


def settles(error_deg: float, budget: Budget, tolerance_deg: float) -> str:
    """Return in words what settles a doubtful verdict fastest; "" when it is not in doubt.

    The largest line of the budget is what to work on; where even without it the verdict
    would stay in doubt, the words say that the error itself is at the limit.
    """
    if judge(error_deg, budget.u95_deg, tolerance_deg) != "too close to say":
        return ""
    largest = max(budget.lines, key=lambda line: line.u_deg)
    rest = math.fsum(line.u_deg**2 for line in budget.lines if line is not largest)
    words = REMEDY.get(largest.name, f"reduce the uncertainty of {largest.name}")
    if judge(error_deg, 2.0 * math.sqrt(rest), tolerance_deg) == "too close to say":
        return f"{words}; the angle itself is at the limit: setting it nearer is surer"
    return words


def spread_expectation(n: int, u_deg: float) -> float:
    """Mean spread that n equal blades (2 to 6) show when each is read with u_deg."""
    return RANGE_MEAN[n - 2] * u_deg


def spread_95(n: int, u_deg: float) -> float:
    """Spread that n equal blades (2 to 6) stay under 19 times in 20."""
    return RANGE_95[n - 2] * u_deg


def spread_u95(budgets: Sequence[Budget]) -> float:
    """Half-width that the spread of 2 to 6 blades stays within 19 times in 20, however they stand.

    No two angles are further from their true difference than this, all pairs at once (Tukey and
    Kramer: q / sqrt(2) times the standard uncertainty of a difference), and a spread is off by no
    more than the worst of its pairs. What two blades share drops out of their difference.
    """
    widest = max(difference(a, b).u_deg for a, b in combinations(budgets, 2))
    return spread_95(len(budgets), widest / math.sqrt(2.0))


@dataclass(frozen=True, slots=True)
class SetVerdict:
    """A set of blades held against the limits of its job.

    Attributes:
        blades: each blade's, in order; None: not read.
        spread_deg: largest minus smallest angle; None, and the next two: not all were read.
        spread_u95_deg: its guard band.
        spread: by the limit of the spread.
    """

    blades: tuple[Judgement | None, ...]
    spread_deg: float | None = None
    spread_u95_deg: float | None = None
    spread: Judgement | None = None

    @property
    def together(self) -> Judgement | None:
        """The worst of all; None: not all were read, and what was read is not out."""
        known = [one for one in (*self.blades, self.spread) if one is not None]
        found = worst(known)
        return None if self.spread is None and found != "out" else found


def worst(judgements: Iterable[Judgement]) -> Judgement | None:
    """Return the worst of several; None where there are none."""
    given = set(judgements)
    return next((one for one in WORST_FIRST if one in given), None)


def judge_set(
    angles: Sequence[BladeAngle | None],
    target_deg: float,
    tolerance_deg: float,
    spread_tolerance_deg: float,
) -> SetVerdict:
    """Judge every blade by the tolerance and all of them by the spread, each with its guard band.

    angles: blade 1 first; None where a blade was not read.
    """
    blades = tuple(
        judge(one.angle_deg - target_deg, one.budget.u95_deg, tolerance_deg) if one else None
        for one in angles
    )
    read = [one for one in angles if one is not None]
    if len(read) < len(angles):
        return SetVerdict(blades)
    degrees = [one.angle_deg for one in read]
    spread, u95 = max(degrees) - min(degrees), spread_u95([one.budget for one in read])
    return SetVerdict(blades, spread, u95, judge(spread, u95, spread_tolerance_deg))


def spread_in_words(spread_deg: float, n: int, u_deg: float) -> str:
    """Judge a spread against what n equal blades would show by themselves.

    Args:
        spread_deg: largest minus smallest of the blade angles.
        n: blades, 2 to 6.
        u_deg: standard uncertainty of one angle against the others, what they share left out.
    """
    expected, most = spread_expectation(n, u_deg), spread_95(n, u_deg)
    if spread_deg <= most:
        return (
            f"spread {spread_deg:.2f}: equal blades read this well show {expected:.2f} on "
            f"average and stay under {most:.2f} 19 times in 20, so no difference is proven"
        )
    return (
        f"spread {spread_deg:.2f}: more than the {most:.2f} that equal blades stay under 19 "
        "times in 20, so the blades differ"
    )
