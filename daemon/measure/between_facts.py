"""What a diagnosis is made from, and what it says. Degrees; positive is coarser."""

from dataclasses import dataclass

from shared.events import BladeId, VerdictState


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
    """

    blade: BladeId
    change_deg: float
    u_old_deg: float
    u_new_deg: float
    placements: int
    u_common_deg: float = 0.0
    baseline_deg: float | None = None
    since: int = 0


@dataclass(frozen=True, slots=True)
class Finding:
    """What became of one blade or of the reference.

    Attributes:
        change_deg: its own change; a concluded common shift is taken off the blades'.
        u95_deg: expanded uncertainty (95 %) of that change.
        probability: that the blade moved, or its labels were exchanged where the state says
            so; of the reference: that there was a shift.
        could_hide_deg: where nothing was found, the smallest move called 19 times in 20.
        say: one sentence with its numbers.
    """

    blade: BladeId
    state: VerdictState
    change_deg: float
    u95_deg: float
    probability: float
    could_hide_deg: float | None
    say: str


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """One finding for each change given, in that order; `again`: who is to be placed again."""

    findings: tuple[Finding, ...]
    again: tuple[BladeId, ...]
    shifted: bool
    probability_shifted: float
