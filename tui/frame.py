"""Everything round the large number: where we are, alarms, levels, log, status, keys."""

from collections.abc import Sequence

from shared.bolts import circle, marked
from shared.events import REFERENCE, BladeId, Summary
from shared.hands import KEYS
from shared.sentences import clock, degrees
from shared.view import AlarmView, LevelView, View
from tui.ink import Ink, Line, Span, apart, centred, fit, line, width_of, wrapped
from tui.keys import TURNED, offers
from tui.recall import Recall, round_of
from tui.shown import ALIVE_S, Shown, silence_words

BATTERY_LOW_PERCENT = 15.0
"""Shown as low from here; the level's own limit is in its profile, which a screen never sees."""
OVER_WORDS = {
    "finished": "The job is finished.",
    "ended early": "The session was ended before the job was finished.",
    "abandoned, do not fly": "ABANDONED, DO NOT FLY.",
}


def over_words(summary: Summary) -> str:
    """How the session ended: by its result; by its state where nothing was judged."""
    if summary.result in {None, "abandoned"}:
        return OVER_WORDS.get(summary.state, summary.state)
    return f"The record is closed: {summary.say}"


def _reached(view: View, recall: Recall) -> int:
    """Index of the first round that is not done yet; a stage between rounds counts on."""
    if view.finished:
        return len(view.rounds)
    here = round_of(view.stage, view.label)
    if here in view.rounds:
        return view.rounds.index(here)
    heard = [view.rounds.index(name) for name in recall.stages if name in view.rounds]
    return heard[-1] + 1 if heard else 0


def _rounds(view: View, reached: int, brief: bool) -> Line:
    spans: list[Span] = [Span("✓" * reached + " ", "title")] if brief and reached else []
    for index, name in enumerate(view.rounds):
        if index >= reached or not brief:
            here = index == reached and name == round_of(view.stage, view.label)
            mark = "✓" if index < reached else ""
            spans.append(Span(f"▶{name.upper()}" if here else f"{mark}{name}", "title"))
            spans.append(Span(" → ", "title"))
    return tuple(spans[:-1]) if len(spans) > 1 else tuple(spans)


def title(shown: Shown, view: View, width: int) -> Line:
    """Job at the left, the stages with the present one in capitals at the right."""
    name = line(Span(f" {view.job}", "title"))
    if view.stage == "watch":
        return fit(name, width, "title")
    reached = _reached(view, shown.recall)
    rounds = _rounds(view, reached, brief=False)
    if width_of(name) + width_of(rounds) + 4 > width:
        rounds = _rounds(view, reached, brief=True)
    return apart(name, (*rounds, Span(" ", "title")), width, "title")


def heading(blade: BladeId | None, label: str) -> str:
    """Name the blade of the step: "BLADE 2  red"; a label may repeat the number before it."""
    if blade is None:
        return ""
    if blade == REFERENCE:
        return "REFERENCE"
    own = label.removeprefix(f"blade {blade}").lstrip(", ")
    return f"BLADE {blade}" + (f"  {own}" if own not in {"", str(blade)} else "")


def working(view: View, width: int) -> Line:
    """Blade, stage, placement; the target at the right where it may be seen."""
    here = round_of(view.stage, view.label)
    parts = [Span(f" {heading(view.blade, view.label)}  ", "strong")] if view.blade else [Span(" ")]
    parts.append(Span(": ".join(dict.fromkeys([here, view.stage])), "strong"))
    if view.placements and view.blade:
        parts.append(Span(f"  placement {view.placement} of {view.placements}", "plain"))
    target = view.live.target_deg
    aim = f"target {degrees(target)} ± {degrees(view.tolerance_deg)} " if target is not None else ""
    return apart(line(*parts), line(Span(aim, "strong")), width)


def say(view: View, width: int, most: int) -> list[Line]:
    """What to do now."""
    return wrapped(view.say, width, most, "strong", lead=" ")


def then(view: View, width: int) -> list[Line]:
    """What comes after, smaller."""
    return wrapped(view.next_say.removeprefix("then "), width, 1, "dim", lead=" then: ")


