"""Trial flights in sentences: points, limits, slopes, and the next step with what it rests on. Pure."""

from collections.abc import Iterator

from daemon.trial.advice import Advice, advise
from daemon.trial.conflicts import Conflict, explained
from daemon.trial.evidence import SLOPES, weighed
from daemon.trial.line import own_slope
from daemon.trial.margins import Verdict
from daemon.trial.points import RUNS, Limit, Point, Run, Trial

RUN_NAMES: dict[Run, str] = {
    "static": "static, tied down",
    "climb": "climb",
    "level": "level, full throttle",
}
CAUTION = (
    "This is arithmetic on your own points; the manuals of engine, propeller and aircraft and local rules come first. "
    "Small steps; a tied-down run before flight; bolts checked after the first flight. It signs nothing off."
)
DANGERS = {
    "overspeeds": "DANGER: as it is set it turns faster than a limit allows.",
    "may overspeed": "DANGER: as it is set it may turn faster than a limit allows.",
    "no static rpm": "DANGER: as it is set it does not turn its least static rpm; do not take off.",
    "overspeeds in a dive": "DANGER: as it is set, full throttle at the never-exceed speed turns more than the redline.",
}
ASK = (
    "Ask who made the propeller how many percent level flight at full throttle turns above the static run on this "
    "aircraft, and enter it as manual.level_above_static_percent; or add a point of an earlier flight with this propeller."
)
VIBRATION = (
    "a vibration was felt (point {}): that is a question of the spread between blades, of balance and track, never "
    "of the pitch; look at the spread first"
)


def told(trial: Trial) -> Iterator[str]:
    """Yield the points, the newest last, each with what its limits say of it."""
    advice = advise(trial)
    for number, point in enumerate(trial.point, 1):
        yield _point(number, point)
        yield from (
            f"  {_run(point, run)}: {rpm:.0f} rpm" for run in RUNS if (rpm := point.rpm(run))
        )
        if point.withdrawn:
            yield f"  does not count: {point.withdrawn}"
    yield from map(_verdict, advice.verdicts)
    yield from map(_unlimited, advice.missing)
    yield from _slopes(trial)


def _run(point: Point, run: Run) -> str:
    if run == "level" and point.level_throttle == "part":
        return "level, throttle opened to a limit, so more at full throttle"
    return RUN_NAMES[run]


def _point(number: int, point: Point) -> str:
    air = 1000.0 * point.air_kft("level")
    check = f"checked by {point.checked_by}" if point.checked_by else "not checked"
    wind = "" if point.wind_kt is None else f", wind {point.wind_kt:g} kt"
    return (
        f"point {number}, {point.flown}: {point.angle_deg:.2f}° ± {point.u95_deg:.2f} measured ({point.session}), "
        f"density altitude {air:.0f} ft{wind}, read on {point.read_on} ({check})"
    )


def _unlimited(words: str) -> str:
    return f"not entered: {words}"


def _verdict(one: Verdict) -> str:
    side = "at least" if one.limit.side > 0 else "at most"
    return (
        f"{one.limit.name} ({side} {one.limit.rpm:.0f} rpm, {one.limit.manual}{_time(one.limit)}), {one.run}: "
        f"{one.judgement}, margin {one.margin_rpm:+.0f} ± {one.u95_rpm:.0f} rpm"
    )


def _time(limit: Limit) -> str:
    return f", {limit.minutes:g} min at a time" if limit.minutes else ""


def _slopes(trial: Trial) -> Iterator[str]:
    evidence = weighed(trial, trial.counting)
    if evidence.fitted is None:
        return
    for run in evidence.runs:
        mean, sd = SLOPES[run]
        slope, u95 = evidence.fitted.slope(run)
        own = own_slope(evidence.readings, run)
        alone = f"{own[0]:+.1f} ± {own[1]:.1f}" if own else "none yet, one setting only"
        yield (
            f"{run}: {slope:+.1f} ± {u95:.1f} % of rpm a degree (believed before any point {mean:+.1f} ± "
            f"{1.96 * sd:.1f}; your points alone {alone})"
        )


