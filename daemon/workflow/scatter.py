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

What all blades of one sweep over them are off alike is no seating: somebody sat in the aircraft while
they were read, or it was leaned on. There only what they differ by counts. Nor are a few contrasts that
are far off where all others are not, where it is likelier that those blades were turned in between.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import ASSUMED_DOF, LEAST_SEATING_DEG
from daemon.measure.quantiles import t_over_z
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
ALIKE = 3.3
"""Normal standard deviations as rare as it may be that seating puts all blades of a sweep off alike
(1 in 1,000)."""
TELLS = 2.0
"""A seating that is up to so many times what was believed is never laid to mishaps."""
MISHAP = 0.02 / 6.0
"""Density a degree of a blade that was turned between two placements: one of fifty, by up to three degrees
either way (assumptions)."""
MOST_MISHAPS = 4
"""More than so many of a session are none."""
Sweep = tuple[str, int, int]
"""A stage, which pass over it, and which placement of every blade in it."""


@dataclass(frozen=True, slots=True)
class Seat:
    """Standard uncertainty of one placement's seating, and its degrees of freedom."""

    u_deg: float
    dof: float


@dataclass(frozen=True, slots=True)
class Taken:
    """One placement: its level, its member, and its angle with the seating of the profile.

    apart: what a blade's placements of one pass share is drawn anew between these.
    sweep: with which placements of other blades it was taken; None: with none.
    """

    level: str
    blade: BladeId | None
    angle: BladeAngle
    apart: bool
    loose: bool
    sweep: Sweep | None = None


@dataclass(frozen=True, slots=True)
class Contrast:
    """What a placement is off the ones before: squared, its variance of other causes, slope^2."""

    square: float
    other: float
    slope: float


@dataclass(frozen=True, slots=True)
class Off:
    """The same before it is scaled to the variance of one placement by its share."""

    taken: Taken
    by_deg: float
    other: float
    slope: float
    share: float

    def alone(self) -> Contrast:
        """Return the contrast, whatever others are off."""
        return Contrast(
            self.share * self.by_deg**2, self.share * self.other, self.share * self.slope
        )


def in_force(
    groups: Iterable[Sequence[Taken]],
    seatings: Mapping[str, Seating],
    lift_u_deg: float,
    *,
    mishaps: bool = True,
) -> dict[str, Seat]:
    """Return the seating of every level.

    groups: one placement or more of one level each, on one seat that nobody turned, in their order.
    lift_u_deg: what lifting the level turns a blade that is loose.
    mishaps: a blade may have been turned between two placements.
    """
    off: dict[str, list[Off]] = {level: [] for level in seatings}
    for group in groups:
        level = group[0].level
        if level in seatings:
            off[level] += _off(group, _believed(seatings[level]), lift_u_deg)
    found = {}
    for level, prior in seatings.items():
        blades = _by_blade(prior, off[level])
        variance = _fixed_point(prior, blades)
        if mishaps and variance > (TELLS * _believed(prior)) ** 2:
            blades = _without_mishaps(prior, blades, variance)
            variance = _fixed_point(prior, blades)
        found[level] = _posterior(prior, blades, variance)
    return found


def _by_blade(prior: Seating, all_off: Sequence[Off]) -> list[list[Contrast]]:
    """Return the contrasts of every blade; of a sweep that is off alike, what its blades differ by."""
    sweeps: dict[Sweep, list[Off]] = {}
    for off in all_off:
        if off.taken.sweep is not None:
            sweeps.setdefault(off.taken.sweep, []).append(off)
    alike = {sweep for sweep, of in sweeps.items() if _alike(prior, of)}
    found: dict[BladeId | None, list[Contrast]] = {off.taken.blade: [] for off in all_off}
    for off in all_off:
        if off.taken.sweep not in alike:
            found[off.taken.blade].append(off.alone())
    for sweep in alike:
        first, *others = sweeps[sweep]
        for off, differs in zip(others, _helmert([first, *others]), strict=True):
            found[off.taken.blade].append(differs.alone())
    return list(found.values())


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


def _off(group: Sequence[Taken], seating_deg: float, lift_u_deg: float) -> list[Off]:
    """Return what the placements on one seat are off the ones before them."""
    first = group[0].angle.angle_deg
    angles = differences_deg([one.angle.angle_deg for one in group], first)
    each = [
        Off(one, angle, _other(one, lift_u_deg), _slope(one, seating_deg), 1.0)
        for one, angle in zip(group, angles, strict=True)
    ]
    return [one for one in _helmert(each) if one.slope > 0.0]


