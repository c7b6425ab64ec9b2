"""Do the placements of one pass agree? One that does not was not of this blade."""

import math
from collections.abc import Sequence

from daemon.measure.angle.budget import Budget
from daemon.workflow.ledger import Entry
from shared.angles import difference_deg

FACTOR = 6.0
"""Standard uncertainties of a difference that no two placements of one blade are apart."""


def own_u(budget: Budget) -> float:
    """Return the standard uncertainty of what two passes over a blade do not share.

    The azimuth of a blade is drawn anew whenever the propeller is turned, so what the
    placements of one pass share ("blade") counts here.
    """
    return Budget(tuple(line for line in budget.lines if line.common in {"none", "blade"})).u_deg


def disagreement_deg(entries: Sequence[Entry]) -> float | None:
    """Return how far apart the placements are, or None when that is within their uncertainty.

    The two halves of a reference differ by design: each is looked at by itself.
    """
    halves = [[entry for entry in entries if entry.half == half] for half in (0, 1, 2)]
    apart = [one for half in halves if (one := _apart_deg(half)) is not None]
    return max(apart, default=None)


def _apart_deg(entries: Sequence[Entry]) -> float | None:
    angles = [entry.angle.angle_deg for entry in entries]
    if len(angles) < 2:
        return None
    apart = max(difference_deg(a, b) for a in angles for b in angles)
    u = max(own_u(entry.angle.budget) for entry in entries)
    return apart if apart > FACTOR * math.sqrt(2.0) * u else None
