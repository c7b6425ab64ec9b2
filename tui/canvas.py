"""The widget that puts composed lines on the terminal and repaints only what changed."""

from collections.abc import Sequence

from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from tui.ink import Line
from tui.palettes import NIGHT, Palette


class Canvas(Widget):
    """Lines in, strips out. Fills its screen."""

    DEFAULT_CSS = "Canvas { width: 1fr; height: 1fr; }"

    def __init__(self) -> None:
        super().__init__()
        self._lines: list[Line] = []
        self._palette: Palette = NIGHT

    def show(self, lines: Sequence[Line], palette: Palette) -> None:
        """Take the next painting; equal lines are not sent to the terminal again."""
        old, self._lines = self._lines, list(lines)
        if palette is not self._palette or len(old) != len(lines):
            self._palette = palette
            self.refresh()
            return
        changed = [y for y, (a, b) in enumerate(zip(old, lines, strict=True)) if a != b]
        if changed:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))

    def render_line(self, y: int) -> Strip:
        """One row of the terminal."""
        width = self.size.width
        spans = self._lines[y] if y < len(self._lines) else ()
        segments = [Segment(span.text, self._palette.style(span.ink)) for span in spans]
        blank = self._palette.style("plain")
        return Strip(segments).adjust_cell_length(width, blank).crop(0, width)
