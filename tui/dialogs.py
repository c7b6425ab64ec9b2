"""Small dialogs over the measuring screen. A pedal's Enter alone never confirms anything."""

from collections.abc import Callable, Mapping, Sequence
from textwrap import wrap
from typing import ClassVar, TypeVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from shared.view import View
from tui.budget import calls
from tui.canvas import Canvas
from tui.ink import clean
from tui.keys import either_case
from tui.palettes import Palette

WIDEST, BESIDE = 80, 4
"""Cells of a page, and of its border and padding, left and right together."""
BORDER = 2
"""Rows of it, above and below together."""
Answer = TypeVar("Answer")
Newest = Callable[[], View | None]
"""Gives the newest view: what is open now is called above every dialog."""

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


HINT = "ENTER goes on   ESC leaves it as it was"
SHORT_HINT = "ENTER goes on   ESC leaves it"
WANTED = "nothing stands there yet: type it   ESC leaves it as it was"


ONE_PIECE = "\N{BRAILLE PATTERN BLANK}"
"""Stands for a space at which no row ends."""
FEW = 4
"""So many rows of a list are wanted at least: else the field that is typed stands there alone."""


def broken(text: str, width: int, most: int) -> list[str]:
    """Break words into at most `most` rows; what does not fit ends in "…". A pick stays in one piece."""
    return [
        row.replace(ONE_PIECE, " ")
        for row in wrap(clean(text), width, max_lines=most, placeholder="…")
    ]


def newest_of(rows: Sequence[str], most: int) -> list[str]:
    """At most `most` rows of a list, its end; what is left out is counted in the first of them."""
    if len(rows) <= most:
        return list(rows)
    kept = rows[len(rows) - max(0, most - 1) :]
    return [f"    {len(rows) - len(kept)} older ones by their numbers", *kept][: max(0, most)]


def rows_of(fields: Sequence[Sequence[str]], hint: Sequence[str], *, apart: bool = True) -> int:
    """Rows of fields, each with the line that is typed, and of the hint; apart: a free one between."""
    return sum(len(words) + 1 for words in fields) + apart + len(hint)


class Dialog(ModalScreen[Answer]):
    """A box at the foot of the screen. What must not be missed meanwhile is called at its top."""

    def __init__(self, newest: Newest, *, answers: bool = False) -> None:
        """Take who gives the newest view. answers: to go on is the answer to what is called."""
        super().__init__()
        self._newest = newest
        self._answers = answers
        self._canvas = Canvas()
        self._canvas.display = False

    def draw(self, width: int, height: int, palette: Palette) -> None:
        """Call what is open now, and give the rest the room that is left."""
        view = self._newest()
        inner = min(width, WIDEST) - BESIDE
        rows = calls(view, inner, answered_here=self._answers) if view is not None else []
        self._canvas.display = bool(rows)
        self._canvas.styles.height = len(rows)
        self._canvas.show(rows, palette)
        self.lay_out(inner, height - BORDER - len(rows))

    def lay_out(self, width: int, height: int) -> None:
        """Lay out what stands below the calls, in so many cells and rows."""


