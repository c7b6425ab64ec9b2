"""What every screen of ours is: one canvas, two palettes, and the dialogs' looks."""

from collections.abc import Sequence
from typing import ClassVar

from textual.app import App, ReturnType
from textual.binding import BindingType
from textual.theme import Theme

from tui.canvas import Canvas
from tui.dialogs import Dialog
from tui.ink import Line
from tui.palettes import DAY, NIGHT, PALETTES, Palette
from tui.uncertainty import Uncertainty

FRAMES_S = 1 / 20


def theme_of(palette: Palette) -> Theme:
    """Give the dialogs the palette's colours."""
    plain, strong = palette.inks["plain"], palette.inks["strong"]
    return Theme(
        name=palette.name,
        primary=strong.fore,
        foreground=plain.fore,
        background=plain.back,
        surface=plain.back,
        panel=plain.back,
        dark=palette.dark,
        text_alpha=1.0,
        variables={
            "input-cursor-background": plain.back,
            "input-cursor-foreground": plain.fore,
            "input-selection-background": plain.back,
            "input-selection-foreground": plain.fore,
        },
    )


class Painted(App[ReturnType]):
    """An application that composes its lines anew and paints what changed."""

    TITLE = "stillblade"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = []
    CSS = """
    Screen { background: $background; color: $foreground; }
    ModalScreen { align: center bottom; background: transparent; }
    .dialog { width: 80; max-width: 100%; height: auto; max-height: 100%;
              border: heavy $foreground; padding: 0 1;
              background: $background; color: $foreground; }
    .dialog Label { width: 1fr; height: auto; color: $foreground; background: $background; }
    .dialog Static { height: auto; }
    .dialog .question { text-style: bold; }
    .dialog .hint { margin-top: 1; }
    .dialog Input { border: none; height: 1; padding: 0 1;
                    background: $primary; color: $background; background-tint: transparent; }
    .dialog Input:focus { border: none; background-tint: transparent; }
    """

    def __init__(self, canvas: Canvas) -> None:
        super().__init__()
        self._canvas = canvas
        self._palette: Palette = NIGHT
        for palette in PALETTES:
            self.register_theme(theme_of(palette))

    def composed(self, width: int, height: int) -> Sequence[Line]:
        """Return what is to be seen now on a terminal of this size."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Take the palette on."""
        self.theme = self._palette.name

    def paint(self) -> None:
        """Paint what is to be seen at this moment, and an overlay with it."""
        width, height = self.size
        if not (width and height):
            return
        self._canvas.show(self.composed(width, height), self._palette)
        for screen in self.screen_stack[-1:]:  # none while the app closes
            if isinstance(screen, Uncertainty | Dialog):
                screen.draw(width, height, self._palette)

    def toggle_palette(self) -> None:
        """Change between night and day."""
        self._palette = DAY if self._palette is NIGHT else NIGHT
        self.theme = self._palette.name
