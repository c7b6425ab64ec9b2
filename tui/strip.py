"""The needle, and the band in which a blade may be let go: finer left, coarser right."""

from tui.ink import Ink, Line, Span

NEEDLE = 5
"""Cells the needle is wide; its middle is the reading."""
SPAN = 4.0
"""Half the strip shows this many half-widths of the band; further out the needle waits at the edge."""


def needle_column(error_deg: float, near_deg: float, width: int) -> int:
    """Column of the needle, 0 to width - 1; the middle column is the target.

    Linear in the error up to SPAN half-widths of the band either side, clamped beyond.
    """
    middle = (width - 1) / 2
    share = max(-1.0, min(1.0, error_deg / (SPAN * near_deg)))
    return round(middle + share * middle)


def band_columns(width: int) -> tuple[int, int]:
    """First and last column inside the band."""
    return needle_column(-1.0, 1.0, width), needle_column(1.0, 1.0, width)


def _scale(width: int) -> Line:
    low, high = band_columns(width)
    return (
        Span("─" * low, "dim"),
        Span("┃" + "█" * (high - low - 1) + "┃", "good"),
        Span("─" * (width - high - 1), "dim"),
    )


def _pointer(error_deg: float, near_deg: float, width: int, sign: str, ink: Ink) -> Line:
    column = needle_column(error_deg, near_deg, width)
    left = max(0, min(width - NEEDLE, column - NEEDLE // 2))
    return (Span(" " * left), Span(sign * NEEDLE, ink), Span(" " * (width - left - NEEDLE)))


def _sign(error_deg: float, near_deg: float) -> str:
    if abs(error_deg) <= SPAN * near_deg:
        return "▼"
    return "◀" if error_deg < 0 else "▶"


def _legend(near_deg: float, width: int) -> Line:
    inside = f"±{near_deg:.2f}°"
    side = (width - len(inside)) // 2
    words = ("◀ too fine", "too coarse ▶") if side >= 14 else ("◀", "▶")
    left, right = words[0].ljust(side), words[1].rjust(width - side - len(inside))
    return (Span(left, "dim"), Span(inside, "dim"), Span(right, "dim"))


def strip(error_deg: float | None, near_deg: float, width: int, rows: int) -> list[Line]:
    """Draw the strip in `rows` lines (2: needle and band; then legend, taller needle, taller band).

    The band is where the blade may be let go: surely within the tolerance.
    Without an error there is nothing to aim at, and the strip says so instead.
    """
    if rows <= 0:
        return []
    if error_deg is None:
        return [()] * rows
    ink: Ink = "good" if abs(error_deg) <= near_deg else "warn"
    lines = [_pointer(error_deg, near_deg, width, "█", ink)] if rows > 3 else []
    lines.append(_pointer(error_deg, near_deg, width, _sign(error_deg, near_deg), ink))
    thick = max(1, rows - len(lines) - 1)
    lines += [_scale(width)] * thick
    if len(lines) < rows:
        lines.append(_legend(near_deg, width))
    return lines[:rows]
