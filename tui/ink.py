"""Lines of inked text: what every panel draws, free of colours and of the terminal.

A panel is a function from facts to lines; a palette gives the inks their colours later, so
a change of theme redraws the same lines. Widths are terminal cells, not characters.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rich.cells import cell_len, set_cell_size

Ink = Literal[
    "plain",
    "strong",
    "dim",
    "good",
    "warn",
    "bad",
    "number",  # the large live angle
    "number in",  # the same, inside the tolerance
    "title",
    "key",
    "alarm",
    "question",
    "caution",
    "status",
]


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of one line in one ink."""

    text: str
    ink: Ink = "plain"


Line = tuple[Span, ...]
BLANK: Line = ()


def line(*parts: str | Span) -> Line:
    """Build a line; a bare string is plain. Control characters become spaces."""
    spans = (part if isinstance(part, Span) else Span(part) for part in parts)
    return tuple(Span(clean(span.text), span.ink) for span in spans if span.text)


def clean(text: str) -> str:
    """Return text with nothing in it that could move the cursor: levels name themselves."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() else " " for char in text)


def width_of(spans: Line) -> int:
    """Cells a line takes."""
    return sum(cell_len(span.text) for span in spans)


def fit(spans: Line, width: int, fill: Ink = "plain") -> Line:
    """Crop or pad a line to exactly `width` cells; a crop ends in an ellipsis."""
    wide = width_of(spans)
    if wide <= width:
        return (*spans, Span(" " * (width - wide), fill)) if wide < width else spans
    return _cropped(spans, width)


def _cropped(spans: Line, width: int) -> Line:
    room = width
    kept: list[Span] = []
    for span in spans:
        take = min(cell_len(span.text), room)
        if take:
            kept.append(Span(set_cell_size(span.text, take), span.ink))
        room -= take
    if kept:
        last = kept[-1]
        kept[-1] = Span(set_cell_size(last.text, cell_len(last.text) - 1) + "…", last.ink)
    return tuple(kept)


def centred(spans: Line, width: int, fill: Ink = "plain") -> Line:
    """Put a line in the middle of `width` cells."""
    left = max(0, (width - width_of(spans)) // 2)
    return fit((Span(" " * left, fill), *spans) if left else spans, width, fill)


def apart(left: Line, right: Line, width: int, fill: Ink = "plain") -> Line:
    """Put two lines at the two ends of one; the left one gives way."""
    room = max(0, width - width_of(right) - 1)
    return fit((*fit(left, room, fill), Span(" ", fill), *right), width, fill)


def wrapped(text: str, width: int, most: int, ink: Ink = "plain", *, lead: str = "") -> list[Line]:
    """Break a sentence into at most `most` lines of `width`; what does not fit ends in "…".

    lead: stands before the first line as it is; the others are indented by its width.
    """
    if most <= 0 or not text:
        return []
    indent = " " * (cell_len(lead))
    rows: list[str] = []
    words = clean(text).split()
    while words:
        row = (indent if rows else lead) + words.pop(0)
        while words and cell_len(row) + 1 + cell_len(words[0]) <= width:
            row += " " + words.pop(0)
        rows.append(row)
    if len(rows) > most:
        rows = [*rows[: most - 1], " ".join([rows[most - 1], *(r.strip() for r in rows[most:])])]
    return [fit((Span(row, ink),), width, ink) for row in rows]


def plain(lines: Iterable[Line]) -> list[str]:
    """Return the text of lines without its inks, trailing blanks cut."""
    return ["".join(span.text for span in spans).rstrip() for spans in lines]
