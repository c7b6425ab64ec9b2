"""Where the uncertainty of one angle comes from, as lines: a table with a bar a cause. Pure."""

import math
from collections.abc import Sequence
from typing import Literal

from shared.events import REFERENCE, BladeId
from shared.sentences import degrees
from shared.view import BladeView, BudgetLine, View
from tui.blades import label_of, unspoilt
from tui.frame import called, heading
from tui.ink import BLANK, Ink, Line, Span, apart, fit, line, width_of, wrapped
from tui.recall import Recall

CAUSES = {
    "averaging": "noise while it lay still",
    "resolution": "smallest step of the level",
    "seating": "how the level seats",
    "skew": "level askew to the chord",
    "station": "place along the blade",
    "zero": "zero of the level",
    "reference": "tilt of the shaft",
    "gain": "scale of the level",
    "cross-axis": "level tipped sideways",
    "temperature": "warmth of the level",
    "psi": "blade not quite horizontal",
    "face": "slope of the face read",
    "play": "play of the blade",
    "wobble": "wobble of the reference",
    "lift": "blade turned by lifting",
    "disagreement": "placements that disagree",
    "sway": "sway of the aircraft",
    "scatter": "blades unlike themselves",
    "carried over": "as the session before left",
}
"""Causes in trade words; one of a later version is shown as it is named."""
CAUSE_WIDTH = 28
OTHERS = "all that is smaller"
MOST = 22
"""Rows of the whole overlay inside its border on a terminal of 24 rows."""
VERDICTS: dict[str, tuple[str, Ink]] = {
    "in": ("= within", "good"),
    "out": ("✗ out of", "bad"),
    "too close to say": ("? too close to say, for", "warn"),
}


def blade_in_sight(view: View, recall: Recall) -> BladeId:
    """The blade of the step, or of the alarm, or the newest read; before that the reference."""
    if view.blade is not None:
        return view.blade
    if view.alarms:
        return view.alarms[0].blade
    return next((r.blade for r in reversed(recall.readings) if r.blade is not None), REFERENCE)


