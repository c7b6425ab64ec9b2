"""The overlay with the uncertainty budget of one blade after another; follows the session."""

from typing import ClassVar, Protocol

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Label

from shared.events import BladeId
from shared.view import View
from tui.budget import blade_in_sight, budget_lines
from tui.canvas import Canvas
from tui.ink import fit
from tui.keys import either_case
from tui.palettes import Palette
from tui.recall import Recall

WIDEST = 100
BESIDE = 4
"""Cells of border and padding, left and right together."""
AROUND = 3
"""Rows of border and the line that says how to leave."""


class Session(Protocol):
    """What the overlay needs of its app."""

    @property
    def newest(self) -> View | None:
        """The newest view."""

    @property
    def recall(self) -> Recall:
        """What was heard so far."""

    def paint(self) -> None:
        """Paint what is in sight, this overlay too."""


class Uncertainty(ModalScreen[None]):
    """One blade's budget. Follows the step until the arrows chose a blade."""

    CSS = f"""
    Uncertainty .dialog {{ width: {WIDEST}; }}
    Uncertainty Canvas {{ width: 1fr; height: auto; }}
    Uncertainty .dialog .hint {{ margin-top: 0; }}
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down,right,pagedown", "turn(1)", "next blade"),
        Binding("up,left,pageup", "turn(-1)", "blade before"),
        Binding(either_case("escape,u"), "leave", "leave"),
    ]

    def __init__(self, session: Session, *, past: bool = False) -> None:
        """Take the app. past: it shows a session that has been."""
        super().__init__()
        self._past = past
        self._session = session
        self._canvas = Canvas()
        self._chosen: BladeId | None = None

    def compose(self) -> ComposeResult:
        """The budget, and how to leave."""
        with Vertical(classes="dialog"):
            yield self._canvas
            yield Label("↑ ↓ other blade   ESC closes this", classes="hint")

    def on_mount(self) -> None:
        """Do not wait for the next painting."""
        self._session.paint()

    def blade(self, view: View) -> BladeId:
        """The chosen blade, or else the one the work is at."""
        return self._chosen or blade_in_sight(view, self._session.recall)

    def draw(self, width: int, height: int, palette: Palette) -> None:
        """Draw the newest view for a terminal of this size."""
        view = self._session.newest
        if view is None:
            return
        inner = min(width, WIDEST) - BESIDE
        most = max(1, height - AROUND)
        lines = budget_lines(view, self.blade(view), inner, most, past=self._past)
        self._canvas.styles.height = len(lines)
        self._canvas.show([fit(one, inner) for one in lines], palette)

    def action_turn(self, by: int) -> None:
        """Go to the next blade, or the one before; the reference is among them."""
        view = self._session.newest
        order = [row.blade for row in view.blades] if view else []
        if view is None or self.blade(view) not in order:
            return
        self._chosen = order[(order.index(self.blade(view)) + by) % len(order)]
        self._session.paint()

    def action_leave(self) -> None:
        """Close."""
        self.dismiss(None)
