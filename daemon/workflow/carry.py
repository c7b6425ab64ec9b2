"""What a session takes over from the one it continues: the reference and the held blades."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from daemon.measure.angle import BladeAngle
from daemon.measure.budget import Budget, Line
from daemon.workflow.workflow import Workflow
from shared.events import REFERENCE, Captured, Event, Held, Noted


def carried(events: Sequence[Event]) -> dict[str, Any]:
    """Return what of recorded outputs another session can start from.

    Blades by number with angle and standard uncertainty as they were last held; the reference
    from its readings before the setting.
    """
    blades: dict[str, dict[str, float]] = {}
    references: list[Captured] = []
    for event in events:
        body = event.body
        if isinstance(body, Held):
            blades[str(body.blade)] = {"angle_deg": body.angle_deg, "u_deg": body.u95_deg / 2.0}
        elif isinstance(body, Captured) and body.stage == "reference":
            references.append(body)
        elif isinstance(body, Captured) and body.stage == "set" and body.blade is not None:
            blades.pop(str(body.blade), None)
    if not references:
        return {}
    n = len(references)
    theta = math.fsum(r.angle_deg for r in references) / n
    u = references[-1].u95_deg / 2.0
    return {"reference": {"theta_deg": theta, "u_deg": u, "n": n}, "blades": blades}


def restore(workflow: Workflow, values: Mapping[str, Any]) -> None:
    """Start a session from what was carried over; nothing for an empty mapping."""
    if not values:
        return
    reference = values["reference"]
    workflow.angles.carry(reference)
    _hold(workflow, REFERENCE, reference["theta_deg"], reference["u_deg"])
    for number, blade in values["blades"].items():
        if int(number) in workflow.ledger.numbers():
            _hold(workflow, int(number), blade["angle_deg"], blade["u_deg"])
    workflow.say(
        Noted(
            "caution",
            "continued from an earlier session: read the reference and all held blades first",
        )
    )


def _hold(workflow: Workflow, blade: Any, angle_deg: float, u_deg: float) -> None:
    state = workflow.ledger.state[blade]
    line = Line("carried over", "B", u_deg)
    state.baseline, state.rebased = BladeAngle(angle_deg, Budget((line,))), True
    state.state = "held"
