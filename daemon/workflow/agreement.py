"""Do the placements of one pass agree? What they are apart is in the uncertainty of their mean.

apart by more than           what follows
WIDENS uncertainties         their mean is widened by the whole of it
DISAGREES uncertainties      besides, a person is asked
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle, mean_of
from daemon.measure.quantiles import t_over_z
from shared.angles import apart_deg
from shared.events import Half, Sense

WIDENS = 3.0
"""Standard uncertainties of a difference that placements of one blade are hardly ever apart."""
DISAGREES = 6.0
"""Standard uncertainties of a difference that no two placements of one blade are apart."""
STANDS_ELSEWHERE = 2.8
"""Standard uncertainties of a difference from which on a blade hardly stands where it was set."""
CALLS = 3.9
"""Normal standard deviations as rare as a call that is wrong may be (1 in 10,000)."""


class Placement(Protocol):
    """What is asked of a reading."""

    @property
    def angle(self) -> BladeAngle:
        """Its angle."""
        ...

    @property
    def half(self) -> Half:
        """Which half of a reference."""
        ...

    @property
    def sense(self) -> Sense:
        """Which way the level pointed."""
        ...


def own(budget: Budget) -> Budget:
    """Return what two passes over a blade do not share.

    The azimuth of a blade is drawn anew whenever the propeller is turned, so what the
    placements of one pass share ("blade") counts here.
    """
    return Budget(tuple(line for line in budget.lines if line.common in {"none", "blade"}))


def own_u(budget: Budget) -> float:
    """Return the standard uncertainty of what two passes over a blade do not share."""
    mine = (line.u_deg**2 for line in budget.lines if line.common in {"none", "blade"})
    return math.sqrt(math.fsum(mine))


def sure_u(budget: Budget) -> float:
    """Return the standard deviation of the normal that is as wide as `own` where calls are made.

    An uncertainty that is itself known from few degrees of freedom has longer tails than a
    normal (Student's t), and it is the tails that accuse an innocent blade.
    """
    mine = own(budget)
    return mine.u_deg * t_over_z(CALLS, mine.dof)


def stands_elsewhere(then: BladeAngle, now: BladeAngle, lift_u_deg: float) -> bool:
    """Whether a blade that was not turned away in between stands elsewhere than it was set.

    lift_u_deg: what lifting the level off it does to it. The azimuth is the same both times.
    """
    budgets = (then.budget, now.budget)
    each = [line.u_deg for budget in budgets for line in budget.lines if line.common == "none"]
    apart = abs(now.angle_deg - then.angle_deg)
    return apart > STANDS_ELSEWHERE * math.hypot(lift_u_deg, *each)


def disagreement_deg(entries: Sequence[Placement], factor: float = DISAGREES) -> float | None:
    """Return how far apart the placements are, or None when that is within their uncertainty.

    factor: so many uncertainties are.

    The two halves of a reference and the two senses differ by design: each is looked at by itself.
    """
    groups: dict[tuple[Half, Sense], list[BladeAngle]] = {}
    for entry in entries:
        groups.setdefault((entry.half, entry.sense), []).append(entry.angle)
    apart = [_apart_deg(group, factor) for group in groups.values()]
    return max([one for one in apart if one is not None], default=None)


def widened_mean(placements: Sequence[BladeAngle], *, doubted: bool = False) -> BladeAngle:
    """Return the mean of several placements; where they do not agree, wide by the whole of it.

    doubted: it was said that they disagree; what the level shows later does not mend that.

    Either of two placements may be the true one: half of what they are apart is the standard
    uncertainty (of a coin between the two), and the 95 % interval of it is as wide as they
    are apart, to either side.

    Raises:
        ValueError: no placements.
    """
    mean, apart = mean_of(placements), _apart_deg(placements, 0.0 if doubted else WIDENS)
    if apart is None:
        return mean
    return replace(
        mean, budget=Budget((*mean.budget.lines, Line("disagreement", "B", apart / 2.0)))
    )


def _apart_deg(placements: Sequence[BladeAngle], factor: float) -> float | None:
    """Return how far apart they are where that is more than so many uncertainties, else None."""
    angles = [placement.angle_deg for placement in placements]
    if len(angles) < 2:
        return None
    apart = apart_deg(angles)
    u = max(own_u(placement.budget) for placement in placements)
    return apart if apart > factor * math.sqrt(2.0) * u else None
