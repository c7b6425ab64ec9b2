"""Where a session is: the level's way against the target, what was said when, and now. Pure.

Three rows: the middle one is the tolerance, above it too coarse, below it too fine; a dot is a
moment at which the level lay on a blade. A cell holds two dots across and four down (the Braille
patterns of Unicode, U+2800), so a row has four steps: the edges are at 3 tolerances.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from shared.events import Alarm, Asked, Body, Captured, Event, Judged
from shared.playback import Point
from shared.sentences import clock
from tui.ink import Ink, Line, Span, fit

ROWS = 3
SPAN = 3.0
"""The edges of the strip in tolerances: with three rows the middle one is the tolerance."""
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Bits of a Braille pattern: its dots from above, left and right."""
BLANK_PATTERN = 0x2800
LEAD, TAIL = 9, 9
"""Cells left and right of the strip: what a row means, and the time."""
NAMES: tuple[tuple[str, Ink], ...] = ((" coarser", "warn"), (" within", "good"), (" finer", "warn"))
MARKS: tuple[tuple[type[Body], str, Ink], ...] = (
    (Alarm, "‼", "bad"),
    (Asked, "?", "warn"),
    (Judged, "◆", "strong"),
    (Captured, "●", "good"),
)
"""What is marked on the line of time; of several in one cell the first of these."""
LEGEND = "‼ alarm  ? question  ◆ a round was judged  ● reading"


Timed = TypeVar("Timed", Point, Event)


@dataclass(frozen=True, slots=True)
class Window:
    """A piece of session time over so many cells."""

    first_ns: int
    last_ns: int
    cells: int

    def cell(self, t_ns: int, per: int = 1) -> int:
        """The cell of a moment, or the part of a cell where a cell has `per` parts."""
        share = (t_ns - self.first_ns) / max(1, self.last_ns - self.first_ns)
        return max(0, min(per * self.cells - 1, int(share * per * self.cells)))


def window(t_ns: int, reach_ns: int, width: int, near_ns: int | None) -> Window:
    """All of the session, or so much of it around a moment, over a terminal of `width`."""
    cells = max(1, width - LEAD - TAIL)
    if near_ns is None or near_ns >= reach_ns:
        return Window(0, reach_ns, cells)
    first = max(0, min(t_ns - near_ns // 2, reach_ns - near_ns))
    return Window(first, first + near_ns, cells)


@dataclass(frozen=True, slots=True)
class Drawn:
    """A strip and its line of time, without where one is in them."""

    over: Window
    rows: tuple[str, ...]
    cells: tuple[Span, ...]


def _inside(points: Sequence[Timed], over: Window) -> Sequence[Timed]:
    first = bisect_left(points, over.first_ns, key=lambda one: one.t_ns)
    return points[first : bisect_right(points, over.last_ns, key=lambda one: one.t_ns)]


def _rows(points: Sequence[Point], over: Window, tolerance_deg: float) -> tuple[str, ...]:
    """The three rows: Braille patterns, and blanks where there is no dot."""
    bits = [[0] * over.cells for _ in range(ROWS)]
    steps = 4 * ROWS
    for point in _inside(points, over):
        if point.error_deg is None:
            continue
        share = (1.0 - point.error_deg / (SPAN * tolerance_deg)) / 2.0
        down = max(0, min(steps - 1, int(share * steps)))
        across = over.cell(point.t_ns, 2)
        bits[down // 4][across // 2] |= DOTS[down % 4][across % 2]
    return tuple("".join(chr(BLANK_PATTERN + one) if one else " " for one in row) for row in bits)


def _cells(events: Sequence[Event], over: Window, folded_ns: int) -> tuple[Span, ...]:
    """One cell a piece of time: a mark, a dash, or that it is not folded yet."""
    folded = over.cell(folded_ns) if folded_ns < over.last_ns else over.cells
    cells = [Span("─" if cell < folded else "░", "dim") for cell in range(over.cells)]
    ranks = [len(MARKS)] * over.cells
    for event in _inside(events, over):
        cell = over.cell(event.t_ns)
        for rank, (kind, sign, ink) in enumerate(MARKS[: ranks[cell]]):
            if isinstance(event.body, kind):
                ranks[cell], cells[cell] = rank, Span(sign, ink)
                break
    return tuple(cells)


def drawn(
    points: Sequence[Point],
    events: Sequence[Event],
    folded_ns: int,
    over: Window,
    tolerance_deg: float,
) -> Drawn:
    """Draw what does not change while one moves in it. folded_ns: up to where there is anything."""
    return Drawn(over, _rows(points, over, tolerance_deg), _cells(events, over, folded_ns))


def timeline(strip: Drawn, t_ns: int) -> list[Line]:
    """The strip and the line of time with this moment in them, `ROWS` + 1 lines."""
    over = strip.over
    now, width = over.cell(t_ns), over.cells + LEAD + TAIL
    lines: list[Line] = [
        (Span(name.ljust(LEAD), "dim"), *_pointed(text, now, ink))
        for (name, ink), text in zip(NAMES, strip.rows, strict=True)
    ]
    here = strip.cells[now].text
    scale = (
        Span(f"{clock(over.first_ns):>{LEAD - 1}} ", "dim"),
        *strip.cells[:now],
        Span("▲" if here in "─░" else here, "key"),
        *strip.cells[now + 1 :],
        Span(f" {clock(over.last_ns)}", "dim"),
    )
    return [fit(row, width) for row in [*lines, scale]]


def _pointed(text: str, now: int, ink: Ink) -> Line:
    """The column of now stands out."""
    return (Span(text[:now], ink), Span(text[now], "key"), Span(text[now + 1 :], ink))