class Sentence(Dialog[dict[str, str] | None]):
    """Ask for one or more lines of text; every one must be filled. Escape gives None.

    Where there is not room for all fields, that which is typed stands there alone.
    """

    CSS = "Sentence Canvas { width: 1fr; } Sentence .field { height: auto; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "leave")]

    def __init__(
        self,
        question: str,
        fields: Sequence[tuple[str, str]],
        newest: Newest = lambda: None,
        *,
        rows: Sequence[str] = (),
        filled: Mapping[str, str] | None = None,
        choices: Mapping[str, Sequence[str]] | None = None,
        answers: bool = False,
    ) -> None:
        """Take the question and the fields as (key, words) pairs.

        rows: a list to choose from, under the question, the newest last. filled: what is there
        already. choices: by key, what a number stands for when nothing else is typed.
        """
        super().__init__(newest, answers=answers)
        self._question = question
        self._fields = fields
        self._rows = rows
        self._filled = filled or {}
        self._choices = choices or {}
        self._hint = HINT
        self._room = (0, 0)
        self._words = [Label(self._asked(*field), markup=False) for field in fields]
        self._groups = [
            Vertical(
                label, Input(self._filled.get(key, ""), id=key, max_length=200), classes="field"
            )
            for label, (key, _) in zip(self._words, fields, strict=True)
        ]

    def compose(self) -> ComposeResult:
        """Question, fields, how to go on."""
        with Vertical(classes="dialog"):
            yield self._canvas
            yield Label(self._question, classes="question", markup=False)
            yield Static("", classes="rows", markup=False)
            yield from self._groups
            yield Label(self._hint, classes="hint", markup=False)

    def _asked(self, key: str, words: str) -> str:
        picks = self._choices.get(key, ())
        whole = (f"{n} {pick}".replace(" ", ONE_PIECE) for n, pick in enumerate(picks, 1))
        listed = "   ".join(whole)
        return f"{words}: {listed}" if listed else words

    def lay_out(self, width: int, height: int) -> None:
        """Give the field that is typed in its room first, then the others, the question, the list."""
        if (width, height) == self._room or self.focused is None:
            return
        self._room = (width, height)
        asked = [broken(self._asked(*field), width, height) for field in self._fields]
        hint = broken(self._hint, width, 2)
        alone = self._crowded(rows_of(asked, hint), width, height)
        if alone:
            hint = broken(SHORT_HINT if self._hint == HINT else self._hint, width, 1)
        shown = [asked[self._typed()]] if alone else asked
        used = rows_of(shown, hint, apart=not alone)
        self._show_fields(asked, alone=alone)
        self._show_hint(hint, alone=alone)
        self._show_list(width, height // 2, height - used)

    def _crowded(self, used: int, width: int, height: int) -> bool:
        """Whether fields and hint leave too few rows for the question and the newest of the list."""
        question = broken(self._question, width, height)
        return used + len(question) + min(FEW, len(self._rows)) > height

    def _show_fields(self, asked: Sequence[Sequence[str]], *, alone: bool) -> None:
        for label, rows in zip(self._words, asked, strict=True):
            label.update("\n".join(rows))
        typed = self._typed()
        for index, group in enumerate(self._groups):
            group.display = not alone or index == typed

    def _show_hint(self, hint: Sequence[str], *, alone: bool) -> None:
        shown = self.query_one(".hint", Label)
        shown.update("\n".join(hint))
        shown.styles.margin = (0 if alone else 1, 0, 0, 0)

    def _show_list(self, width: int, most: int, left: int) -> None:
        """Show the question, and below it as much of the list as the rows that are left take."""
        question = broken(self._question, width, max(1, left))
        self.query_one(".question", Label).update("\n".join(question))
        listed = newest_of(self._rows, min(left - len(question), most))
        rows = self.query_one(".rows", Static)
        rows.update("\n".join(row[:width] for row in listed))
        rows.display = bool(listed)

    def _typed(self) -> int:
        """Which field is typed in."""
        keys = [key for key, _ in self._fields]
        return keys.index(str(self.focused.id)) if self.focused is not None else 0

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Go to the first empty field; with none empty, this is the answer."""
        event.stop()
        if not self.is_current:
            return  # a second Enter, of a held pedal, that was on its way
        boxes = list(self.query(Input))
        empty = next((box for box in boxes if not box.value.strip()), None)
        if empty is not None:
            self._hint = HINT if event.value.strip() else WANTED
            for group in self._groups:
                group.display = True
            empty.focus()
            self._room = (0, 0)
            return
        self.dismiss({str(box.id): self._meant(str(box.id), box.value.strip()) for box in boxes})

    def _meant(self, key: str, given: str) -> str:
        picks = self._choices.get(key, ())
        is_pick = given.isdecimal() and 0 < int(given) <= len(picks)
        return picks[int(given) - 1] if is_pick else given

    def action_leave(self) -> None:
        """Leave everything as it was."""
        self.dismiss(None)


class YesNo(Dialog[bool]):
    """A question that only the letter y answers with yes."""

    CSS = "YesNo Canvas { width: 1fr; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(either_case("y"), "answer(True)", "yes"),
        Binding(either_case("n,escape"), "answer(False)", "no"),
    ]

    def __init__(self, question: str, newest: Newest = lambda: None) -> None:
        """Take the question, in words."""
        super().__init__(newest, answers=True)
        self._question = question

    def compose(self) -> ComposeResult:
        """Question and keys."""
        with Vertical(classes="dialog"):
            yield self._canvas
            yield Label(self._question, classes="question", markup=False)
            yield Label("Y = yes   N = no", classes="hint")

    def action_answer(self, yes: bool) -> None:
        """Give the answer."""
        self.dismiss(yes)


class Help(Dialog[None]):
    """All keys and shapes; any key closes it."""

    CSS = "Help Canvas { width: 1fr; height: auto; }"

    def __init__(self, words: str = HELP, newest: Newest = lambda: None) -> None:
        """Take the page."""
        super().__init__(newest)
        self._words = words
        self._page = Static(words, markup=False)
        self._hint = Label("any key closes this", classes="hint")
        self._room = (0, 0)

    def compose(self) -> ComposeResult:
        """One page of text."""
        with Vertical(classes="dialog"):
            yield self._canvas
            yield self._page
            yield self._hint

    def lay_out(self, width: int, height: int) -> None:
        """Show as much of the page as there is room for, and always how to close it."""
        indent = " " * 10
        lines = [
            row
            for one in self._words.splitlines()
            for row in wrap(one, width, subsequent_indent=indent, replace_whitespace=False) or [""]
        ]
        tight = len(lines) + 2 > height
        rows = min(len(lines), height - (1 if tight else 2))
        if (width, height) != self._room and self._page.is_attached:
            self._room = (width, height)
            self._page.update("\n".join(lines[:rows]))
            self._hint.styles.margin = (0 if tight else 1, 0, 0, 0)

    def on_key(self) -> None:
        """Close; a second key may have been on its way."""
        if self.is_current:
            self.dismiss(None)