def _helmert(each: Sequence[Off]) -> list[Off]:
    """Return what every one but the first is off the mean of those before it."""
    found = []
    for j in range(1, len(each)):
        now, before = each[j], each[:j]
        found.append(
            Off(
                now.taken,
                now.by_deg - math.fsum(one.by_deg for one in before) / j,
                now.other + math.fsum(one.other for one in before) / j**2,
                now.slope + math.fsum(one.slope for one in before) / j**2,
                j / (j + 1.0),
            )
        )
    return found


def _alike(prior: Seating, sweep: Sequence[Off]) -> bool:
    """Whether all blades of a sweep are off by the same, and by more than their seating puts them off.

    What is known of the seating, and what they are off differently, is pooled (Student's t).
    """
    n, known = len(sweep), _known(prior)
    if n < 2:
        return False
    mean = math.fsum(one.by_deg for one in sweep) / n
    variances = [_believed(prior) ** 2 * one.slope + one.other for one in sweep]
    around = math.fsum((one.by_deg - mean) ** 2 for one in sweep)
    dof = known + n - 1.0
    u = math.sqrt((known * math.fsum(variances) / n + around) / dof / n)
    return abs(mean) > ALIKE * t_over_z(ALIKE, dof) * u


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


def _posterior(prior: Seating, blades: Sequence[Sequence[Contrast]], variance: float) -> Seat:
    """Return the seating that the contrasts of all blades show, of that variance."""
    weight = _prior_weight(prior, variance)
    dof = weight + math.fsum(_weight(one, variance) for blade in blades for one in blade)
    return Seat(math.sqrt(variance), max(dof, 1.0))


def _without_mishaps(
    prior: Seating, blades: list[list[Contrast]], variance: float
) -> list[list[Contrast]]:
    """Return the contrasts but those of blades that were more likely turned between two placements.

    A few contrasts that are large where all others are small make a level that seats badly, or blades
    that were knocked: the others tell which, by how much likelier they are without those.
    variance: that all of them show.
    """
    by_size = sorted(
        [one for blade in blades for one in blade], key=lambda one: -_stands([one], variance)
    )
    best, likeliest = blades, _log_likelihood(blades, variance)
    for mishaps in range(1, min((len(by_size) + 1) // 2, MOST_MISHAPS + 1)):
        knocked = {id(one) for one in by_size[:mishaps]}
        left = [[one for one in blade if id(one) not in knocked] for blade in blades]
        likely = mishaps * math.log(MISHAP) + _log_likelihood(left, _fixed_point(prior, left))
        if likely > likeliest:
            best, likeliest = left, likely
    return best


def _log_likelihood(blades: Sequence[Sequence[Contrast]], variance: float) -> float:
    """Return the logarithm of the density of the contrasts, each a normal variable."""
    each = [(one.square, variance * one.slope + one.other) for blade in blades for one in blade]
    return math.fsum(-0.5 * (math.log(2.0 * math.pi * v) + square / v) for square, v in each)


def _fixed_point(prior: Seating, blades: Sequence[Sequence[Contrast]]) -> float:
    """Return the largest variance of a placement's seating that explains itself."""
    known, believed = _known(prior), _believed(prior) ** 2
    seen = [one for blade in blades for one in blade]
    variance = believed + math.fsum(one.square / one.slope for one in seen) / known
    for _ in range(ROUNDS if seen else 0):
        weight = _prior_weight(prior, variance)
        total = weight + math.fsum(_weight(one, variance) for one in seen)
        squares = weight * believed + math.fsum(_excess(blade, variance) for blade in blades)
        # what other causes explain alone cannot be told from a perfect seat
        before, variance = variance, max(squares / total, 0.25 * believed)
        if variance == before:
            break  # and stays
    return variance


def _prior_weight(prior: Seating, variance: float) -> float:
    """Return the degrees of freedom that the prior counts with beside what is seen."""
    fades = min(1.0, _believed(prior) ** 2 / variance) if prior.n <= 1 else 1.0
    return _known(prior) * fades


def _known(prior: Seating) -> float:
    """Return how many degrees of freedom the prior is worth."""
    return min(prior.n - 1.0, MOST_KNOWN) if prior.n > 1 else ASSUMED_DOF


def _weight(one: Contrast, variance: float) -> float:
    seat = variance * one.slope
    return (seat / (seat + one.other)) ** 2


def _stands(blade: Sequence[Contrast], variance: float) -> float:
    """Return the sum of squares of a blade's contrasts, in their variances."""
    return math.fsum(one.square / (variance * one.slope + one.other) for one in blade)


def _excess(blade: Sequence[Contrast], variance: float) -> float:
    """Return what the contrasts of one blade show of the seating's variance, weighed and summed."""
    stands = _stands(blade, variance)
    most = CUT + MORE * (len(blade) - 1)
    share = min(1.0, most / stands if stands > 0.0 else 1.0) / KEPT
    return math.fsum(
        _weight(one, variance) * (one.square * share - one.other) / one.slope for one in blade
    )
