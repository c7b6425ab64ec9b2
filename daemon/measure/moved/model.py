"""The data of a diagnosis: what it is made from, what was decided, what it says.

Degrees; positive is coarser. The reference's change is given in the same sense, so that a common
shift moves every change alike.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

from shared.events import BladeId, VerdictState
from shared.job import Thresholds

ASKEW_PRIOR = UNSEATED_PRIOR = 0.05
"""Prior of blades brought to their azimuth much worse than was stated, and of a level that seats
much worse than its placements made believe (assumptions)."""


@dataclass(frozen=True, slots=True)
class Change:
    """Change of one held blade, or of the reference, since its baseline.

    Attributes:
        blade: the blade, or "reference".
        change_deg: mean of the new placements minus the baseline, both referred to the
            baseline's own reference; positive is coarser.
        u_old_deg: standard uncertainty of the baseline, without what is common to all.
        u_new_deg: the same of the mean of the new placements.
        placements: how many placements the new mean holds.
        u_common_deg: standard uncertainty of what is common to all changes of this round.
        baseline_deg: the blade's baseline angle; where given, exchanged labels are considered.
        since: 0 where the baseline is as old as the reference last known to be right, else its
            place in the order of the baselines made after that: a shift may lie between them.
        u_askew_deg: what an azimuth much worse than was stated would put into the change
            (standard uncertainty); 0 where the azimuth was measured.
        u_unseated_deg: the same of a seating much worse than was believed; 0 where the level's
            was measured.
    """

    blade: BladeId
    change_deg: float
    u_old_deg: float
    u_new_deg: float
    placements: int
    u_common_deg: float = 0.0
    baseline_deg: float | None = None
    since: int = 0
    u_askew_deg: float = 0.0
    u_unseated_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Terms:
    """What the changes of one round are judged by; see `diagnose`, which is given them."""

    thresholds: Thresholds
    tolerance_deg: float
    find_deg: float
    tightened: frozenset[int]
    max_placements: int
    reference_placements: int
    play_deg: float
    settled: frozenset[int] = frozenset()
    prior_askew: float = ASKEW_PRIOR
    least_gain: float = 0.0


ShiftStage = Literal["none", "possible", "likely", "concluded"]
"""A shift of everything: ruled out; open; likely, but the reference was not read often enough
yet; taken for true."""


@dataclass(frozen=True, slots=True)
class Shift:
    """A common shift: how far it is established, its probability, its size were there one."""

    stage: ShiftStage
    probability: float
    shift_deg: float
    u_deg: float


Reason = Literal[
    "labels exchanged",
    "reference first",  # a blade cannot be judged before the reference is
    "moved",
    "within play",
    "within wide play",  # wider than the tolerance
    "in doubt",  # and another placement may tell
    "in doubt to the end",
    "blunt within play",  # nothing was found, but too much could hide: the play
    "blunt",  # the same, and another placement may help
    "blunt for good",  # another placement would hardly help
    "blunt to the end",
    "steady",
    "shift concluded",
    "shift in doubt",
    "shift in doubt to the end",
]
"""Why a state was decided: one row of the table, one sentence."""


class Decision(NamedTuple):
    """What was decided of one blade or of the reference, in numbers that are not rounded.

    Attributes:
        change_deg: its own change; a concluded common shift is taken off the blades'.
        u95_deg: expanded uncertainty (95 %) of that change.
        probability: see `Finding`.
        could_hide_deg: see `Finding`.
        partner: with whom its label was most likely exchanged; exchanged: how likely that is.
        spared: its baseline was made after a concluded shift, which it does not show.
        again: it is to be placed again.
    """

    blade: BladeId
    state: VerdictState
    reason: Reason
    change_deg: float
    u95_deg: float
    probability: float
    placements: int
    could_hide_deg: float | None
    partner: BladeId | None
    spared: bool
    again: bool
    exchanged: float = 0.0


@dataclass(frozen=True, slots=True)
class Decided:
    """One decision for each change, in that order; who is placed again; what of a shift."""

    decisions: tuple[Decision, ...]
    again: tuple[BladeId, ...]
    shift: Shift


@dataclass(frozen=True, slots=True)
class Finding:
    """What became of one blade or of the reference, as it is told: numbers rounded.

    Attributes:
        change_deg: its own change; a concluded common shift is taken off the blades'.
        u95_deg: expanded uncertainty (95 %) of that change.
        probability: that the blade moved; where the state is "exchanged", that its labels were;
            where its own odds are in doubt, the larger of the two; of the reference: that there
            was a shift.
        could_hide_deg: where nothing was found, the smallest move (of the reference: shift)
            called 19 times in 20.
        say: one sentence with its numbers.
        partner: where the state is "exchanged": with whom.
    """

    blade: BladeId
    state: VerdictState
    change_deg: float
    u95_deg: float
    probability: float
    could_hide_deg: float | None
    say: str
    partner: BladeId | None = None


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """One finding for each change given, in that order; `again`: who is to be placed again."""

    findings: tuple[Finding, ...]
    again: tuple[BladeId, ...]
    shifted: bool
    probability_shifted: float
    probability_askew: float = 0.0
    """That blades were brought to an azimuth worse than was stated."""
