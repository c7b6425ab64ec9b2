"""Where everything stands: the summary that ends a session."""

import math
from collections.abc import Sequence
from typing import Any, Literal

from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.verdict import SetVerdict, spread_95
from daemon.workflow.agreement import own_u
from daemon.workflow.case import Case
from daemon.workflow.plan import Over
from daemon.workflow.result import blade_row, in_words, judge_set, or_none, result
from shared.angles import stated
from shared.events import REFERENCE, Summary

End = Literal["finished", "ended early", "abandoned, do not fly"]
ENDS: dict[Over, End] = {
    "": "ended early",
    "finished": "finished",
    "ended early": "ended early",
    "abandoned": "abandoned, do not fly",
}


def summary(case: Case, refused: dict[str, int]) -> Summary:
    """Return the summary of the job as it stands."""
    members = case.members
    angles = [angle for angle in members.newest_angles().values() if angle is not None]
    all_there = len(angles) == members.blades
    verdict = judge_set(case)
    found = result(case, verdict)
    reference = members.newest_angle(REFERENCE)
    return Summary(
        state=_end(case),
        blades=_rows(case, verdict),
        spread_deg=or_none(verdict.spread_deg),
        spread_95_deg=_spread_95(angles) if all_there else None,
        reference_deg=stated(reference.angle_deg) if reference else None,
        closure_deg=_closure(case, reference),
        called_moved=[b for b in members.numbers() if members[b].called_moved],
        open_alarms=sorted(alarm.id for alarm in case.alarms),
        readings=len(case.ledger.entries),
        refused=refused,
        unproven=dict(case.header.unproven),
        result=found,
        spread_u95_deg=or_none(verdict.spread_u95_deg),
        spread=verdict.spread,
        say=in_words(case, verdict, found),
    )


def _rows(case: Case, verdict: SetVerdict) -> list[dict[str, Any]]:
    """Return the blades of the summary: what became of each, and what was accepted of it."""
    return [
        {
            **blade_row(case, blade, judgement),
            "state": case.members[blade].state,
            "accepted": [
                {"kind": one.kind, "by": one.by, "reason": one.reason}
                for one in case.accepted
                if one.blade == blade
            ],
        }
        for blade, judgement in zip(case.members.numbers(), verdict.blades, strict=True)
    ]


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