def called(alarm: AlarmView, width: int, more: str = "") -> Line:
    """Name an alarm in a line: what happened is never cut; the mark gives way, then the word."""
    kind = f": {alarm.kind.upper()}{more}"
    marked_name = heading(alarm.blade, alarm.label)
    ways = (f" !! ALARM  {marked_name}", f" !! {marked_name}", f" !! {heading(alarm.blade, '')}")
    return line(Span(next((w for w in ways if len(w + kind) <= width), ways[-1]) + kind, "alarm"))


def _last_good(alarm: AlarmView) -> str:
    """Where it was before; of a blade that is out that is no good angle."""
    if alarm.last_good_deg is None or alarm.kind == "out":
        return ""
    return f"last good {alarm.last_good_deg:.2f}° "


def _alarm_lines(alarm: AlarmView, width: int) -> list[Line]:
    head, good = called(alarm, width), _last_good(alarm)
    beside = good if width_of(head) + len(good) < width else ""
    rows = [apart(head, line(Span(beside, "alarm")), width, "alarm")]
    return [*rows, *wrapped(alarm.say, width, 6, "alarm", lead="    ")]


def banner(shown: Shown, width: int) -> list[Line]:
    """Open alarms, and an open question, over the full width; nothing dismisses itself."""
    rows: list[Line] = []
    view = shown.view
    alarms = view.alarms if view else ()
    if alarms:
        rows += _alarm_lines(alarms[0], width)
        more = f"   and {len(alarms) - 1} more" if len(alarms) > 1 else ""
        swap = "" if alarms[0].partner is None else "G = give each its own   "
        again = "S = set again   " if alarms[0].settable else ""
        keys = f"    answer:  {swap}{again}C = accept"
        whole = ", with name and reason"
        keys += (whole if len(keys + whole + more) <= width else "") + more
        if shown.past:
            keys = more
        rows += [fit(line(Span(keys, "alarm")), width, "alarm")] if keys else []
    asked = view.question if view else None
    if asked and not shown.over:
        rows += wrapped(asked.say, width, 4, "question", lead=" ? ")
        keys = "   answer:  Y = looked, it is right   R = level turned end for end   or lift it"
        if asked.wants == "nose":
            keys = "   answer:  Y = looked, to say up or down   or lift it"
        rows += [] if shown.past else [fit(line(Span(keys, "question")), width, "question")]
    return rows


def bolts(view: View, width: int) -> list[Line]:
    """The bolt circle: at each bolt its turn, the next in brackets, those that are tight ticked."""
    found = view.bolts
    if found is None or view.stage != "tighten":
        return []
    marks = marked(found.order, found.done)
    marks[found.next - 1] = f"[{marks[found.next - 1]}]"
    drawn = circle(marks)
    wide = max(map(len, drawn))
    caption = f"the turn of each of the {found.group} bolts, bolt 1 at the top"
    return [
        *(centred(line(Span(row.ljust(wide), "strong")), width) for row in drawn),
        centred(line(Span(caption, "dim")), width),
    ]


def notices(view: View, width: int) -> list[Line]:
    """What is wrong with the recording: it stands as long as it is so."""
    return [row for say in view.notices for row in wrapped(say, width, 2, "alarm", lead=" ! ")]


def _trouble(level: LevelView, reasons: dict[str, str]) -> str:
    if level.state == "down":
        return f"DOWN: {reasons.get(level.name) or 'link lost'}"
    if level.unread:
        return "UNREADABLE bytes come that are no reading: its format, its speed?"
    if level.age_s is None:
        return "waiting for its first sample"
    if level.state == "silent" or level.age_s > ALIVE_S:
        return f"SILENT {silence_words(level.age_s)}"
    return "STUCK sends one number only" if level.state == "stuck" else ""


def _level(level: LevelView) -> Line:
    rate = f" {level.rate_hz:.0f} Hz" if level.rate_hz is not None else ""
    return (Span("● ", "good"), Span(f"{level.name} streaming{rate}", "plain"))


