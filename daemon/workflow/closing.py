"""Where everything stands: the summary that ends a session."""

import math
from collections.abc import Sequence
from typing import Any, Literal

from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.verdict import spread_95
from daemon.workflow.agreement import own_u
from daemon.workflow.case import Case
from daemon.workflow.plan import Over
from shared.angles import stated
from shared.events import REFERENCE, Summary

End = Literal["finished", "ended early", "abandoned, do not fly"]
ENDS: dict[Over, End] = {
    "": "ended early",
    "finished": "finished",
    "abandoned": "abandoned, do not fly",
}


def summary(case: Case, refused: dict[str, int]) -> Summary:
    """Return the summary of the job as it stands."""
    members = case.members
    angles = [angle for b in members.numbers() if (angle := members.newest_angle(b)) is not None]
    all_there = len(angles) == members.blades
    degrees = [angle.angle_deg for angle in angles]
    reference = members.newest_angle(REFERENCE)
    return Summary(
        state=_end(case),
        blades=[_row(case, blade) for blade in members.numbers()],
        spread_deg=stated(max(degrees) - min(degrees)) if all_there else None,
        spread_95_deg=_spread_95(angles) if all_there else None,
        reference_deg=stated(reference.angle_deg) if reference else None,
        closure_deg=_closure(case, reference),
        called_moved=[b for b in members.numbers() if members[b].called_moved],
        open_alarms=sorted(alarm.id for alarm in case.alarms),
        readings=len(case.ledger.entries),
        refused=refused,
        unproven=dict(case.header.unproven),
    )


def _row(case: Case, blade: int) -> dict[str, Any]:
    """Return one blade of the summary."""
    angle = case.members.newest_angle(blade)
    return {
        "blade": blade,
        "label": case.job.propeller.label(blade),
        "angle_deg": None if angle is None else stated(angle.angle_deg),
        "u95_deg": None if angle is None else stated(angle.budget.u95_deg),
        "state": case.members[blade].state,
    }


def _end(case: Case) -> End:
    return ENDS[case.progress.over]


def _closure(case: Case, last: BladeAngle | None) -> float | None:
    """Return the last reference minus the first, where it was read in more than one stage."""
    entries = [e for e in case.ledger.entries if e.blade == REFERENCE and not e.withdrawn]
    if last is None or not entries or entries[0].stage == entries[-1].stage:
        return None
    first = case.ledger.angle_of(REFERENCE, entries[0].stage, entries[0].passed)
    return None if first is None else stated(last.angle_deg - first.angle_deg)


def _spread_95(angles: Sequence[BladeAngle]) -> float:
    """Spread that equal blades would stay under 19 times in 20, from what they do not share."""
    squares = [own_u(angle.budget) ** 2 for angle in angles]
    u = math.sqrt(math.fsum(squares) / len(squares))
    return stated(spread_95(len(angles), u))
