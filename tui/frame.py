"""Everything round the large number: where we are, alarms, levels, log, status, keys."""

from shared.events import REFERENCE, BladeId
from shared.view import AlarmView, LevelView, View
from tui.ink import Ink, Line, Span, apart, fit, line, wrapped
from tui.keys import offers
from tui.recall import Recall
from tui.sentences import clock, degrees
from tui.shown import ALIVE_S, Shown

OVER_WORDS = {
    "finished": "The job is finished.",
    "ended early": "The session was ended before the job was finished.",
    "abandoned, do not fly": "ABANDONED, DO NOT FLY.",
}


def _rounds(view: View) -> Line:
    done = view.rounds.index(view.stage) if view.stage in view.rounds else -1
    spans: list[Span] = []
    for index, name in enumerate(view.rounds):
        mark = "✓" if view.finished or index < done else ""
        here = index == done and not view.finished
        spans.append(Span(f"▶{name.upper()}" if here else f"{mark}{name}", "title"))
        spans.append(Span(" → ", "title"))
    return tuple(spans[:-1])


def title(view: View, width: int) -> Line:
    """Job at the left, the stages with the present one in capitals at the right."""
    return apart(
        line(Span(f" {view.job}", "title")), (*_rounds(view), Span(" ", "title")), width, "title"
    )


def heading(blade: BladeId | None, label: str) -> str:
    """Name the blade of the step: "BLADE 2  red"."""
    if blade is None:
        return ""
    if blade == REFERENCE:
        return "REFERENCE"
    return f"BLADE {blade}" + (f"  {label}" if label not in {"", str(blade)} else "")


def working(view: View, width: int) -> Line:
    """Blade, stage, placement; the target at the right where it may be seen."""
    parts = [Span(f" {heading(view.blade, view.label)}  ", "strong")] if view.blade else [Span(" ")]
    parts.append(Span(view.stage, "strong"))
    if view.placements:
        parts.append(Span(f"  placement {view.placement} of {view.placements}", "plain"))
    target = view.live.target_deg
    aim = f"target {degrees(target)} ± {degrees(view.tolerance_deg)} " if target is not None else ""
    return apart(line(*parts), line(Span(aim, "strong")), width)


def say(view: View, width: int, most: int) -> list[Line]:
    """What to do now."""
    return [line(" ", *row) for row in wrapped(view.say, width - 2, most, "strong")]


def then(view: View, width: int) -> list[Line]:
    """What comes after, smaller."""
    return wrapped(f" then: {view.next_say}", width, 1, "dim") if view.next_say else []


def _alarm_lines(alarm: AlarmView, width: int) -> list[Line]:
    name = heading(alarm.blade, alarm.label) or "ALARM"
    good = ""
    if alarm.last_good_deg is not None:
        good = f"last good {alarm.last_good_deg:.2f}° "
    head = line(Span(f" !! ALARM  {name}: {alarm.kind.upper()}", "alarm"))
    rows = [apart(head, line(Span(good, "alarm")), width, "alarm")]
    rows += [
        fit((Span("    ", "alarm"), *row), width, "alarm")
        for row in wrapped(alarm.say, width - 5, 2, "alarm")
    ]
    return rows


def banner(shown: Shown, width: int) -> list[Line]:
    """Open alarms, and an open question, over the full width; nothing dismisses itself."""
    rows: list[Line] = []
    view = shown.view
    alarms = view.alarms if view else ()
    if alarms:
        rows += _alarm_lines(alarms[0], width)
        more = f"   and {len(alarms) - 1} more" if len(alarms) > 1 else ""
        keys = f"    answer:  S = set again   C = accept, with name and reason{more}"
        rows.append(fit(line(Span(keys, "alarm")), width, "alarm"))
    if shown.recall.question and not shown.over:
        asked = shown.recall.question
        rows += [
            fit((Span(" ? ", "question"), *row), width, "question")
            for row in wrapped(asked.say, width - 4, 2, "question")
        ]
        keys = "   answer:  Y = looked, it is right   A = read again"
        rows.append(fit(line(Span(keys, "question")), width, "question"))
    return rows


def _level(level: LevelView, reasons: dict[str, str]) -> Line:
    if level.state == "down":
        why = reasons.get(level.name) or "link lost"
        return (Span(f"✗ {level.name} DOWN: {why}", "bad"),)
    if level.age_s is None:
        return (Span(f"… {level.name} waiting for its first sample", "warn"),)
    if level.state == "silent" or level.age_s > ALIVE_S:
        return (Span(f"✗ {level.name} SILENT no signal for {int(level.age_s)} s", "bad"),)
    if level.state == "stuck":
        return (Span(f"✗ {level.name} STUCK sends one number only", "bad"),)
    rate = f" {level.rate_hz:.0f} Hz" if level.rate_hz is not None else ""
    return (Span("● ", "good"), Span(f"{level.name} {level.state}{rate}", "plain"))


def _extras(level: LevelView) -> str:
    battery = f" battery {level.battery_percent:.0f} %" if level.battery_percent is not None else ""
    return battery + (f" refused {level.refused}" if level.refused else "")


def levels(shown: Shown, width: int) -> Line:
    """Health of every level in one line."""
    if shown.view is None:
        return ()
    spans: list[Span] = [Span(" ")]
    for level in shown.view.levels:
        spans += _level(level, shown.recall.reasons)
        low = level.battery_percent is not None and level.battery_percent <= 15
        spans += [Span(_extras(level), "warn" if low else "dim"), Span("   ")]
    return fit(line(*spans), width)


def cautions(recall: Recall, width: int, most: int) -> list[Line]:
    """Cautions of this step, newest last."""
    rows = [row for text in recall.cautions for row in wrapped(f" ⚠ {text}", width, 2, "caution")]
    return rows[:most]


def log(recall: Recall, width: int, rows: int) -> list[Line]:
    """The newest sentences, oldest of them first."""
    inks: dict[str, Ink] = {"alarm": "bad", "caution": "caution", "read": "plain"}
    lines: list[Line] = []
    for entry in recall.newest(rows):
        ink = inks.get(entry.mark, "dim")
        first, *rest = wrapped(f"{entry.at:>6} {entry.say}", width, 2, ink)
        lines += [first, *rest]
    return lines[-rows:] if rows > 0 else []


def status(shown: Shown, width: int) -> Line:
    """The answer to the last press, or how the session ended, or session time and cautions."""
    if shown.over:
        return fit(line(Span(f" {shown.over}", "status")), width, "status")
    if shown.status:
        ink: Ink = "status" if shown.status_kind == "good" else "question"
        return fit(line(Span(f" {shown.status}", ink)), width, ink)
    at = f"{clock(shown.view.t_ns)} " if shown.view else ""
    return apart((), line(Span(at, "dim")), width)


def footer(shown: Shown, width: int) -> Line:
    """The keys that do something now, most needed first; help and quit always."""
    tail = [("?", "help"), ("Q", "quit")]
    offered = offers(shown.view, question=shown.recall.question is not None)
    room = width - sum(len(key) + len(word) + 4 for key, word in tail)
    spans: list[Span] = []
    for key, word in [*offered, *tail]:
        need = len(key) + len(word) + 4
        if (key, word) not in tail:
            if need > room:
                continue
            room -= need
        spans += [Span(f" {key} ", "key"), Span(f" {word} ", "plain")]
    return fit(tuple(spans), width)
