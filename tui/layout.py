"""The whole screen as lines: which panels stand where at which size.

The large number always gets its rows; panels beside it go, least needed first, until it
has them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shared.displays import display
from shared.view import View
from tui import blades, frame
from tui.hero import hero
from tui.ink import Line, Span, beside, centred, fit, line, wrapped
from tui.shown import Shown, aged

HERO_ROWS = 11
LAST_ROWS = 2
ROOMY_WIDTH = 100
ROOMY_HEIGHT = 30


@dataclass(frozen=True, slots=True)
class Panel:
    """Lines with a need: the higher the number, the sooner they give way."""

    lines: Sequence[Line]
    spare: int
    below: bool


def _panels(shown: Shown, view: View, width: int, roomy: bool, say_rows: int) -> list[Panel]:
    stand = wrapped(view.stand, width, 2, "dim", lead=" ")
    return [
        Panel([frame.title(shown, view, width)], 0, below=False),
        Panel([frame.working(view, width)], 0, below=False),
        Panel(frame.say(view, width, say_rows), 0, below=False),
        Panel(stand, 6, below=False),
        Panel(frame.cautions(shown.recall, width, 3 if roomy else 1), 5, below=False),
        Panel(frame.banner(shown, width), 0, below=False),
        Panel(frame.notices(view, width), 0, below=False),
        Panel(_lower(shown, view, width, roomy), 0, below=True),
        Panel(frame.then(view, width), 7, below=True),
        Panel(frame.levels(shown, width, 3), 0, below=True),
        Panel([] if roomy else frame.log(shown.recall, width, 1), 8, below=True),
    ]


def _lower(shown: Shown, view: View, width: int, roomy: bool) -> list[Line]:
    if not roomy:
        return blades.short(view, width)
    if width < blades.TABLE_WIDTH + 40:
        table = blades.table(view, width)
        return [*table, *frame.log(shown.recall, width, 2)]
    table = blades.table(view, blades.TABLE_WIDTH)
    rows = max(len(table), 8)
    return beside(
        table,
        frame.log(shown.recall, width - blades.TABLE_WIDTH - 2, rows),
        blades.TABLE_WIDTH + 2,
        width,
    )


def _kept(panels: list[Panel], room: int) -> list[Panel]:
    """Drop panels, most spare first, until they fit; never one that may not be spared."""
    kept = list(panels)
    for panel in sorted(panels, key=lambda one: -one.spare):
        if _rows(kept) <= room or panel.spare == 0:
            break
        kept.remove(panel)
    return kept


def _rows(panels: list[Panel]) -> int:
    return sum(len(panel.lines) for panel in panels)


def _fitting(shown: Shown, view: View, width: int, height: int) -> list[Panel]:
    """The panels that leave the number its rows; the instruction shrinks last.

    height: without what stands at the foot.
    """
    roomy = width >= ROOMY_WIDTH and height + LAST_ROWS >= ROOMY_HEIGHT
    room = height - HERO_ROWS
    kept: list[Panel] = []
    for say_rows in (6, 5, 4, 3, 2, 1):
        kept = _kept(_panels(shown, view, width, roomy, say_rows), room)
        if _rows(kept) <= room:
            break
    return kept


def compose(shown: Shown, width: int, height: int, foot: Sequence[Line] = ()) -> list[Line]:
    """Return exactly `height` lines of exactly `width` cells.

    foot: the last lines, in place of the status and the keys.
    """
    if shown.view is None:
        return _waiting(shown, width, height)
    view = aged(shown.view, shown.age_s)
    current = replace(shown, view=view, age_s=0.0)
    last = foot or [frame.status(current, width), frame.footer(current, width)]
    room = height - len(last)
    panels = _fitting(current, view, width, room)
    above = [row for panel in panels if not panel.below for row in panel.lines]
    below = [row for panel in panels if panel.below for row in panel.lines]
    rows = max(0, room - len(above) - len(below))
    readings = shown.recall.readings
    largest = display(view, readings[-1] if readings else None, shown.recall.summary)
    whole = [*above, *hero(view, width, rows, largest), *below]
    return [fit(row, width) for row in [*whole[:room], *last]]


def _waiting(shown: Shown, width: int, height: int) -> list[Line]:
    text = shown.over or "waiting for the session …"
    rows: list[Line] = [()] * height
    rows[height // 2] = centred(line(Span(text, "strong")), width)
    rows[-1] = frame.footer(shown, width)
    return [fit(row, width) for row in rows]
