"""The whole screen as lines: which panels stand where at which size.

The large number always gets its rows; panels beside it go, least needed first, until it
has them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from shared.view import View
from tui import blades, frame
from tui.hero import hero
from tui.ink import Line, Span, beside, centred, fit, line, wrapped
from tui.shown import Shown, aged

HERO_ROWS = 11
TABLE_WIDTH = 98
ROOMY_WIDTH = 100
ROOMY_HEIGHT = 30


@dataclass(frozen=True, slots=True)
class Panel:
    """Lines with a need: the higher the number, the sooner they give way."""

    lines: Sequence[Line]
    spare: int
    below: bool


def _panels(shown: Shown, view: View, width: int, roomy: bool) -> list[Panel]:
    stand = [line(" ", *row) for row in wrapped(view.stand, width - 2, 1, "dim")]
    alarms = frame.banner(shown, width)
    return [
        Panel([frame.title(view, width)], 0, below=False),
        Panel([frame.working(view, width)], 0, below=False),
        Panel(frame.say(view, width, 2 if roomy or not alarms else 1), 0, below=False),
        Panel(stand, 6, below=False),
        Panel(frame.cautions(shown.recall, width, 3 if roomy else 1), 5, below=False),
        Panel(alarms, 0, below=False),
        Panel(_lower(shown, view, width, roomy), 0, below=True),
        Panel(frame.then(view, width), 7, below=True),
        Panel([frame.levels(shown, width)], 0, below=True),
        Panel([] if roomy else frame.log(shown.recall, width, 1), 8, below=True),
    ]


def _lower(shown: Shown, view: View, width: int, roomy: bool) -> list[Line]:
    if not roomy:
        return blades.short(view, width)
    if width < TABLE_WIDTH + 40:
        table = blades.table(view, width)
        return [*table, *frame.log(shown.recall, width, 2)]
    table = blades.table(view, TABLE_WIDTH)
    rows = max(len(table), 8)
    return beside(
        table, frame.log(shown.recall, width - TABLE_WIDTH - 2, rows), TABLE_WIDTH + 2, width
    )


def _kept(panels: list[Panel], room: int) -> list[Panel]:
    """Drop panels, most spare first, until they fit; never one that may not be spared."""
    kept = list(panels)
    for panel in sorted(panels, key=lambda one: -one.spare):
        if sum(len(one.lines) for one in kept) <= room or panel.spare == 0:
            break
        kept.remove(panel)
    return kept


def compose(shown: Shown, width: int, height: int) -> list[Line]:
    """Return exactly `height` lines of exactly `width` cells."""
    if shown.view is None:
        return _waiting(shown, width, height)
    view = aged(shown.view, shown.age_s)
    current = Shown(view, 0.0, shown.recall, shown.status, shown.status_kind, shown.over)
    roomy = width >= ROOMY_WIDTH and height >= ROOMY_HEIGHT
    panels = _kept(_panels(current, view, width, roomy), height - 2 - HERO_ROWS)
    above = [row for panel in panels if not panel.below for row in panel.lines]
    below = [row for panel in panels if panel.below for row in panel.lines]
    rows = max(0, height - len(above) - len(below) - 2)
    last = [frame.status(current, width), frame.footer(current, width)]
    whole = [*above, *hero(view, width, rows), *below]
    return [fit(row, width) for row in [*whole[: height - 2], *last]]


def _waiting(shown: Shown, width: int, height: int) -> list[Line]:
    text = shown.over or "waiting for the session …"
    rows: list[Line] = [()] * height
    rows[height // 2] = centred(line(Span(text, "strong")), width)
    rows[-1] = frame.footer(shown, width)
    return [fit(row, width) for row in rows]
