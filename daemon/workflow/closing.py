"""Where everything stands: the summary that ends a session."""

import math
from typing import Any, Literal

from daemon.measure.verdict import spread_95
from daemon.workflow.agreement import own_u
from daemon.workflow.ledger import Ledger
from daemon.workflow.workflow import Workflow
from shared.angles import stated
from shared.events import REFERENCE, Summary

End = Literal["finished", "ended early", "abandoned, do not fly"]


def summary(workflow: Workflow, refused: dict[str, int]) -> Summary:
    """Return the summary of the job as it stands."""
    ledger = workflow.ledger
    angles = [a.angle_deg for b in ledger.numbers() if (a := ledger.newest_angle(b)) is not None]
    all_there = len(angles) == ledger.blades
    reference = ledger.newest_angle(REFERENCE)
    return Summary(
        state=_end(workflow),
        blades=[blade_row(workflow, b) for b in ledger.numbers()],
        spread_deg=stated(max(angles) - min(angles)) if all_there else None,
        spread_95_deg=_spread_95(ledger) if all_there else None,
        reference_deg=stated(reference.angle_deg) if reference else None,
        closure_deg=_closure(ledger),
        called_moved=[b for b in ledger.numbers() if ledger.state[b].called_moved],
        open_alarms=sorted(ledger.alarms),
        readings=len(ledger.entries),
        refused=refused,
    )


def blade_row(workflow: Workflow, blade: int) -> dict[str, Any]:
    """Return one blade of the summary."""
    state, angle = workflow.ledger.state[blade], workflow.ledger.newest_angle(blade)
    return {
        "blade": blade,
        "label": workflow.job.propeller.label(blade),
        "angle_deg": None if angle is None else stated(angle.angle_deg),
        "u95_deg": None if angle is None else stated(angle.budget.u95_deg),
        "state": state.state,
    }


def _end(workflow: Workflow) -> End:
    if workflow.abandoned:
        return "abandoned, do not fly"
    return "finished" if workflow.progress.finished else "ended early"


def _closure(ledger: Ledger) -> float | None:
    entries = [e for e in ledger.entries if e.blade == REFERENCE and not e.withdrawn]
    if not entries or entries[0].stage == entries[-1].stage:
        return None
    first = ledger.angle_of(REFERENCE, entries[0].stage, entries[0].passed)
    last = ledger.newest_angle(REFERENCE)
    assert first is not None
    assert last is not None
    return stated(last.angle_deg - first.angle_deg)


def _spread_95(ledger: Ledger) -> float:
    """Spread that equal blades would stay under 19 times in 20, from what they do not share."""
    squares = []
    for blade in ledger.numbers():
        angle = ledger.newest_angle(blade)
        assert angle is not None
        squares.append(own_u(angle.budget) ** 2)
    u = math.sqrt(math.fsum(squares) / len(squares))
    return stated(spread_95(ledger.blades, u))
