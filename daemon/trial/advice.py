"""The next step: none without limits, one small step from one point, an angle with its range from two.

The rules, from top to bottom; the first that applies is the answer.

    a manual forbids the change, or nobody said that it allows it    forbidden
    a limit that is needed is missing                                limits missing
    nothing that counts was flown                                    no points
    a point does not fit the others                                  points contradict
    a run with a limit was never flown, the setting may be flown as
      it is, and a step might break that limit, or none is needed,
      or no setting is believed to meet it                           fly first
    no setting meets every limit, as sure as ENDS                    no setting
    two settings 0.5 degrees apart, and every limit met over the
      whole 90 % range                                               angle (stay, where it is set already)
    else                                                             step (hold, where none is safe)

A step never goes where a limit that it comes nearer to may be broken: the chance is under one in a thousand. What
is known of a run that nobody has flown is what is believed before any point, wide, beside the static run: where the
static run is not within its limits, so that nothing may be flown, a step goes no further than it must to be within
them, and the chance to break a limit of such a run is under UNFLOWN.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from daemon.trial.conflicts import Conflict, off, unfit
from daemon.trial.evidence import Evidence, weighed
from daemon.trial.forecast import (
    Bound,
    Forecast,
    bounds,
    chance_met,
    looked_ahead,
    unflown,
)
from daemon.trial.margins import Verdict, dive_rpm, missing, verdicts
from daemon.trial.points import Limit, Run, Trial

Kind = Literal[
    "forbidden", "limits missing", "no points", "points contradict", "no setting",
    "fly first", "angle", "stay", "step", "hold",
]  # fmt: skip
Danger = Literal["overspeeds", "may overspeed", "no static rpm", "overspeeds in a dive"]

FIRST_STEP_DEG = 0.5
"""The largest step from one setting."""
STEP_DEG = 1.0
"""The largest step from two."""
SMALLEST_DEG = 0.1
"""Less is not worth slackening a bolt."""
SMALLEST_UNFLOWN_DEG = 0.15
"""The same where nothing may be flown before the step: less is lost in how well blades are set."""
SET_DEG = 0.1
"""So far beyond an angle the blades may come to stand, and still no limit that nobody has flown may be broken."""
SURE = 0.999
"""How sure a limit must be met where a step comes nearer to it, and at an angle that is proposed."""
SURE_UNFLOWN = 0.98
"""The same of a limit in a run that nobody has flown, where nothing may be flown before the step."""
WITHIN = 0.9
"""So sure the static run must be within its limits that a setting is one to be flown."""
SURE_ENDS = 0.95
"""How sure every limit must be met at the ends of the range."""
ENDS = 0.3
"""Where a setting that meets every limit is less likely than this, it is said that there is none."""
LIKELY = 0.95
"""As likely one must be that an angle is proposed."""
ROUND_DEG = 0.05


@dataclass(frozen=True, slots=True)
class Advice:
    """What is advised, and all that it rests on. Angles in degrees, + is coarser.

    dangers: of the setting as it is, before any number. step_deg: 0 where nothing is to be changed; to_deg: where it
    leads. forecast: the best allowed setting with its range, where anything is known of it. against: the limits that
    stand against it (no setting: those that contradict each other; hold: those that a step might break; fly first:
    those whose run must be flown before). open_: limits that are still not met after the step. unflown: limits of
    runs that nobody has flown. vibrating: points on which a vibration was felt.
    """

    kind: Kind
    dangers: tuple[Danger, ...] = ()
    step_deg: float = 0.0
    to_deg: float | None = None
    forecast: Forecast | None = None
    against: tuple[tuple[Limit, Run], ...] = ()
    open_: tuple[tuple[Limit, Run], ...] = ()
    unflown: tuple[tuple[Limit, Run], ...] = ()
    missing: tuple[str, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    vibrating: tuple[int, ...] = ()
    evidence: Evidence | None = None


def advise(trial: Trial) -> Advice:
    """Return the next step, or why there is none."""
    conflicts = unfit(trial)
    bad = {one.point for one in conflicts}
    evidence = weighed(trial, [one for one in trial.counting if one[0] not in bad])
    facts = _facts(trial, evidence, conflicts)
    lacking = tuple(missing(trial))
    if trial.manual.may_change is not True:
        return _made("forbidden", facts, missing=lacking)
    if lacking:
        return _made("limits missing", facts, missing=lacking)
    if evidence.fitted is None:
        return _made("no points", facts)
    if wrong := off(trial, evidence):
        return _made("points contradict", facts, conflicts=(*conflicts, *wrong))
    return _on_the_lines(trial, evidence, facts)


def _made(kind: Kind, facts: dict[str, object], **more: object) -> Advice:
    return Advice(kind, **{**facts, **more})  # type: ignore[arg-type]


def _facts(trial: Trial, evidence: Evidence, conflicts: Sequence[Conflict]) -> dict[str, object]:
    """Return what is said with every advice."""
    found: dict[str, object] = {"conflicts": tuple(conflicts), "evidence": evidence}
    if not evidence.points:
        return found
    number, point = evidence.points[-1]
    judged = verdicts(trial, evidence, number, point)
    return found | {
        "verdicts": tuple(judged),
        "dangers": _dangers(trial, evidence, judged),
        "unflown": _pairs(unflown(evidence, bounds(trial, evidence))),
        "vibrating": tuple(n for n, one in evidence.points if one.vibration),
    }


def _dangers(trial: Trial, evidence: Evidence, judged: Sequence[Verdict]) -> tuple[Danger, ...]:
    over = [one for one in judged if one.limit.side < 0 and one.judgement != "in"]
    under = [one for one in judged if one.limit.side > 0 and one.run == "static"]
    dive = dive_rpm(trial, evidence, evidence.now)
    redline = [one.rpm for one in trial.limit if one.side < 0 and "level" in one.runs]
    found: list[Danger] = []
    if evidence.now.level_throttle == "part" or any(one.judgement == "out" for one in over):
        found.append("overspeeds")
    elif any(one.margin_rpm < 0.0 for one in over):
        found.append("may overspeed")
    if any(one.judgement == "out" for one in under):
        found.append("no static rpm")
    if dive is not None and redline and dive > max(redline):
        found.append("overspeeds in a dive")
    return tuple(found)


def _pairs(limits: Sequence[Bound]) -> tuple[tuple[Limit, Run], ...]:
    return tuple((one.limit, one.run) for one in limits)


def _on_the_lines(trial: Trial, evidence: Evidence, facts: dict[str, object]) -> Advice:
    limits = bounds(trial, evidence)
    ahead = looked_ahead(trial, evidence, limits)
    facts = facts | {"forecast": ahead}
    now = evidence.now.angle_deg
    blind, flyable = unflown(evidence, limits), within_static(trial, evidence)
    if ahead.best_deg is None or ahead.exists < ENDS:
        if blind and flyable:
            return _made("fly first", facts, against=_pairs(blind), to_deg=now)
        return _made("no setting", facts, against=_contradicting(evidence, limits))
    wanted = _wanted(trial, evidence, limits, ahead.best_deg - now)
    if abs(wanted) < SMALLEST_DEG:
        kind: Kind = ("fly first" if flyable else "hold") if blind else "stay"
        return _made(kind, facts, against=_pairs(blind), to_deg=now)
    proposed = evidence.wide and _all_met(evidence, limits, ahead) and not blind
    cap = min(STEP_DEG if proposed else FIRST_STEP_DEG, trial.manual.step_deg or STEP_DEG)
    step, against = _safe(evidence, limits, wanted, cap, flyable=flyable)
    if step == 0.0:
        kind = "fly first" if flyable and any(one in blind for one in against) else "hold"
        return _made(kind, facts, against=_pairs(against), to_deg=now)
    to_deg = now + step
    still = _pairs([b for b in limits if chance_met(evidence.lines, b, to_deg) < SURE_ENDS])
    kind = "angle" if proposed else "step"
    return _made(kind, facts, step_deg=step, to_deg=to_deg, open_=still)


def within_static(trial: Trial, evidence: Evidence) -> bool:
    """Whether the setting as it is may be flown: no static limit is broken as far as was measured."""
    number, point = evidence.points[-1]
    judged = verdicts(trial, evidence, number, point)
    return all(one.judgement != "out" for one in judged if one.run == "static")


def _wanted(trial: Trial, evidence: Evidence, limits: Sequence[Bound], best_deg: float) -> float:
    """Return how far to go: to the best setting, but before a flight only as far as the static limits ask.

    best_deg: how far away the best setting is.
    """
    blind = [one for one in unflown(evidence, limits) if one.limit.side * best_deg > 0.0]
    if not blind or within_static(trial, evidence):
        return best_deg
    static = [one for one in limits if one.run == "static" and one.limit.side * best_deg < 0.0]
    side = math.copysign(ROUND_DEG, best_deg)
    for n in range(1, int(abs(best_deg) / ROUND_DEG) + 1):
        to_deg = evidence.now.angle_deg + n * side
        if all(chance_met(evidence.lines, one, to_deg) >= WITHIN for one in static):
            return n * side
    return best_deg


def _all_met(evidence: Evidence, limits: Sequence[Bound], ahead: Forecast) -> bool:
    """Whether every limit is met at the best setting, and over the whole of its range."""
    if ahead.exists < LIKELY or None in (ahead.best_deg, ahead.low_deg, ahead.high_deg):
        return False
    wanted = ((ahead.best_deg, SURE), (ahead.low_deg, SURE_ENDS), (ahead.high_deg, SURE_ENDS))
    return all(
        chance_met(evidence.lines, bound, angle) >= sure
        for angle, sure in wanted
        if angle is not None
        for bound in limits
    )


def _safe(
    evidence: Evidence, limits: Sequence[Bound], wanted: float, cap: float, *, flyable: bool
) -> tuple[float, list[Bound]]:
    """Return the largest step towards what is wanted that is safe; 0, and which limits stand against the smallest.

    A coarser setting comes nearer to what is the least, a finer one to what is the most.
    """
    side = 1.0 if wanted > 0 else -1.0
    nearer = [one for one in limits if one.limit.side == side]
    ground = [] if flyable else unflown(evidence, nearer)
    least = round((SMALLEST_UNFLOWN_DEG if ground else SMALLEST_DEG) / ROUND_DEG)
    size = min(abs(wanted), cap)
    steps = [round(n * ROUND_DEG, 2) for n in range(int(size / ROUND_DEG + 1e-6), least - 1, -1)]
    broken = nearer
    for step in steps:
        to_deg = evidence.now.angle_deg + side * step
        broken = [
            one
            for one in nearer
            if chance_met(evidence.lines, one, to_deg + (side * SET_DEG if one in ground else 0.0))
            < (SURE_UNFLOWN if one in ground else SURE)
        ]
        if not broken:
            return side * step, []
    return 0.0, broken


def _contradicting(evidence: Evidence, limits: Sequence[Bound]) -> tuple[tuple[Limit, Run], ...]:
    """Return the two limits that want settings furthest apart: one wants it coarser than the other allows."""
    lines = evidence.lines

    def turns_at(bound: Bound) -> float:
        """Where the line meets the limit: the coarsest (least) or the finest (most) setting."""
        slope = lines.slope(bound.run)[0]
        found = []
        for kft in bound.kft:
            percent, _ = lines.at(bound.run, evidence.now.angle_deg, kft)
            found.append((_percent(bound.limit.rpm) - percent) / slope)
        return max(found) if bound.limit.side < 0 else min(found)

    finest = max((b for b in limits if b.limit.side < 0), key=turns_at, default=None)
    coarsest = min((b for b in limits if b.limit.side > 0), key=turns_at, default=None)
    return tuple((b.limit, b.run) for b in (coarsest, finest) if b is not None)


def _percent(rpm: float) -> float:
    return 100.0 * math.log(rpm)
