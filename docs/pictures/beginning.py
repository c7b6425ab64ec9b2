"""Draw the picture of `stillblade new`: its own questions, with a person's answers.

    python -m docs.pictures.beginning       # writes new.svg beside this file

The conversation is held with a person who types `ANSWERS`; what is drawn is what it printed.
"""

import asyncio
import contextlib
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import NamedTuple

from daemon.dialog.asking import Talk
from daemon.dialog.propeller import propeller

PICTURE = Path(__file__).parent / "new.svg"
ANSWERS = (
    "Two blades, Harrowmere strip", "", "", "2", "tractor", "right",
    "clockwise", "150 mm in from the tip", "620", "620 mm",
)  # fmt: skip
"""One is misunderstood, and one forgets its unit: both are asked again."""
FIRST, LAST = "How many blades", "With it, a level"
"""Of what was printed, from the line that begins so, up to the one that does."""
WIDE, TALL, ADVANCE, EDGE = 80, 18, 8.43, 16
"""Columns; pixels of a line and of a letter of 14 pixels; the margin."""


class Row(NamedTuple):
    """One line, and whether a person typed it."""

    text: str
    typed: bool


class Typist:
    """A terminal at which `ANSWERS` are typed."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self._left = list(ANSWERS)

    def say(self, *lines: str) -> None:
        """Keep what is printed."""
        self.rows += [Row(line, typed=False) for line in lines]

    async def line(self, asked: str, live: Callable[[], str] | None = None) -> str:
        """Type the next answer."""
        del live
        self.say(asked)
        if not self._left:
            raise EOFError
        typed = self._left.pop(0)
        self.rows.append(Row(f"> {typed}", typed=True))
        return typed


def rows() -> list[Row]:
    """Return the lines that are drawn."""
    typist = Typist()
    with contextlib.suppress(EOFError):
        asyncio.run(Talk(typist).run(propeller))
    starts = [row.text for row in typist.rows]
    first = next(k for k, text in enumerate(starts) if text.startswith(FIRST))
    last = next(k for k, text in enumerate(starts) if text.startswith(LAST))
    return typist.rows[first : last - 1]


def drawn() -> str:
    """Return the picture as SVG."""
    lines = rows()
    wide, tall = round(WIDE * ADVANCE) + 2 * EDGE, len(lines) * TALL + 2 * EDGE
    font = 'font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="14"'
    size = f'width="{wide}" height="{tall}" viewBox="0 0 {wide} {tall}"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} {font}>',
        f'<rect width="{wide}" height="{tall}" rx="6" fill="#14181c"/>',
    ]
    for number, row in enumerate(lines, 1):
        if row.text:
            fill = "#8fd3ff" if row.typed else "#e6e6e6"
            y = EDGE + number * TALL - 5
            long = round(len(row.text) * ADVANCE, 2)
            parts.append(
                f'<text x="{EDGE}" y="{y}" fill="{fill}" textLength="{long}" '
                f'lengthAdjust="spacingAndGlyphs" xml:space="preserve">{escape(row.text)}</text>'
            )
    return "\n".join([*parts, "</svg>"]) + "\n"


def main() -> None:
    """Write the picture."""
    PICTURE.write_text(drawn(), "utf-8")
    print(f"{PICTURE.name}: {len(rows())} lines")


if __name__ == "__main__":
    main()
