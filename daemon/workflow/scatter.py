"""How well a level finds its seat again, as far as this session shows it.

A seating that nobody measured is an assumption, one that was measured is of other blades and
another hand. Either is a prior: a standard deviation worth some degrees of freedom. Every
placement on a seat where the level lay before adds what it is off the ones before (Helmert's
contrasts, each with one degree of freedom), less what its averages and the like explain:

    u^2 = (dof0 u0^2 + sum w (c^2 - other)) / (dof0 + sum w)

the posterior of a scaled inverse chi-squared prior (Gelman and others, Bayesian Data Analysis,
2.6; from memory). w is how much of a contrast is seating and not the other causes. The contrasts
of one blade that stand out together count as if they just did (as in Huber's proposal 2): one
that was knocked, or that wanders, says little of the level. Of the solutions the largest is taken.
Of an assumption dof0 fades as what is seen goes beyond it: dof0 u0^2 / u^2.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import ASSUMED_DOF, LEAST_SEATING_DEG
from shared.angles import differences_deg
from shared.events import BladeId
from shared.profile import Seating

CUT, MORE = 2.5**2, 1.5
"""Sum of squares, in variances, from which on a blade's first contrast, and so much more each
other one, is taken for something else than seating."""
KEPT = 0.9775
"""Mean square of a normal variable that is cut at 2.5 deviations."""
MOST_KNOWN = 8.0
"""A measured seating is worth at most so many degrees of freedom: blades and hands differ."""
ROUNDS = 40
"""Of the fixed point, at most."""
SEATING = "seating"


@dataclass(frozen=True, slots=True)
class Seat:
    """Standard uncertainty of one placement's seating, and its degrees of freedom."""

    u_deg: float
    dof: float


@dataclass(frozen=True, slots=True)
class Taken:
    """One placement: its level, its member, and its angle with the seating of the profile.

    apart: what a blade's placements of one pass share is drawn anew between these.
    """

    level: str
    blade: BladeId | None
    angle: BladeAngle
    apart: bool
    loose: bool


@dataclass(frozen=True, slots=True)
class Contrast:
    """What a placement is off the ones before: squared, its variance of other causes, slope^2."""

    square: float
    other: float
    slope: float


def in_force(
    groups: Iterable[Sequence[Taken]], seatings: Mapping[str, Seating], lift_u_deg: float
) -> dict[str, Seat]:
    """Return the seating of every level.

    groups: one placement or more of one level each, on one seat that nobody turned, in their order.
    lift_u_deg: what lifting the level turns a blade that is loose.
    """
    seen: dict[str, dict[BladeId | None, list[Contrast]]] = {level: {} for level in seatings}
    for group in groups:
        first = group[0]
        if first.level in seatings:
            found = _contrasts(group, _believed(seatings[first.level]), lift_u_deg)
            seen[first.level].setdefault(first.blade, []).extend(found)
    return {
        level: _posterior(seatings[level], list(blades.values())) for level, blades in seen.items()
    }


def reseated(
    angles: Mapping[int, tuple[str, BladeAngle]],
    before: Mapping[str, Seating],
    now: Mapping[str, Seat],
) -> dict[int, BladeAngle]:
    """Return angles, by number and with their level, with another seating than its profile says.

    Levels that `now` does not name keep theirs.
    """
    found = {number: angle for number, (_, angle) in angles.items()}
    for number, (level, angle) in angles.items():
        if level not in now:
            continue
        ratio, dof = now[level].u_deg / _believed(before[level]), now[level].dof
        lines = (
            replace(line, kind="A", u_deg=line.u_deg * ratio, dof=dof)
            if line.name == SEATING
            else line
            for line in angle.budget.lines
        )
        found[number] = BladeAngle(angle.angle_deg, Budget(tuple(lines)))
    return found


def _believed(seating: Seating) -> float:
    return max(seating.u_deg, LEAST_SEATING_DEG)


def _contrasts(group: Sequence[Taken], seating_deg: float, lift_u_deg: float) -> list[Contrast]:
    first = group[0].angle.angle_deg
    off = differences_deg([one.angle.angle_deg for one in group], first)
    others = [_other(one, lift_u_deg) for one in group]
    slopes = [_slope(one, seating_deg) for one in group]
    found = []
    for j in range(1, len(group)):
        share = j / (j + 1.0)
        found.append(
            Contrast(
                share * (off[j] - math.fsum(off[:j]) / j) ** 2,
                share * (others[j] + math.fsum(others[:j]) / j**2),
                share * (slopes[j] + math.fsum(slopes[:j]) / j**2),
            )
        )
    return [one for one in found if one.slope > 0.0]


def _other(one: Taken, lift_u_deg: float) -> float:
    """Variance of a placement beside its seating."""
    counts = {"none", "blade"} if one.apart else {"none"}
    lines = [line for line in one.angle.budget.lines if _is_other(line, counts)]
    lift = lift_u_deg if one.loose else 0.0
    return math.fsum([lift**2, *(line.u_deg**2 for line in lines)])


def _is_other(line: Line, counts: set[str]) -> bool:
    return line.common in counts and line.name != SEATING


def _slope(one: Taken, seating_deg: float) -> float:
    """How much of the seating goes into the angle, squared."""
    lines = [line.u_deg for line in one.angle.budget.lines if line.name == SEATING]
    return (lines[0] / seating_deg) ** 2 if lines else 0.0


def _posterior(prior: Seating, blades: Sequence[Sequence[Contrast]]) -> Seat:
    known = min(prior.n - 1.0, MOST_KNOWN) if prior.n > 1 else ASSUMED_DOF
    believed = _believed(prior) ** 2
    seen = [one for blade in blades for one in blade]
    variance = believed + math.fsum(one.square / one.slope for one in seen) / known
    weight = known
    for _ in range(ROUNDS if seen else 0):
        if prior.n <= 1:
            weight = known * min(1.0, believed / variance)
        total = weight + math.fsum(_weight(one, variance) for one in seen)
        squares = weight * believed + math.fsum(_excess(blade, variance) for blade in blades)
        # what other causes explain alone cannot be told from a perfect seat
        before, variance = variance, max(squares / total, 0.25 * believed)
        if variance == before:
            break  # and stays
    dof = weight + math.fsum(_weight(one, variance) for one in seen)
    return Seat(math.sqrt(variance), max(dof, 1.0))


def _weight(one: Contrast, variance: float) -> float:
    seat = variance * one.slope
    return (seat / (seat + one.other)) ** 2


def _excess(blade: Sequence[Contrast], variance: float) -> float:
    """Return what the contrasts of one blade show of the seating's variance, weighed and summed."""
    stands = math.fsum(one.square / (variance * one.slope + one.other) for one in blade)
    most = CUT + MORE * (len(blade) - 1)
    share = min(1.0, most / stands if stands > 0.0 else 1.0) / KEPT
    return math.fsum(
        _weight(one, variance) * (one.square * share - one.other) / one.slope for one in blade
    )
