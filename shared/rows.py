"""A line in rows: broken between words where a terminal would break it anywhere; a pipe gets it whole."""

import shutil
from textwrap import wrap
from typing import TextIO

FEWEST = 20
"""Cells that words want beside an indent: a terminal that has not got them gets none."""


def cells(out: TextIO) -> int | None:
    """Return how many cells a row of this terminal has, the last left free; None: it is none."""
    return shutil.get_terminal_size().columns - 1 if out.isatty() else None


def rows(line: str, width: int | None, indent: int = 0) -> list[str]:
    """Return the line in rows of at most so many cells, all but the first indented.

    A word that is longer (a path, a link) stays whole, on a row of its own. width: None: all in one row.
    """
    if width is None or len(line) <= width:
        return [line]
    before = " " * indent if width - indent >= FEWEST else ""
    found = wrap(
        line,
        max(width, FEWEST),
        subsequent_indent=before,
        break_on_hyphens=False,
        break_long_words=False,
    )
    return found or [line]
