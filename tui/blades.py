"""The blades: a full table where there is room, one short cell a blade where there is not."""

from collections.abc import Collection
from dataclasses import replace

from shared.events import REFERENCE, BladeId
from shared.inputs import NS
from shared.view import BladeView, View
from tui.ink import Ink, Line, Span, fit, line

STATES: dict[str, tuple[str, str, Ink]] = {
    "not set": ("·", "not set", "dim"),
    "setting": ("→", "setting", "plain"),
    "provisional": ("~", "provis.", "plain"),
    "held": ("■", "held", "strong"),
    "may have turned": ("?", "turned?", "warn"),
    "read elsewhere": ("?", "where?", "warn"),
    "place again": ("↻", "again", "warn"),
    "moved": ("✗", "MOVED", "bad"),
    "turned": ("✗", "TURNED", "bad"),
    "steady": ("✓", "steady", "good"),
    "accepted": ("✓", "accepted", "good"),
    "not known": ("?", "unknown", "warn"),
    "shifted": ("✗", "SHIFTED", "bad"),
}
"""Shape, short word and ink of a state; a state of a later version is shown as it is named."""


def state_of(blade: BladeView) -> tuple[str, str, Ink]:
    """Shape, short word and ink for a blade; an open alarm outranks everything."""
    shape, word, ink = STATES.get(blade.state, ("·", blade.state, "plain"))
    return ("!", word, "alarm") if blade.alarm else (shape, word, ink)


def number_of(blade: BladeView) -> str:
    """Return "REF" or the blade's number."""
    return "REF" if blade.blade == REFERENCE else str(blade.blade)


def label_of(blade: BladeView) -> str:
    """Return the person's own name for the blade, "" when it only repeats the number."""
    repeats = blade.label in {number_of(blade), f"blade {blade.blade}", REFERENCE}
    return "" if repeats else blade.label


def figure(value: float | None, signed: bool = False) -> str:
    """Two decimals, or a dash."""
    if value is None:
        return "—"
    value = round(value, 2) or 0.0  # of what rounds to nothing no side is told
    return f"{value:+.2f}" if signed and value else f"{value:.2f}"


COLUMNS = (("blade", 6), ("name", 13), ("state", 17))
FIGURES = (("angle", 7), ("± 95 %", 8), ("error", 8), ("change", 8), ("could hide", 12))
TOLERANCE_WIDTH = 17
LEAD = "    "
TABLE_WIDTH = len(LEAD) + sum(cells for _, cells in (*COLUMNS, *FIGURES)) + 2 + TOLERANCE_WIDTH


def _title(width: int) -> Line:
    names = "".join(name.ljust(cells) for name, cells in COLUMNS)
    figures = "".join(name.rjust(cells) for name, cells in FIGURES)
    return fit(line(Span(f"{LEAD}{names}{figures}  tolerance", "dim")), width)


def _figures(blade: BladeView) -> tuple[str, ...]:
    return (
        figure(blade.angle_deg),
        figure(blade.u95_deg),
        figure(blade.error_deg, signed=True),
        figure(blade.change_deg, signed=True),
        figure(blade.could_hide_deg),
    )


def age_words(view: View, blade: BladeView) -> str:
    """How long ago the reference was read: everything hangs on it, and levels drift.

    In whole minutes, so that the words stand still; "" for a blade, and in the first minute.
    """
    if blade.blade != REFERENCE or blade.read_ns is None:
        return ""
    minutes = (view.t_ns - blade.read_ns) // (60 * NS)
    return f"read {minutes} min ago" if minutes > 0 else ""


def _row(blade: BladeView, width: int, age: str = "") -> Line:
    shape, _, ink = state_of(blade)
    text: Ink = "strong" if blade.working else "plain"
    words = zip((number_of(blade), label_of(blade), blade.state), COLUMNS, strict=True)
    cells = [fit(line(Span(word, text)), cells - 1) for word, (_, cells) in words]
    cells[2] = fit(line(Span(blade.state, ink)), COLUMNS[2][1] - 1)
    figures = zip(_figures(blade), FIGURES, strict=True)
    return fit(
        line(
            Span("▶ " if blade.working else "  ", "strong"),
            Span(f"{shape} ", ink),
            *(span for cell in cells for span in (*cell, Span(" "))),
            *(Span(word.rjust(cells), text) for word, (_, cells) in figures),
            Span(f"  {blade.tolerance or age}", text),
        ),
        width,
    )


def spread_words(view: View) -> str:
    """The spread against what is allowed."""
    if view.spread_deg is None:
        return ""
    judged = f": {view.spread}" if view.spread else ""
    return f"spread {view.spread_deg:.2f}° of {view.spread_tolerance_deg:.2f}°{judged}"


def unspoilt(view: View) -> list[BladeView]:
    """The rows, without the last error of a blade that is being read with its target hidden."""
    hidden = view.live.target_deg is None and view.live.error_deg is None
    return [
        replace(blade, error_deg=None) if hidden and blade.working and not blade.alarm else blade
        for blade in view.blades
    ]


def of_one_reading(view: View, read_since: Collection[BladeId]) -> View:
    """Leave the change out where it is of an older reading than the angle beside it.

    read_since: the blades that were read since they were judged.
    """
    rows = (
        replace(row, change_deg=None, could_hide_deg=None) if row.blade in read_since else row
        for row in view.blades
    )
    return replace(view, blades=tuple(rows))


def table(view: View, width: int) -> list[Line]:
    """Head line, reference, blades, spread."""
    rows = [_row(blade, width, age_words(view, blade)) for blade in unspoilt(view)]
    spread = spread_words(view)
    last = [fit(line(Span(f"{LEAD}{spread}", "plain")), width)] if spread else []
    return [_title(width), *rows, *last]


def _cell(blade: BladeView, width: int, age: str) -> list[Line]:
    shape, word, ink = state_of(blade)
    pointer = "▶" if blade.working else " "
    angle = figure(blade.angle_deg)
    if width >= 15 and blade.error_deg is not None:
        angle += f" {figure(blade.error_deg, signed=True)}"
    if width >= 15 and age:
        angle += f" {age.removeprefix('read ').removesuffix(' ago')}"
    name = f"{pointer}{number_of(blade)} {label_of(blade)}"
    return [
        fit(line(Span(name, "strong" if blade.working else "plain")), width),
        fit(line(Span(f" {angle}", "strong")), width),
        fit(line(" ", Span(f"{shape} {word}", ink)), width),
    ]


def short(view: View, width: int) -> list[Line]:
    """Three lines: name, angle, state of the reference and every blade side by side."""
    if not view.blades:
        return []
    each = min(20, width // len(view.blades))
    cells = [_cell(blade, each - 1, age_words(view, blade)) for blade in unspoilt(view)]
    return [
        fit(tuple(span for cell in cells for span in (*cell[row], Span(" "))), width)
        for row in range(3)
    ]
