"""The whole screen as lines: which panels stand where at which size.

The largest always gets its rows; panels beside it go, least needed first, until it has them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shared.displays import display
from shared.doing import doing_now
from shared.view import View
from tui import blades, frame
from tui.hero import hero, rows_wanted
from tui.ink import Line, Span, centred, fit, line, wrapped
from tui.shown import Shown, aged

LAST_ROWS = 2
ROOMY_WIDTH = 100
ROOMY_HEIGHT = 30
TALL = 45
"""Rows from which the log has more lines."""
LOW = 18
"""Rows below which where to stand gives way to the largest from the first: a window beside others."""


@dataclass(frozen=True, slots=True)
class Panel:
    """Lines with a need: the higher the number, the sooner they give way; 0: never."""

    lines: Sequence[Line]
    spare: int
    below: bool


@dataclass(frozen=True, slots=True)
class Concession:
    """What is given up for the largest: panels from `spare` on, the table, lines of the step.

    least: the largest makes do with the rows in which it is just legible.
    """

    spare: int
    table: bool
    say_rows: int
    least: bool


CONCESSIONS = (
    Concession(9, table=True, say_rows=6, least=False),
    Concession(7, table=True, say_rows=6, least=False),
    Concession(7, table=False, say_rows=6, least=False),
    Concession(5, table=False, say_rows=6, least=False),
    Concession(4, table=False, say_rows=4, least=False),
    Concession(3, table=False, say_rows=6, least=True),
    Concession(2, table=False, say_rows=6, least=True),
    Concession(1, table=False, say_rows=3, least=True),
    Concession(1, table=False, say_rows=1, least=True),
)
"""In this order, until it fits. A caution is whole or is not over yet, so it is never among them."""


def _panels(shown: Shown, view: View, width: int, give: Concession, height: int) -> list[Panel]:
    alarm = bool(view.alarms)
    first_time = not (alarm or view.question or shown.recall.readings or view.finished)
    over, low = bool(shown.over), height < LOW
    told = blades.of_one_reading(view, shown.recall.read_since)
    watching = view.stage == "watch"  # nothing is turned, set or read: that would be untrue
    stand = [] if over or watching else wrapped(view.stand, width, MOST, "dim", lead=" ")
    say = [] if over else frame.say(view, width, give.say_rows)
    small = not give.table
    well = all(level.state == "streaming" for level in view.levels)
    return [
        Panel([frame.title(shown, view, width)], 0, below=False),
        Panel([frame.working(view, width)], 4 if alarm else 0, below=False),
        Panel(say, 0, below=False),
        Panel(stand, 0 if first_time and not low else 6, below=False),
        Panel(frame.cautions(shown.recall, width), 0, below=False),
        Panel(frame.banner(shown, width), 0, below=False),
        Panel(frame.notices(view, width), 0, below=False),
        Panel(frame.bolts(view, width), 3, below=True),
        Panel([] if watching else _lower(told, width, small=small), 2, below=True),
        Panel(
            frame.log(shown.recall, width, 1 if small else 8 if height >= TALL else 3),
            8,
            below=True,
        ),
        Panel([] if over else frame.then(view, width), 7, below=True),
        Panel(frame.levels(shown, width, 3), 3 if well else 0, below=True),
    ]


MOST = 20
"""More rows than any sentence needs."""


def _lower(view: View, width: int, *, small: bool) -> list[Line]:
    return blades.short(view, width) if small else blades.table(view, width)


def _fitting(
    shown: Shown, view: View, width: int, height: int, wanted: tuple[int, int]
) -> list[Panel]:
    """The panels that leave the largest its rows; the instruction shrinks last.

    height: without what stands at the foot.
    """
    roomy = width >= ROOMY_WIDTH and height + LAST_ROWS >= ROOMY_HEIGHT
    kept: list[Panel] = []
    for give in CONCESSIONS:
        if give.table and not roomy:
            continue
        panels = _panels(shown, view, width, give, height)
        kept = [panel for panel in panels if panel.spare < give.spare]
        if _rows(kept) + wanted[give.least] <= height:
            break
    return kept


def _rows(panels: list[Panel]) -> int:
    return sum(len(panel.lines) for panel in panels)


def compose(shown: Shown, width: int, height: int, foot: Sequence[Line] = ()) -> list[Line]:
    """Return exactly `height` lines of exactly `width` cells.

    foot: the last lines, in place of the status and the keys.
    """
    if shown.view is None:
        return _waiting(shown, width, height)
    view = aged(shown.view, shown.age_s)
    current = replace(shown, view=view, age_s=0.0)
    last = foot or [*frame.status(current, width), frame.footer(current, width)]
    room = height - len(last)
    largest = display(view, shown.recall.heard)
    wanted = rows_wanted(largest, width, doing_now(view))
    panels = _fitting(current, view, width, room, wanted)
    above = [row for panel in panels if not panel.below for row in panel.lines]
    below = [row for panel in panels if panel.below for row in panel.lines]
    rows = max(0, room - len(above) - len(below))
    whole = [*above, *hero(view, width, rows, largest), *below]
    return [fit(row, width) for row in [*whole[:room], *last]]


def _waiting(shown: Shown, width: int, height: int) -> list[Line]:
    text = shown.over or "waiting for the session …"
    rows: list[Line] = [()] * height
    rows[height // 2] = centred(line(Span(text, "strong")), width)
    rows[-1] = frame.footer(shown, width)
    return [fit(row, width) for row in rows]