def _extras(level: LevelView) -> Line:
    low = level.battery_percent is not None and level.battery_percent <= BATTERY_LOW_PERCENT
    percent = level.battery_percent
    battery = f" battery {'LOW ' if low else ''}{percent:.0f} %" if percent is not None else ""
    refused = f" refused {level.refused}" if level.refused else ""
    return (Span(battery, "warn" if low else "dim"), Span(refused, "dim"))


def levels(shown: Shown, width: int, most: int) -> list[Line]:
    """Health of every level, the troubled ones first, on as many lines as it takes."""
    if shown.view is None or shown.over:
        return []
    found = [(level, _trouble(level, shown.recall.reasons)) for level in shown.view.levels]
    rows: list[Line] = []
    for level, trouble in found:  # whole, for the remedy stands at its end
        if trouble:
            rows += wrapped(f"{level.name} {trouble}", width, most, "bad", lead=" ✗ ")
    troubled = len(rows)
    most = max(most, troubled)
    for level in (level for level, trouble in found if not trouble):
        item = line(" ", *_level(level), *_extras(level), " ")
        if rows[troubled:] and width_of(rows[-1]) + width_of(item) <= width:
            rows[-1] = (*rows[-1], *item)
        else:
            rows.append(item)
    return [fit(row, width) for row in rows[:most]]


def cautions(recall: Recall, width: int) -> list[Line]:
    """Cautions of this step, whole, the newest last."""
    return [
        row for text in recall.cautions for row in wrapped(text, width, 9, "caution", lead=" ⚠ ")
    ]


def log(recall: Recall, width: int, rows: int) -> list[Line]:
    """The newest sentences, oldest of them first."""
    inks: dict[str, Ink] = {"alarm": "bad", "caution": "caution", "read": "plain"}
    lines: list[Line] = []
    for entry in reversed(recall.newest(rows)):
        ink, lead = inks.get(entry.mark, "dim"), f"{entry.at:>8} "
        room = min(2, rows - len(lines))
        lines = [*wrapped(entry.say, width, room, ink, lead=lead), *lines]
    return lines


def status(shown: Shown, width: int) -> list[Line]:
    """How the session ended, whole; or the answer to the last press, or session time."""
    if shown.over:
        return wrapped(shown.over, width, 4, "status", lead=" ")
    if shown.status:
        ink: Ink = "status" if shown.status_kind == "good" else "question"
        return [fit(line(Span(f" {shown.status}", ink)), width, ink)]
    at = f"{clock(shown.view.t_ns)} " if shown.view else ""
    return [apart((), line(Span(at, "dim")), width)]


def footer(shown: Shown, width: int) -> Line:
    """The keys that do something now, most needed first; help and quit always."""
    offered = [("SPACE", "leave")] if shown.over else offers(shown.view)
    if shown.played and not shown.over:
        offered = [(OVER if key == TURNED else key, word) for key, word in offered]
        first = [pair for pair in offered if {*pair[0].split()} & {*"SGCYR", "SPACE", OVER}]
        deeds = [] if shown.view is None else deeds_now(shown.view)
        offered = [*first, *deeds, *(pair for pair in offered if pair not in first)]
    return keys_line(offered, width)


OVER = KEYS["turn over"][1]
IN_HAND = (("L", "lay"), ("P", "prop"))
LIES = (("O", "off"), (", .", "turn"))
"""Keys of the hands where a demo is played, with the level in the hand and while it lies somewhere."""


def deeds_now(view: View) -> list[tuple[str, str]]:
    """The keys of the hands that do something now; all of the level's where nothing says where it is."""
    if view.finished:
        return []
    motion = view.live.motion
    deeds = [] if motion == "in hand" else [*LIES]
    deeds = deeds if motion in LYING else [*IN_HAND, *deeds]
    behind = any(
        row.blade not in {REFERENCE, view.blade} and row.state not in UNHELD for row in view.blades
    )
    return [*deeds, ("K", "knock")] if behind else deeds


LYING = frozenset({"moving", "creeping", "settling", "still", "ready"})
UNHELD = frozenset({"not set", "setting", "provisional"})


def keys_line(offered: Sequence[tuple[str, str]], width: int) -> Line:
    """Keys with their words, as many as there is room for, and always help and quit."""
    tail = [("?", "help"), ("Q", "quit")]
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
