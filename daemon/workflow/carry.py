"""What a session takes over from the one it continues: the reference and the held blades."""

import math
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.workflow.case import Case
from shared.angles import mean_deg
from shared.events import (
    Alarm,
    BladeId,
    Body,
    Captured,
    Cleared,
    Event,
    Held,
    Noted,
    StepChanged,
    Verdict,
    Withdrawn,
)
from shared.job import ReferenceBy

ACCEPTED_CHANGES = frozenset({"moved", "turned", "not known", "exchanged"})
"""Alarms whose acceptance holds a blade where it was found (as `rounds.accept` does)."""
Blades = Mapping[str, dict[str, float]]
"""Angle and standard uncertainty, by number."""


def carried(
    events: Sequence[Event], by: ReferenceBy, before: Mapping[str, Any] = MappingProxyType({})
) -> dict[str, Any]:
    """Return what of recorded outputs another session can start from; nothing without a tilt.

    Blades by number with angle and standard uncertainty as they were last held; the reference
    from its readings before the setting.
    by: how the session before read its reference. before: what that one took over itself.
    """
    bodies = [event.body for event in events]
    reference = _reference(_placements(bodies), by) or before.get("reference", {})
    blades = _held(bodies, before.get("blades", {}))
    return {"reference": reference, "blades": blades} if reference else {}


def _held(bodies: Iterable[Body], before: Blades) -> Blades:
    """Return the blades that are held in the end, of those held before and since."""
    blades = dict(before)
    verdicts: dict[BladeId, Verdict] = {}
    alarms: dict[int, Alarm] = {}
    for body in bodies:
        match body:
            case Held() as held:
                blades[str(held.blade)] = _entry(held.angle_deg, held.u95_deg)
            case (
                Captured(stage="set", blade=blade)
                | StepChanged(stage="set" | "baseline", blade=blade)
            ):
                blades.pop(str(blade), None)
            case Verdict() as verdict:
                verdicts[verdict.blade] = verdict
            case Alarm() as alarm:
                alarms[alarm.id] = alarm
            case Cleared() as cleared if cleared.alarm in alarms:
                _answer(blades, alarms[cleared.alarm], cleared, verdicts)
    return blades


def _placements(bodies: Iterable[Body]) -> list[Captured]:
    """Return the placements of the reference that count in the end."""
    placed: list[Captured] = []
    for body in bodies:
        match body:
            case Captured(stage="reference") as captured:
                placed.append(captured)
            case StepChanged(stage="reference") as step:
                placed = _counted(placed, step)
            case Withdrawn() as withdrawn:
                placed = [one for one in placed if one.id != withdrawn.id]
    return placed


def _counted(placed: Sequence[Captured], step: StepChanged) -> list[Captured]:
    """Return the placements that count beside the one that a step asks for.

    Of a reference that is read anew none of before does: it stands at another tilt now.
    """
    alike = [one for one in placed if one.half == step.half]
    others = [one for one in placed if one.half != step.half]
    anew = (step.half, step.placement) == (1, 1)
    return ([] if anew else others) + alike[max(0, len(alike) - step.placement + 1) :]


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


def _answer(
    blades: dict[str, dict[str, float]],
    alarm: Alarm,
    cleared: Cleared,
    verdicts: Mapping[BladeId, Verdict],
) -> None:
    """A change that was taken as it is: the blade is held where the round found it. Else it is set again."""
    held, verdict = blades.get(str(alarm.blade)), verdicts.get(alarm.blade)
    accepted = cleared.how == "accept" and alarm.kind in ACCEPTED_CHANGES
    if accepted and held is not None and verdict is not None:
        blades[str(alarm.blade)] = _entry(held["angle_deg"] + verdict.change_deg, verdict.u95_deg)
    if cleared.how == "set-again":
        for blade in alarm.blades or (alarm.blade,):
            blades.pop(str(blade), None)


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
