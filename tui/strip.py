"""The needle and the tolerance band: where the blade stands, finer left, coarser right."""

from tui.ink import Ink, Line, Span, centred, line

SPAN = 4.0
"""Half the strip shows this many tolerances; further out the needle waits at the edge."""


def needle_column(error_deg: float, tolerance_deg: float, width: int) -> int:
    """Column of the needle, 0 to width - 1; the middle column is the target.

    Linear in the error up to SPAN tolerances either side, clamped beyond.
    """
    middle = (width - 1) / 2
    share = max(-1.0, min(1.0, error_deg / (SPAN * tolerance_deg)))
    return round(middle + share * middle)


def band_columns(width: int) -> tuple[int, int]:
    """First and last column inside the tolerance."""
    return needle_column(-1.0, 1.0, width), needle_column(1.0, 1.0, width)


def _scale(width: int) -> Line:
    low, high = band_columns(width)
    return (
        Span("─" * low, "dim"),
        Span("┃" + "█" * (high - low - 1) + "┃", "good"),
        Span("─" * (width - high - 1), "dim"),
    )


def _pointer(column: int, error_deg: float, tolerance_deg: float, width: int) -> Line:
    beyond = abs(error_deg) > SPAN * tolerance_deg
    sign = ("◀" if error_deg < 0 else "▶") if beyond else "▼"
    ink: Ink = "good" if abs(error_deg) <= tolerance_deg else "warn"
    left = max(0, min(width - 3, column - 1))
    return (Span(" " * left), Span(sign * 3, ink), Span(" " * (width - left - 3)))


def _legend(tolerance_deg: float, width: int) -> Line:
    low, high = band_columns(width)
    inside = f"±{tolerance_deg:.2f}°"
    middle = centred(line(Span(inside, "dim")), max(len(inside), high - low + 1))
    side = (width - sum(len(span.text) for span in middle)) // 2
    left = Span("◀ too fine".ljust(side), "dim")
    return (
        left,
        *middle,
        Span("too coarse ▶".rjust(width - side - sum(len(span.text) for span in middle)), "dim"),
    )


def strip(error_deg: float | None, tolerance_deg: float, width: int, rows: int) -> list[Line]:
    """Draw the strip in `rows` lines (2: needle and band; 3 and more: a taller band, legend).

    Without an error there is nothing to aim at, and the strip says so instead.
    """
    if rows <= 0:
        return []
    if error_deg is None:
        return [()] * rows
    column = needle_column(error_deg, tolerance_deg, width)
    lines = [_pointer(column, error_deg, tolerance_deg, width)]
    lines += [_scale(width)] * max(1, min(rows - 2, 3) if rows > 2 else 1)
    if rows > 2:
        lines.append(_legend(tolerance_deg, width))
    return lines[:rows]
