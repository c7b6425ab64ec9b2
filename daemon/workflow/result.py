"""The result: what the job came to, by tolerance and spread.

The movement of a blade is another matter (`daemon.workflow.judging`); accepting it changes
nothing here.

    result            where                                                       worst first
    abandoned         a person ended the job: do not fly
    open              an alarm or a question is unanswered, the plan is not done, a blade was
                      not read since tightening or since it may have moved, or is "not known"
    out               a blade is out of tolerance, or the blades out of spread
    too close to say  a guard band leaves it open
    within            all of them are in, each with its guard band
"""

from typing import Any

from daemon.measure.angle.verdict import Judgement, SetVerdict
from daemon.measure.angle.verdict import judge_set as judge_angles
from daemon.workflow import words
from daemon.workflow.case import Case
from shared.angles import stated
from shared.events import JobResult, Judged

UNREAD: dict[str, str] = {
    "not set": "{} is not set",
    "provisional": "{} is not held yet",
    "may have turned": "{} was not read since the bolts were tightened",
    "place again": "{} is to be placed again",
    "not known": "whether {} moved is not known",
}
"""States of a member that leave the result open, in words."""
NOTHING_HELD = frozenset({"not set", "provisional"})
"""Of these: what every blade is where nothing is set."""
RESULTS: dict[Judgement | None, JobResult] = {
    "in": "within",
    "too close to say": "too close to say",
    "out": "out",
    None: "open",
}


def judge_set(case: Case) -> SetVerdict:
    """Hold the newest angle of every blade against the limits of the job.

    While nothing is tight the aim takes the target's place; of what is over, the target judges.
    """
    target, angles = case.job.target, list(case.members.newest_angles().values())
    over = case.progress.over in {"finished", "abandoned"}
    aim = target.angle_deg if over else case.aim_deg
    return judge_angles(angles, aim, target.tolerance_deg, target.spread_deg)


def result(case: Case, verdict: SetVerdict) -> JobResult | None:
    """Return what the job came to; None where it only watched, and nothing is open."""
    if case.progress.over == "abandoned":
        return "abandoned"
    if still_open(case):
        return "open"
    return None if case.progress.watch_only else RESULTS[verdict.together]


def still_open(case: Case) -> list[str]:
    """Return in words what keeps the result open; empty: nothing does."""
    asked = case.takings.question()
    reasons = [f"{case.name(a.blade)}: the alarm '{a.kind}' is unanswered" for a in case.alarms]
    reasons += [f"a question is unanswered: {asked.say}"] if asked else []
    if case.progress.watch_only:
        return reasons
    reasons += [_unread(case)] if case.step.stage not in {"finished", "answer"} else []
    reasons += [
        UNREAD[member.state].format(case.name(member.blade))
        for member in case.members
        if member.state in UNREAD and not (case.progress.read_only and member.state in NOTHING_HELD)
    ]
    return reasons + [
        f"{case.name(blade)} was not read since it may have moved"
        for blade in case.members.numbers()
        if case.may_have_moved(blade)
    ]


def _unread(case: Case) -> str:
    done = f" (it stood at '{case.step.stage}')" if case.step.stage else ""
    return f"the plan was not done to its end{done}"


def in_words(case: Case, verdict: SetVerdict, found: JobResult | None) -> str:
    """Return the result in one sentence; "" where nothing was judged."""
    match found:
        case None:
            return ""
        case "abandoned":
            return "abandoned: do not fly"
        case "open":
            return f"OPEN: {'; '.join(still_open(case))}; {_figures(case, verdict)}"
        case "within":
            return f"within: {_figures(case, verdict)}"
        case _:
            return f"{found.upper()}: {_figures(case, verdict)}"


def _figures(case: Case, verdict: SetVerdict) -> str:
    """Return the blades that are not in, and the spread, each with its limit."""
    parts = [
        _blade(case, blade, judgement)
        for blade, judgement in zip(case.members.numbers(), verdict.blades, strict=True)
        if judgement != "in"
    ]
    if verdict.spread_deg is None or verdict.spread_u95_deg is None:
        return "; ".join([*parts, "no spread without them"])
    said = "spread" if verdict.spread == "in" else f"spread {verdict.spread}:"
    limit = case.job.target.spread_deg
    spread = f"{said} {verdict.spread_deg:.2f} ± {verdict.spread_u95_deg:.2f} of {limit:.2f}"
    unproven = case.header.unproven
    zero = [words.was_unproven(case.job, unproven)] if unproven else []
    return "; ".join([*parts, spread, *zero])


def _blade(case: Case, blade: int, judgement: Judgement | None) -> str:
    angle, target = case.members.newest_angle(blade), case.job.target
    if angle is None:
        return f"{case.name(blade)} not read"
    off = words.off(angle.angle_deg - case.aim_deg)
    return (
        f"{case.name(blade)} {judgement}: {off} ± {angle.budget.u95_deg:.2f} "
        f"of {target.tolerance_deg:.2f}"
    )


def blade_row(case: Case, blade: int, judgement: Judgement | None) -> dict[str, Any]:
    """Return what is told of one blade: its angle and its own verdict."""
    angle = case.members.newest_angle(blade)
    return {
        "blade": blade,
        "label": case.job.propeller.label(blade),
        "angle_deg": None if angle is None else stated(angle.angle_deg),
        "u95_deg": None if angle is None else stated(angle.budget.u95_deg),
        "tolerance": judgement,
    }


def say_round(case: Case, stage: str) -> None:
    """Say where blades and spread stand after a round, or as everything was found."""
    verdict, aim = judge_set(case), case.aim_deg
    rows = [
        blade_row(case, blade, judgement)
        for blade, judgement in zip(case.members.numbers(), verdict.blades, strict=True)
    ]
    for row in rows:
        angle = row["angle_deg"]
        row["error_deg"] = None if angle is None else stated(angle - aim)
    case.say(
        Judged(
            stage=stage,
            blades=rows,
            spread_deg=or_none(verdict.spread_deg),
            spread_u95_deg=or_none(verdict.spread_u95_deg),
            spread=verdict.spread,
            together=verdict.together,
            say=_round_in_words(case, verdict, stage),
        )
    )


def _round_in_words(case: Case, verdict: SetVerdict, stage: str) -> str:
    """Return who is not in, without by how much: the next round is read without knowing that."""
    after = words.after(case.job, stage)
    judged = [
        *zip(map(case.name, case.members.numbers()), verdict.blades, strict=True),
        ("the spread", verdict.spread),
    ]
    parts = [f"{name} {one or 'not known'}" for name, one in judged if one != "in"]
    return f"{after}: {'; '.join(parts) or 'every blade in tolerance, and the spread in'}"


def or_none(value: float | None) -> float | None:
    """Return a number as it is stated; None stays."""
    return None if value is None else stated(value)
