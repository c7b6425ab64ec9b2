"""Marks of motions beside a recording: which motion was asked for, from when to when.

A first line, then one line a motion: seconds since the start of the recording, twice, the motion,
and degrees where it has any:

    # stillblade marks 1
    0.000 20.000 still
    21.500 35.500 tilt 40
"""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import get_args

from drivers.learn.asked import Mark, Motion
from shared.errors import BadInputError, unread

_FIRST_LINE = "# stillblade marks 1"
_NS = 1_000_000_000
_LONGEST_S = 1e6


def marks_text(marks: Sequence[Mark]) -> str:
    """Return marks as the text of a file."""
    return "\n".join([_FIRST_LINE, *map(_line, marks)]) + "\n"


def _line(mark: Mark) -> str:
    deg = "" if mark.deg is None else f" {mark.deg:g}"
    return f"{mark.start_ns / _NS:.3f} {mark.end_ns / _NS:.3f} {mark.motion}{deg}"


def read_marks(path: Path) -> list[Mark]:
    """Read a file of marks.

    Raises:
        BadInputError: it cannot be read, or a line of it is damaged; says which.
    """
    try:
        lines = path.read_text("utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(
            str(path),
            "",
            f"no marks can be read: {unread(error)}",
            "the motions stand beside the recording",
        ) from error
    if not lines or lines[0] != _FIRST_LINE:
        raise BadInputError(str(path), "line 1", "no marks", f"it begins with {_FIRST_LINE!r}")
    numbered = enumerate(lines[1:], 2)
    return [_mark(line, path, number) for number, line in numbered if line.strip()]


def _mark(line: str, path: Path, number: int) -> Mark:
    words = line.split()
    try:
        start_s, end_s = float(words[0]), float(words[1])
        deg = float(words[3]) if len(words) > 3 else None
        motion = words[2]
    except (ValueError, IndexError):
        motion, start_s, end_s, deg = "", 0.0, 0.0, None
    sane = 0.0 <= start_s < end_s < _LONGEST_S and (deg is None or math.isfinite(deg))
    if motion not in get_args(Motion) or not sane:
        known = ", ".join(get_args(Motion))
        raise BadInputError(
            str(path), f"line {number}", "no mark", f"seconds, seconds, one of {known}, degrees"
        )
    return Mark(round(start_s * _NS), round(end_s * _NS), motion, deg)  # type: ignore[arg-type]
