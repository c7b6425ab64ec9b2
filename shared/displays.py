"""What is largest on every face: one line, a second, a third, and a shape. Pure.

    moment          largest           second            third
    the end         ALL WITHIN        spread 0.09       of 0.20
                    BLADE 2 OUT       TOO COARSE        by 1.81, spread 0.90 of 0.20
                    SPREAD OUT, UNDECIDED, OPEN, DO NOT FLY
    no signal       NO SIGNAL         the level's name  for how long
                    UNREADABLE        the level's name  its format, its speed?
    hands           SNUG, TORQUE      HANDS OFF         blades
                    25.0 N·m          HUB BOLTS         pass 2 of 3
                    SLACKEN 2         its mark
    an alarm        BLADE 2           MOVED             0.39 FINER
                    BLADE 2 OUT       TOO COARSE        by 0.83
                    BLADES 1 2 3      OUT: SET AGAIN    farthest 3: 0.82 TOO COARSE
                    2 AND 3           READ SWAPPED      LOOK WHICH
                    SPREAD OUT        SET 2 AGAIN
                    BLADE 2           SET AGAIN         over: leave it
    a question      LAID RIGHT?       BLADE 2           shows -18.08
                    LOOK              AT BLADE 2
    a surprise      BLADE 1?          18.67 LIFT IT     was 21.03
    taken           the value taken   BLADE 2           LIFT IT
    to be proven    TURN IT OVER      AND BACK          if you hear it
    in a hand       PLACE IT          BLADE 2           its mark
    watching        WATCHING          level, what it is at   since when

Where a number is to be followed (setting, reading) there is no display: the number is the largest.
The largest line has at most `LONGEST` characters: a mark is cut, a number never.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, NamedTuple

from shared.events import REFERENCE, Asked, BladeId, Captured, Summary
from shared.inputs import NS
from shared.view import AlarmView, BladeView, BoltCircle, Question, View

LONGEST = 12
Tone = Literal["plain", "good", "warn", "bad"]
HANDS = {"prepare": "MAKE SAFE", "answer": "ANSWER"}
CALLED = {
    "moved": "MOVED",
    "turned": "TURNED",
    "not known": "NOT KNOWN",
    "exchanged": "READ SWAPPED",
    "shifted": "SHIFTED",
    "changed": "CHANGED",
    "creeping": "CREEPING",
    "level": "LOOK AT IT",
}
"""What an alarm says happened, by its kind."""
SIZED = frozenset({"moved", "turned", "shifted", "changed", "creeping"})
"""Alarms whose size is that of the change; that of one that is out is its error."""
OF_A_WATCH = frozenset({"changed", "creeping"})
"""Alarms that no round raises."""


SETTING = frozenset({"reference", "set", "baseline"})
"""Stages in which a blade is meant to be elsewhere than it was."""


@dataclass(frozen=True, slots=True)
class Display:
    """What to show. shape: a sign of its own for each tone and moment, "" for none.

    is_value: the largest line is an angle.
    """

    largest: str
    second: str = ""
    third: str = ""
    shape: str = ""
    tone: Tone = "plain"
    is_value: bool = False


class Heard(NamedTuple):
    """What a face remembers beside the view (`shared/remembered.py` folds it).

    taken: the newest reading that counts; summary: of a session that has ended; was_deg: where
    the blade of that reading was before the round; taken_back: since then one was withdrawn;
    asked: the newest question; watched_deg: by how much a watch saw each blade turn.
    """

    taken: Captured | None = None
    summary: Summary | None = None
    was_deg: float | None = None
    taken_back: bool = False
    asked: Asked | None = None
    watched_deg: Mapping[BladeId, float] = MappingProxyType({})


NOTHING = Heard()


def display(view: View, heard: Heard = NOTHING) -> Display | None:
    """Return what is largest now; None: the number that is followed."""
    return next((found for row in ROWS if (found := row(view, heard))), None)


def calling(view: View) -> AlarmView | None:
    """Return the alarm that is to be answered now: what is largest, and what a press answers.

    While the hands or a reading are asked for, an open alarm waits until that is done.
    """
    asked = view.press is not None and view.stage != "watch"
    return None if asked or not view.alarms else view.alarms[0]


def asking(view: View) -> Question | None:
    """Return the question that is to be answered now: none while an alarm calls or hands work."""
    return None if calling(view) is not None or view.press == "done" else view.question


def unreadable(view: View) -> bool:
    """Tell whether bytes come from the level that is followed, and none of them is a reading."""
    return next((level.unread for level in view.levels if level.role != "hub"), False)


def surprising(view: View, heard: Heard) -> bool:
    """Tell whether a blade was read again farther from where it was than its tolerance."""
    taken, was = heard.taken, heard.was_deg
    if not view.live.taken or taken is None or was is None or taken.stage in SETTING:
        return False
    return abs(taken.angle_deg - was) > max(view.tolerance_deg, 2.0 * taken.u95_deg)


def proving(view: View, heard: Heard) -> bool:
    """Tell whether whoever hears is asked to turn the level over: until something was read."""
    return view.turnover == "proof" and view.stage == "reference" and heard.taken is None


# --- rows, the first that fits ------------------------------------------------------------------


def _end(view: View, heard: Heard) -> Display | None:
    summary = heard.summary
    if summary is None and not view.finished:
        return None
    result = summary.result if summary else view.result
    spread = _spread(view)
    match result:
        case "within":
            return Display("ALL WITHIN", *spread, shape="✓", tone="good")
        case "out":
            return _out(view, spread)
        case "too close to say":
            return Display("UNDECIDED", "READ AGAIN?", _close(view, spread), "✗", "warn")
        case "open":
            return Display("OPEN", "DO NOT FLY", "unanswered, or not read", "✗", "bad")
        case "abandoned":
            return Display("DO NOT FLY", "ABANDONED", "", "✗", "bad")
    if summary is not None and summary.state == "abandoned, do not fly":
        return Display("DO NOT FLY", "ABANDONED", "", "✗", "bad")
    return Display("NOT JUDGED", "", "", "✗", "warn")


def _close(view: View, spread: tuple[str, str]) -> str:
    """What is too close to its limit to say."""
    close = [f"blade {row.blade}" for row in view.blades if row.tolerance == "too close to say"]
    return f"{' and '.join(close) if close else ' '.join(spread)}: not sure enough"


def _out(view: View, spread: tuple[str, str]) -> Display:
    out = [row for row in view.blades if row.tolerance == "out"]
    if not out:
        return Display("SPREAD OUT", *spread, shape="✗", tone="bad")
    worst = max(out, key=lambda row: abs(row.error_deg or 0.0))
    which_way, by = _off(worst.error_deg)
    more = [f"and {len(out) - 1} more"] if len(out) > 1 else []
    told = ", ".join(part for part in (by, *more, " ".join(spread).strip()) if part)
    return Display(f"BLADE {worst.blade} OUT", which_way, told, "✗", "bad")


def _spread(view: View) -> tuple[str, str]:
    if view.spread_deg is None:
        return "", ""
    return f"spread {view.spread_deg:.2f}", f"of {view.spread_tolerance_deg:.2f}"


def _hands(view: View, _: Heard) -> Display | None:
    if view.press != "done" or view.stage == "watch":
        return None
    if view.stage == "slacken":
        return Display(f"SLACKEN {view.blade}", _mark(view.label), "hands off the others")
    if view.stage == "wrench" and view.bolts is not None:
        return Display(view.bolts.dial, "TWO PERSONS", "read the wrench")
    if view.stage == "check off":
        return Display("CHECK OFF", f"{view.placement} of {view.placements}", view.label)
    if view.stage == "tighten" and view.bolts is not None:
        return _bolts(view, view.bolts)
    if view.stage == "tighten":
        return Display(view.label.upper()[:LONGEST], "HANDS OFF", "the blades")
    return Display(HANDS.get(view.stage, view.stage.upper())[:LONGEST])


def _bolts(view: View, bolts: BoltCircle) -> Display:
    """The torque, on which bolts, in which pass: what the wrench is set to is the larger where it differs."""
    which = f"{bolts.group} bolt {bolts.next}" if bolts.each else f"{bolts.group} bolts"
    pulls = f"{'' if bolts.each else 'pass '}{view.placement} of {view.placements}"
    many = pulls if view.placements > 1 else "hands off the blades"
    return Display((bolts.dial or bolts.torque)[:LONGEST], which.upper(), many)


def _alarm(view: View, heard: Heard) -> Display | None:
    alarm = calling(view)
    if alarm is None:
        return None
    if view.turnover == "leave":
        return _set_again(alarm)
    row = _row(view, alarm.blade)
    called, more = CALLED.get(alarm.kind, alarm.kind.upper()), ""
    if alarm.kind == "out":
        if row is None or row.tolerance != "out":
            names = _several(alarm.blades).removeprefix("BLADES ")
            return Display("SPREAD OUT", f"SET {names} AGAIN", "", "‼", "bad")
        which_way, by = _off(row.error_deg)
        if len(alarm.blades) > 1:
            worst = f"farthest {alarm.blade}: {by.removeprefix('by ')} {which_way}"
            return Display(_several(alarm.blades), "OUT: SET AGAIN", worst, "‼", "bad")
        return Display(f"{_of(alarm)} OUT", which_way, by, "‼", "bad")
    if alarm.kind in SIZED:
        judged = row.change_deg if row is not None and alarm.kind not in OF_A_WATCH else None
        more = _size(heard.watched_deg.get(alarm.blade) if judged is None else judged)
    elif alarm.kind == "exchanged":
        more = "LOOK WHICH"
    return Display(_of(alarm), called, more, "‼", "bad")


def _set_again(alarm: AlarmView) -> Display:
    """It was answered by turning the level over, and can be left for a moment."""
    blades = alarm.blades or (alarm.blade,)
    named = _several(blades) if len(blades) > 1 else _member(blades[0])
    return Display(named, "SET AGAIN", "over: leave it", "‼", "warn")


def _of(alarm: AlarmView) -> str:
    if alarm.kind == "level":
        return "LEVEL"
    if alarm.partner is not None:
        return f"{alarm.blade} AND {alarm.partner}"
    return _member(alarm.blade)


def _question(view: View, heard: Heard) -> Display | None:
    question = asking(view)
    if question is None or view.live.angle_deg is None:
        return None
    if shows := _asked_of(heard.asked, question):
        return Display("LAID RIGHT?", _member(question.blade), shows, "‼", "warn")
    name = "AT IT" if question.blade is None else f"AT {_member(question.blade)}"
    return Display("LOOK", name, "", "‼", "warn")


def _asked_of(asked: Asked | None, question: Question) -> str:
    """The number that the question is about, which the level itself shows: not yet a blade angle."""
    if asked is None or asked.id != question.id or asked.reading_deg == 0.0 or asked.wants:
        return ""  # of a witness there is none, and which way the nose points is asked of no number
    return f"shows {asked.reading_deg:.2f}"


def _silent(view: View, _: Heard) -> Display | None:
    if view.live.angle_deg is not None:
        return None
    names = [level.name for level in view.levels if level.role != "hub"]
    if unreadable(view):
        return Display("UNREADABLE", names[0], "its format, its speed?", "✗", "bad")
    how_long = view.live.words.removeprefix("no signal").strip()
    return Display("NO SIGNAL", names[0] if names else "", how_long, "✗", "bad")


def _surprise(view: View, heard: Heard) -> Display | None:
    """Said at once, while the level still lies there."""
    taken, was = heard.taken, heard.was_deg
    if taken is None or was is None or not surprising(view, heard):
        return None
    name = f"{_member(taken.blade)}?"
    return Display(name, f"{taken.angle_deg:.2f} LIFT IT", f"was {was:.2f}", "‼", "warn")


def _taken(view: View, heard: Heard) -> Display | None:
    """The value taken stays, with its blade, until the level is lifted."""
    taken = heard.taken
    if not view.live.taken or taken is None:
        return None
    return Display(
        f"{taken.angle_deg:.2f}", _member(taken.blade), "LIFT IT", "✓", "good", is_value=True
    )


def _proof(view: View, heard: Heard) -> Display | None:
    if view.live.motion != "in hand" or not proving(view, heard):
        return None
    return Display("TURN IT OVER", "AND BACK", "if you hear it")


def _in_hand(view: View, _: Heard) -> Display | None:
    if view.live.motion != "in hand" or view.blade is None or view.press is None:
        return None
    return Display("PLACE IT", _member(view.blade), _mark(view.label))


def _watching(view: View, _: Heard) -> Display | None:
    if view.stage != "watch":
        return None
    minutes = (view.t_ns - view.step_ns) // (60 * NS)
    since = f"for {minutes} min" if minutes else "since just now"
    return Display("WATCHING", view.live.words, since)


ROWS: Sequence[Callable[[View, Heard], Display | None]] = (
    _end,
    _hands,
    _alarm,
    _silent,
    _question,
    _watching,
    _surprise,
    _taken,
    _proof,
    _in_hand,
)
"""The table above, the first that fits; what is worse comes first."""


# --- parts -----------------------------------------------------------------------------------------


def _several(blades: Sequence[BladeId]) -> str:
    """Name blades, without a comma, which from afar is a point; how many, where they are too many."""
    names = [str(blade) for blade in blades]
    named = " AND ".join(names) if len(names) == 2 else f"BLADES {' '.join(names)}"
    return named if len(named) <= LONGEST else f"{len(names)} BLADES"


def _member(blade: BladeId | None) -> str:
    if blade is None:
        return "BLADE ?"
    return "REFERENCE" if blade == REFERENCE else f"BLADE {blade}"


def _mark(label: str) -> str:
    return "" if label.isdecimal() or label == "reference" else label[:LONGEST].upper()


def _row(view: View, blade: BladeId) -> BladeView | None:
    return next((row for row in view.blades if row.blade == blade), None)


def _size(deg: float | None) -> str:
    if deg is None:
        return ""
    return f"{abs(deg):.2f} {'COARSER' if deg > 0 else 'FINER'}"


def _off(deg: float | None) -> tuple[str, str]:
    """How far off its angle: not to be taken for which way it moved, nor for which way to turn it."""
    if deg is None:
        return "", ""
    return f"TOO {'COARSE' if deg > 0 else 'FINE'}", f"by {abs(deg):.2f}"
