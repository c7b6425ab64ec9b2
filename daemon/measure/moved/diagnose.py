"""Has a blade moved between two readings, or did the aircraft or the level shift?

The reference is one more observation, which cannot move by itself: without it no shift is ever
concluded. The odds of every explanation are weighed (`odds`), each member's state follows from
them by a table (`decide`), and the sentence is made from what was decided (`explain`).
"""

import math
from collections.abc import Mapping, Sequence

from daemon.measure.moved.decide import decide
from daemon.measure.moved.explain import explain
from daemon.measure.moved.model import ASKEW_PRIOR, Change, Diagnosis, Terms
from daemon.measure.moved.odds import weigh
from shared.angles import stated
from shared.job import Thresholds

REFERENCE_READINGS = 3
"""The reference is read twice more before it is blamed (an assumption, simulated: docs/moved.md)."""


def diagnose(
    changes: Sequence[Change],
    *,
    thresholds: Thresholds,
    tolerance_deg: float,
    find_deg: float | None = None,
    least_gain: float = 0.0,
    tightened: frozenset[int] = frozenset(),
    settled: frozenset[int] = frozenset(),
    stage: str,
    max_placements: int = 3,
    reference_placements: int = REFERENCE_READINGS,
    play_deg: float = 0.0,
    labels: Mapping[int, str] | None = None,
    than: Mapping[int, str] | None = None,
    prior_askew: float = ASKEW_PRIOR,
) -> Diagnosis:
    """Say of every held blade and the reference what became of it.

    Args:
        changes: the blades that must be where they were, and the reference if it was read.
        thresholds: limits and priors.
        tolerance_deg: a blade is steady only if no move above this could hide.
        find_deg: a blade of which nothing was found is placed again while a move above this could
            hide; None: tolerance_deg.
        least_gain: and only while that would be lessened by so much of it (0.1: a tenth).
        tightened: blades that tightening may have turned; they get the larger prior, and the
            word "turned".
        settled: blades of which it decides nothing whether they were turned: they are placed
            twice for it at most.
        stage: what was done since the baseline ("snug"), for the sentences.
        max_placements: most placements of one round, the first included; the reference may
            have as many.
        reference_placements: readings of the reference before a shift is concluded; where that
            is more than max_placements, max_placements.
        play_deg: full play of a blade that is not yet nipped.
        labels: the user's own marks of the blades.
        than: since when a blade has changed, in words, where that is not since it was set.
        prior_askew: that the azimuth is worse than was stated, as far as earlier rounds tell.

    Raises:
        ValueError: a blade is given twice, or a number is not finite or out of range.
    """
    _check(changes, min(max_placements, reference_placements), play_deg)
    if not changes:
        return Diagnosis((), (), False, 0.0)
    terms = Terms(
        thresholds,
        tolerance_deg,
        tolerance_deg if find_deg is None else find_deg,
        tightened,
        max_placements,
        reference_placements,
        play_deg,
        settled,
        prior_askew,
        least_gain,
    )
    odds = weigh(changes, terms)
    decided = decide(changes, odds, terms)
    return Diagnosis(
        explain(decided, terms, stage, labels or {}, than or {}),
        decided.again,
        decided.shift.stage == "concluded",
        stated(decided.shift.probability),
        stated(odds.askew),
    )


def _check(changes: Sequence[Change], least_placements: int, play_deg: float) -> None:
    if len({one.blade for one in changes}) != len(changes):
        raise ValueError("a blade is given twice")
    if least_placements < 1 or not 0.0 <= play_deg < math.inf:
        raise ValueError("at least one placement, and a play that is not negative")
    for one in changes:
        more = (one.u_askew_deg, one.u_unseated_deg)
        uncertainties = (one.u_old_deg, one.u_new_deg, one.u_common_deg, *more)
        if not all(0.0 <= u < math.inf for u in uncertainties) or one.placements < 1:
            raise ValueError(f"{one.blade}: uncertainties not negative, at least one placement")
        if not math.isfinite(one.change_deg):
            raise ValueError(f"{one.blade}: the change is not a finite number")