def bar(share: float, width: int) -> str:
    """A bar of `width` cells at a share of 1, to half a cell."""
    halves = round(2 * width * max(0.0, min(1.0, share)))
    return "█" * (halves // 2) + "▌" * (halves % 2)


def percent(share: float) -> str:
    """A share in whole percent; what is there and rounds to nothing is "<1 %"."""
    return "<1 %" if 0.0 < share < 0.005 else f"{100 * share:.0f} %"


def shortened(budget: Sequence[BudgetLine], rows: int) -> list[BudgetLine]:
    """At most `rows` lines: the smallest are put together by root sum of squares."""
    if len(budget) <= rows:
        return list(budget)
    kept, rest = budget[: max(0, rows - 1)], budget[max(0, rows - 1) :]
    together = math.sqrt(math.fsum(one.u_deg**2 for one in rest))
    same = all(one.common for one in rest)
    kind: Literal["A", "B"] = "A" if all(one.kind == "A" for one in rest) else "B"
    return [*kept, BudgetLine(OTHERS, together, kind, same)]


def _name(view: View, blade: BladeView, width: int) -> Line:
    name = Span(f"{heading(blade.blade, label_of(blade))}  ", "strong")
    order = [one.blade for one in view.blades]
    place = f"{order.index(blade.blade) + 1} of {len(order)}"
    return apart(line(name, Span("uncertainty budget")), line(Span(place, "dim")), width)


def _verdict(view: View, blade: BladeView) -> Line:
    if blade.blade == REFERENCE:
        return line(Span("no tolerance: blades are read from it", "plain"))
    words, ink = VERDICTS.get(blade.tolerance, (blade.tolerance, "plain"))
    error = "" if blade.error_deg is None else f"error {blade.error_deg:+.2f}°  "
    tolerance = f" ±{degrees(view.tolerance_deg)}" if words else ""
    return line(Span(error, "strong"), Span(f"{words}{tolerance}", ink))


def _angle(view: View, blade: BladeView) -> Line:
    if blade.angle_deg is None or blade.u95_deg is None:
        return ()
    angle = f"{degrees(blade.angle_deg)} ± {degrees(blade.u95_deg)} (95 %)   "
    return (*line(Span(angle, "strong")), *_verdict(view, blade))


def _head(width: int) -> Line:
    words = f"{'it comes from':{CAUSE_WIDTH}}     type       u  share of the variance"
    return fit(line(Span(words, "dim")), width)


def _cause(one: BudgetLine, variance: float, width: int) -> Line:
    share = one.u_deg**2 / variance if variance > 0.0 else 0.0
    name = fit(line(Span(CAUSES.get(one.name, one.name))), CAUSE_WIDTH)
    shared = "all" if one.common else ""
    figures = line(
        Span(f" {shared:3} ", "dim"),
        Span(f" {' ' if one.name == OTHERS else one.kind}  ", "dim"),
        Span(f" {one.u_deg:6.3f}°", "strong"),
        Span(f"  {percent(share):>5} "),
    )
    room = width - CAUSE_WIDTH - 25
    return fit((*name, *figures, Span(bar(share, room), "plain")), width)


def _causes(blade: BladeView, width: int, rows: int) -> list[Line]:
    variance = math.fsum(one.u_deg**2 for one in blade.budget)
    causes = [_cause(one, variance, width) for one in shortened(blade.budget, rows)]
    total = f"{'together':{CAUSE_WIDTH}}          {math.sqrt(variance):6.3f}°"
    return [_head(width), *causes, fit(line(Span(total, "strong")), width)]


def _settles(blade: BladeView, width: int) -> list[Line]:
    if not blade.settles:
        return []
    return wrapped(f"Too close to say. Settled fastest: {blade.settles}.", width, 3, "warn")


def _unread(view: View, blade: BladeView, width: int) -> list[Line]:
    name = heading(blade.blade, label_of(blade)).capitalize()
    words = f"{name} has not been read yet: there is no angle, and no budget of one."
    return [_name(view, blade, width), *wrapped(words, width, 2, "strong")]


def calls(view: View, width: int, *, answered_here: bool = False) -> list[Line]:
    """What must not be missed behind an overlay: open alarms, an open question.

    answered_here: that overlay is the answer, or there is none to give; nobody is told to leave it first.
    """
    rows: list[Line] = []
    if view.alarms:
        more = f" and {len(view.alarms) - 1} more" if len(view.alarms) > 1 else ""
        words = called(view.alarms[0], width, more)
        key = "" if answered_here else "ESC, then answer it "
        beside = len(key) if width_of(words) + len(key) < width else 0
        rows.append(apart(words, line(Span(key[:beside], "alarm")), width, "alarm"))
    if view.question is not None:
        text = " ? a question is open" + ("" if answered_here else ": ESC, then answer it")
        rows.append(fit(line(Span(text, "question")), width, "question"))
    return rows


LEGEND = (
    "A: from the readings. B: known beforehand. all: the same in all blades, so no part of "
    "the differences between them."
)


def budget_lines(
    view: View, blade: BladeId, width: int, most: int = MOST, *, past: bool = False
) -> list[Line]:
    """Return the overlay's lines, each `width` cells, about `blade`; at most `most` of them.

    The largest causes stay when there is not room for all. past: there is nothing to answer.
    """
    urgent = calls(view, width, answered_here=past)
    row = next((one for one in unspoilt(view) if one.blade == blade), None)
    if row is None:
        return urgent
    if not row.budget:
        return [*urgent, *_unread(view, row, width)]
    top = [_name(view, row, width), fit(_angle(view, row), width)]
    below = [*_settles(row, width), *wrapped(LEGEND, width, 2, "dim")]
    room = most - len(urgent) - len(top) - len(below) - 2
    causes = _causes(row, width, max(1, room))
    spare = most - len(urgent) - len(top) - len(below) - len(causes)
    gap = [BLANK] if spare > 1 else []
    return [*urgent, *top, *gap, *causes, *gap, *below]
