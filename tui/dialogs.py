"""Small dialogs over the measuring screen. A pedal's Enter alone never confirms anything."""

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from shared.view import View
from tui.budget import calls
from tui.canvas import Canvas
from tui.keys import either_case
from tui.palettes import Palette

WIDEST, BESIDE = 80, 4
"""Cells of a page, and of its border and padding, left and right together."""

HELP = """\
SPACE ENTER PAGEDOWN ↓ →   take, "done", or the offered answer
D         the work by hand of this step is done
0 to 6    the next reading is of this blade; 0 is the reference
A         read this step once more
B PAGEUP ↑ ←   one step back
W  M      withdraw a reading, with a reason; say of which blade one is
S  G      answer the alarm: set the blade again; two labels were exchanged
C         accept, with name and reason; of a question the other answer
E  I      set a held blade again; look at one again in between: ask which
J  F      what blades are set to; read everything as it was found first
Y  R      answer the question: it is right; the level is turned round
N H Z X   note; who works from here; end early; abandon: do not fly
U         where the uncertainty of an angle comes from: its budget
T  V  Q   day or night colours; sound off or on; leave the screen

▲ turn coarser  ▼ turn finer  = within tolerance  ‖ hold still
● press now  ✓ taken: lift the level  ✗ no signal  ‼ answer the alarm
could hide: a move smaller than this may be there and not show
± 95 %: right within this 19 times in 20; u: about half of it"""


WANTED = "nothing stands there yet: type it   ESC leaves it as it was"


class Sentence(ModalScreen[dict[str, str] | None]):
    """Ask for one or more lines of text; every one must be filled. Escape gives None."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave")]

    def __init__(
        self,
        question: str,
        fields: Sequence[tuple[str, str]],
        *,
        rows: Sequence[str] = (),
        filled: Mapping[str, str] | None = None,
        choices: Mapping[str, Sequence[str]] | None = None,
    ) -> None:
        """Take the question and the fields as (key, words) pairs.

        rows: a list to choose from, under the question. filled: what is there already.
        choices: by key, what a number stands for when nothing else is typed.
        """
        super().__init__()
        self._question = question
        self._fields = fields
        self._rows = rows
        self._filled = filled or {}
        self._choices = choices or {}

    def compose(self) -> ComposeResult:
        """Question, fields, how to go on."""
        with Vertical(classes="dialog"):
            yield Label(self._question, classes="question", markup=False)
            if self._rows:
                yield Static("\n".join(self._rows), markup=False)
            for key, words in self._fields:
                picks = self._choices.get(key, ())
                listed = "   ".join(f"{n} {pick}" for n, pick in enumerate(picks, 1))
                yield Label(f"{words}: {listed}" if listed else words, markup=False)
                yield Input(self._filled.get(key, ""), id=key, max_length=200)
            yield Label("ENTER goes on   ESC leaves it as it was", classes="hint")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the first empty field; with none empty, this is the answer."""
        event.stop()
        if not self.is_current:
            return  # a second Enter, of a held pedal, that was on its way
        boxes = list(self.query(Input))
        empty = next((box for box in boxes if not box.value.strip()), None)
        if empty is not None:
            if not event.value.strip():
                self.query_one(".hint", Label).update(WANTED)
            empty.focus()
            return
        self.dismiss({str(box.id): self._meant(str(box.id), box.value.strip()) for box in boxes})

    def _meant(self, key: str, given: str) -> str:
        picks = self._choices.get(key, ())
        is_pick = given.isdecimal() and 0 < int(given) <= len(picks)
        return picks[int(given) - 1] if is_pick else given

    def action_leave(self) -> None:
        """Leave everything as it was."""
        self.dismiss(None)


class YesNo(ModalScreen[bool]):
    """A question that only the letter y answers with yes."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(either_case("y"), "answer(True)", "yes"),
        Binding(either_case("n,escape"), "answer(False)", "no"),
    ]

    def __init__(self, question: str) -> None:
        """Take the question, in words."""
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        """Question and keys."""
        with Vertical(classes="dialog"):
            yield Label(self._question, classes="question", markup=False)
            yield Label("Y = yes   N = no", classes="hint")

    def action_answer(self, yes: bool) -> None:
        """Give the answer."""
        self.dismiss(yes)


class Help(ModalScreen[None]):
    """All keys and shapes, below what must not be missed meanwhile; any key closes it."""

    CSS = "Help Canvas { width: 1fr; height: auto; }"

    def __init__(self, words: str = HELP, newest: Callable[[], View | None] = lambda: None) -> None:
        """Take the page, and who gives the newest view: open alarms are called above the page."""
        super().__init__()
        self._words = words
        self._newest = newest
        self._canvas = Canvas()

    def draw(self, width: int, _height: int, palette: Palette) -> None:
        """Call what is open now, on a terminal of this size."""
        view = self._newest()
        inner = min(width, WIDEST) - BESIDE
        rows = calls(view, inner) if view is not None else []
        self._canvas.display = bool(rows)
        self._canvas.styles.height = len(rows)
        self._canvas.show(rows, palette)

    def compose(self) -> ComposeResult:
        """One page of text."""
        with Vertical(classes="dialog"):
            self._canvas.display = False
            yield self._canvas
            yield Static(self._words, markup=False)
            yield Label("any key closes this", classes="hint")

    def on_key(self) -> None:
        """Close; a second key may have been on its way."""
        if self.is_current:
            self.dismiss(None)
