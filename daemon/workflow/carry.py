"""What a session takes over from the one it continues: the reference and the held blades."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.workflow.case import Case
from shared.events import Captured, Event, Held, Noted, Withdrawn
from shared.job import ReferenceBy


def carried(events: Sequence[Event], by: ReferenceBy) -> dict[str, Any]:
    """Return what of recorded outputs another session can start from; nothing without a tilt.

    Blades by number with angle and standard uncertainty as they were last held; the reference
    from its readings before the setting.
    by: how the session before read its reference.
    """
    blades: dict[str, dict[str, float]] = {}
    references: list[Captured] = []
    for event in events:
        body = event.body
        if isinstance(body, Held):
            blades[str(body.blade)] = {"angle_deg": body.angle_deg, "u_deg": body.u95_deg / 2.0}
        elif isinstance(body, Captured) and body.stage == "reference":
            references.append(body)
        elif isinstance(body, Withdrawn):
            references = [one for one in references if one.id != body.id]
        elif isinstance(body, Captured) and body.stage == "set" and body.blade is not None:
            blades.pop(str(body.blade), None)
    halves = [[one for one in references if one.half == half] for half in (0, 1, 2)]
    whole, first, second = ([one.angle_deg for one in half] for half in halves)
    if by == "hub-face" and whole:
        theta, u = _mean(whole), references[-1].u95_deg / 2.0
    elif by != "hub-face" and first and second:
        sign = 1.0 if by == "half-turn" else -1.0
        theta = (_mean(second) + sign * _mean(first)) / 2.0
        u = math.hypot(halves[1][-1].u95_deg, halves[2][-1].u95_deg) / 4.0
    else:
        return {}
    reference = {"theta_deg": theta, "u_deg": u, "n": len(references)}
    return {"reference": reference, "blades": blades}


def _mean(angles: Sequence[float]) -> float:
    return math.fsum(angles) / len(angles)


def restore(case: Case, values: Mapping[str, Any]) -> None:
    """Start a session from what was carried over; nothing for an empty mapping."""
    if not values:
        return
    reference = values["reference"]
    case.members.reference.carry(_carried(reference["theta_deg"], reference["u_deg"]))
    for number, blade in values["blades"].items():
        if int(number) in case.members.numbers():
            case.members[int(number)].carry(_carried(blade["angle_deg"], blade["u_deg"]))
    case.say(
        Noted(
            "caution",
            "continued from an earlier session: read the reference and all held blades first",
        )
    )


def _carried(angle_deg: float, u_deg: float) -> BladeAngle:
    return BladeAngle(angle_deg, Budget((Line("carried over", "B", u_deg),)))
