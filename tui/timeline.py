"""Where a session is: the level's way against the target, what was said when, and now. Pure.

Three rows: the middle one is the tolerance, above it too coarse, below it too fine; a dot is a
moment at which the level lay on a blade. A cell holds two dots across and four down (the Braille
patterns of Unicode, U+2800), so a row has four steps: the edges are at 3 tolerances.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

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
NAMES = (" coarser", " within", " finer")
MARKS: tuple[tuple[type[Body], str, Ink], ...] = (
    (Alarm, "‼", "bad"),
    (Asked, "?", "warn"),
    (Judged, "◆", "strong"),
    (Captured, "●", "good"),
)
"""What is marked on the line of time; of several in one cell the first of these."""
LEGEND = "‼ alarm  ? question  ◆ a round was judged  ● reading"


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


def _inside(points: Sequence[Point], over: Window) -> Sequence[Point]:
    first = bisect_left(points, over.first_ns, key=lambda point: point.t_ns)
    return points[first : bisect_right(points, over.last_ns, key=lambda point: point.t_ns)]


def _patterns(points: Sequence[Point], over: Window, tolerance_deg: float) -> list[list[int]]:
    """Braille bits of every cell, a list a row."""
    bits = [[0] * over.cells for _ in range(ROWS)]
    steps = 4 * ROWS
    for point in _inside(points, over):
        if point.error_deg is None:
            continue
        share = (1.0 - point.error_deg / (SPAN * tolerance_deg)) / 2.0
        down = max(0, min(steps - 1, int(share * steps)))
        across = over.cell(point.t_ns, 2)
        bits[down // 4][across // 2] |= DOTS[down % 4][across % 2]
    return bits


def _strip(points: Sequence[Point], over: Window, tolerance_deg: float, now: int) -> list[Line]:
    rows = []
    for name, bits, ink in zip(
        NAMES, _patterns(points, over, tolerance_deg), ("warn", "good", "warn"), strict=True
    ):
        text = "".join(chr(BLANK_PATTERN + one) if one else " " for one in bits)
        rows.append((Span(name.ljust(LEAD), "dim"), *_pointed(text, now, _as_ink(ink))))
    return rows


def _as_ink(name: str) -> Ink:
    return "good" if name == "good" else "warn"


def _pointed(text: str, now: int, ink: Ink) -> Line:
    """The column of now stands out."""
    return (Span(text[:now], ink), Span(text[now], "key"), Span(text[now + 1 :], ink))


def _scale(events: Iterable[Event], over: Window, folded_ns: int, now: int) -> list[Span]:
    """One cell a piece of time: a mark, a dash, or that it is not folded yet."""
    folded = over.cell(folded_ns) if folded_ns < over.last_ns else over.cells
    cells = [Span("─" if cell < folded else "░", "dim") for cell in range(over.cells)]
    ranks = [len(MARKS)] * over.cells
    for event in events:
        if not over.first_ns <= event.t_ns <= over.last_ns:
            continue
        for rank, (kind, sign, ink) in enumerate(MARKS):
            cell = over.cell(event.t_ns)
            if isinstance(event.body, kind) and rank < ranks[cell]:
                ranks[cell], cells[cell] = rank, Span(sign, ink)
    sign = cells[now].text
    cells[now] = Span("▲" if sign in "─░" else sign, "key")
    return cells


def timeline(
    points: Sequence[Point],
    events: Iterable[Event],
    at: tuple[int, int],
    over: Window,
    tolerance_deg: float,
) -> list[Line]:
    """Draw the strip and the line of time, `ROWS` + 1 lines.

    at: now, and up to where the session is folded.
    """
    t_ns, folded_ns = at
    now = over.cell(t_ns)
    scale = (
        Span(f"{clock(over.first_ns):>{LEAD - 1}} ", "dim"),
        *_scale(events, over, folded_ns, now),
        Span(f" {clock(over.last_ns)}", "dim"),
    )
    width = over.cells + LEAD + TAIL
    return [fit(row, width) for row in [*_strip(points, over, tolerance_deg, now), scale]]
