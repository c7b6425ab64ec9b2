"""What a session takes over from the one it continues: the reference and the held blades."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.workflow.case import Case
from shared.angles import mean_deg
from shared.events import (
    Alarm,
    BladeId,
    Captured,
    Cleared,
    Event,
    Held,
    Noted,
    Verdict,
    Withdrawn,
)
from shared.job import ReferenceBy

ACCEPTED_CHANGES = frozenset({"moved", "turned", "not known", "exchanged"})
"""Alarms whose acceptance holds a blade where it was found (as `rounds.accept` does)."""


def carried(events: Sequence[Event], by: ReferenceBy) -> dict[str, Any]:
    """Return what of recorded outputs another session can start from; nothing without a tilt.

    Blades by number with angle and standard uncertainty as they were last held; the reference
    from its readings before the setting.
    by: how the session before read its reference.
    """
    blades: dict[str, dict[str, float]] = {}
    references: list[Captured] = []
    verdicts: dict[BladeId, Verdict] = {}
    alarms: dict[int, Alarm] = {}
    for event in events:
        match event.body:
            case Held() as held:
                blades[str(held.blade)] = _entry(held.angle_deg, held.u95_deg)
            case Captured(stage="reference") as captured:
                references.append(captured)
            case Captured(stage="set", blade=int(blade)):
                blades.pop(str(blade), None)
            case Withdrawn() as withdrawn:
                references = [one for one in references if one.id != withdrawn.id]
            case Verdict() as verdict:
                verdicts[verdict.blade] = verdict
            case Alarm() as alarm:
                alarms[alarm.id] = alarm
            case Cleared(how="accept") as cleared if cleared.alarm in alarms:
                _accept(blades, alarms[cleared.alarm], verdicts)
    reference = _reference(references, by)
    return {"reference": reference, "blades": blades} if reference else {}


def _reference(placed: Sequence[Captured], by: ReferenceBy) -> dict[str, float]:
    """Return the tilt that these placements give; nothing where they give none."""
    halves = [[one for one in placed if one.half == half] for half in (0, 1, 2)]
    whole, first, second = ([one.angle_deg for one in half] for half in halves)
    if by == "hub-face" and whole:
        theta, u = mean_deg(whole), placed[-1].u95_deg / 2.0
    elif by != "hub-face" and first and second:
        sign = 1.0 if by == "half-turn" else -1.0
        theta = (mean_deg(second) + sign * mean_deg(first)) / 2.0
        u = math.hypot(halves[1][-1].u95_deg, halves[2][-1].u95_deg) / 4.0
    else:
        return {}
    return {"theta_deg": theta, "u_deg": u, "n": len(placed)}


def _entry(angle_deg: float, u95_deg: float) -> dict[str, float]:
    return {"angle_deg": angle_deg, "u_deg": u95_deg / 2.0}


def _accept(
    blades: dict[str, dict[str, float]], alarm: Alarm, verdicts: Mapping[BladeId, Verdict]
) -> None:
    """A blade's change was taken as it is: it is held where the round found it."""
    held, verdict = blades.get(str(alarm.blade)), verdicts.get(alarm.blade)
    if held is not None and verdict is not None and alarm.kind in ACCEPTED_CHANGES:
        blades[str(alarm.blade)] = _entry(held["angle_deg"] + verdict.change_deg, verdict.u95_deg)


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