def advised(trial: Trial, advice: Advice) -> Iterator[str]:
    """Yield the next step: dangers first, then what is advised, then what it rests on."""
    yield from (DANGERS[one] for one in advice.dangers)
    yield from _answer(advice)
    if advice.kind == "forbidden":
        yield from map(_unlimited, advice.missing)
    yield from (_conflict(one, trial) for one in advice.conflicts)
    if advice.vibrating:
        yield VIBRATION.format(", ".join(map(str, advice.vibrating)))
    if advice.kind in {"step", "angle", "stay"}:
        yield from (_unflown(limit, run) for limit, run in advice.unflown)
    yield from map(_verdict, advice.verdicts)
    yield CAUTION


def _unflown(limit: Limit, run: Run) -> str:
    """Say that of this limit a step knows only what is believed."""
    slowly = "; open the throttle only as far as it allows" if limit.side < 0 else ""
    return f"not flown yet, so only believed: {limit.name} in {run}{slowly}"


def _believed(advice: Advice) -> Iterator[str]:
    """Say what an answer rests on where a run that stands against it was never flown, and what would say more."""
    runs = dict.fromkeys(one[1] for one in advice.against if one in advice.unflown)
    if runs:
        yield f"Nobody has flown {' and '.join(runs)} yet, and as it is set nobody may: that rests on what is believed before."
        yield ASK


def _answer(advice: Advice) -> Iterator[str]:
    against = " and ".join(f"{limit.name} ({run})" for limit, run in advice.against)
    match advice.kind:
        case "forbidden":
            yield "Nothing is advised: a manual forbids this change, or nobody has entered that every manual allows it (manual.may_change)."
        case "limits missing":
            yield f"Nothing is advised: the manuals' limits are not entered: {'; '.join(advice.missing)}."
        case "no points":
            yield "Nothing is advised: there is no point that counts."
        case "points contradict":
            yield "Nothing is advised: points contradict each other."
        case "no setting":
            yield f"Nothing is advised: no setting meets every limit; these contradict: {against}. Ask who made engine and propeller."
            yield from _believed(advice)
        case "hold":
            yield f"No step: one might break {against}. Another point at this setting, or a checked instrument, would say more."
            yield from _believed(advice)
        case "fly first":
            yield f"No step yet: fly it as it is set first, for {against}; open the throttle only as far as every limit allows."
        case "stay":
            yield f"Leave it at {advice.to_deg:.2f}°." + _range(advice)
        case "step" | "angle":
            yield from _step(advice)


def _step(advice: Advice) -> Iterator[str]:
    way = "coarser" if advice.step_deg > 0 else "finer"
    what = "Proposed" if advice.kind == "angle" else "One small step"
    line = f"{what}: {abs(advice.step_deg):.2f}° {way}, to {advice.to_deg:.2f}°."
    yield line + (_range(advice) if advice.kind == "angle" else "")
    if advice.open_:
        still = "; ".join(f"{limit.name} ({run})" for limit, run in advice.open_)
        yield f"Not sure to be met after it: {still}. Tied-down run first; no flight while a static limit is not met."


def _range(advice: Advice) -> str:
    ahead = advice.forecast
    if ahead is None or ahead.best_deg is None or ahead.low_deg is None or ahead.high_deg is None:
        return ""
    return f" The middle of what is allowed lies at {ahead.best_deg:.2f}°, 90 % range {ahead.low_deg:.2f} to {ahead.high_deg:.2f}°."


def _conflict(one: Conflict, trial: Trial) -> str:
    if one.kind == "entered twice":
        return f"point {one.point} is point {one.other} entered twice; it does not count"
    if one.kind != "off the others":
        return f"point {one.point} is of {one.kind}; it does not count"
    other = f" (or point {one.other})" if one.other else ""
    why = "; ".join(explained(one, trial.counting))
    return f"point {one.point}{other} is {one.percent:+.1f} % off the others. It could be: {why}"
