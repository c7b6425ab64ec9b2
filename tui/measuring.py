"""The measuring screen: keys in, commands out; paints what it is told to show."""

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import ClassVar, Literal, Protocol

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen

from shared.displays import asking, calling
from shared.events import REFERENCE, BladeId, Captured
from shared.inputs import CommandKind
from shared.pauses import TAKE_BACK_S
from shared.sentences import degrees
from shared.view import View
from shared.wording import REASONS, blade_name
from tui.answering import NOT_DONE, TOO_SOON, Answering, Offered, offered
from tui.canvas import Canvas
from tui.dialogs import ONE_PIECE, Answer, Dialog, Help, Sentence, YesNo
from tui.keys import Pause, blade_count, either_case
from tui.recall import Recall
from tui.uncertainty import Uncertainty

Args = dict[str, str | int | float]

NOTHING_TO_PRESS = "a press does nothing here: an alarm waits for its answer"


class Session(Protocol):
    """What the screen needs of its app."""

    @property
    def newest(self) -> View | None:
        """The newest view."""

    @property
    def recall(self) -> Recall:
        """What was heard so far."""

    @property
    def answering(self) -> Answering:
        """Since when something waits for an answer, and one that may be taken back."""

    @property
    def leaving(self) -> str:
        """What becomes of a job that is not finished when its screen is left."""

    @property
    def over(self) -> bool:
        """There is nothing more to do but to look."""

    def order(self, kind: CommandKind, args: Args | None = None) -> None:
        """Send a command from the newest view."""

    def tell(self, words: str, kind: Literal["good", "bad"] = "bad") -> None:
        """Show words that need no Desk for some seconds."""

    def paint(self) -> None:
        """Paint what is in sight."""

    def leave(self) -> None:
        """Quit."""

    def toggle_palette(self) -> None:
        """Change between day and night."""

    def toggle_sound(self) -> None:
        """Silence what is heard, or let it be heard again."""


def reading_rows(readings: Sequence[Captured], view: View) -> list[str]:
    """The readings that count, the newest last: number, angle, blade with its mark, stage."""
    marks: dict[BladeId | None, str] = {
        row.blade: row.label for row in view.blades if row.blade != REFERENCE
    }
    return [
        f"{one.id:4} {degrees(one.angle_deg):>7}  "
        f"{blade_name(one.blade, marks.get(one.blade, '')).removeprefix('the ')}, {one.stage}"
        for one in readings
    ]


def marks_of(view: View | None) -> str:
    """The blades with their marks, for whoever names one: "1 red   2 white"; "" where they have none."""
    rows = [row for row in view.blades if row.blade != REFERENCE] if view else []
    if all(row.label in {"", str(row.blade)} for row in rows):
        return ""
    return "   ".join(f"{row.blade} {row.label}".replace(" ", ONE_PIECE) for row in rows)


def _binding(keys: str, action: str) -> Binding:
    return Binding(either_case(keys), action, action, show=False, priority=True)


class Measuring(Screen[None]):
    """One canvas and the keys."""

    BINDINGS: ClassVar[list[BindingType]] = [
        _binding("space,enter,pagedown,down,right", "take"),
        _binding("d", "done"),
        _binding("a", "again"),
        _binding("b,pageup,up,left", "back"),
        _binding("w", "withdraw"),
        _binding("m", "assign"),
        _binding("s", "set_again"),
        _binding("g", "exchange"),
        _binding("c", "accept"),
        _binding("y", "confirm(False)"),
        _binding("r", "confirm(True)"),
        _binding("e", "set_blade"),
        _binding("i", "look"),
        _binding("j", "aim"),
        _binding("f", "found"),
        _binding("n", "note"),
        _binding("h", "relieve"),
        _binding("z", "end"),
        _binding("x", "abandon"),
        _binding("u", "budget"),
        _binding("t", "palette"),
        _binding("v", "sound"),
        _binding("question_mark,f1", "keys"),
        _binding("q,ctrl+q,ctrl+c", "leave"),
        *[_binding(str(number), f"name({number})") for number in range(7)],
    ]

    def __init__(self, session: Session, now_s: Callable[[], float]) -> None:
        """Take the app and a clock in seconds."""
        super().__init__()
        self.canvas = Canvas()
        self._session = session
        self._now_s = now_s
        self._take_pause = Pause()
        self._back_pause = Pause()

    def compose(self) -> ComposeResult:
        """One canvas."""
        yield self.canvas

    def action_take(self) -> None:
        """Take, or done; after the end leave. A held pedal counts once."""
        view = self._session.newest
        if not self._take_pause.press(self._now_s()) or view is None:
            return
        if self._session.over:
            self._session.leave()
            return
        if calling(view) is not None or asking(view) is not None:
            self._answer(view)
        elif view.press is None:
            self._session.tell(NOTHING_TO_PRESS)
        else:
            self._session.order(view.press)

    def _answer(self, view: View) -> None:
        """Give the offered answer in a moment; a press before that takes it back."""
        waiting = self._session.answering
        if waiting.take_back():
            self._session.tell(NOT_DONE)
            return
        offer = offered(view)
        if waiting.too_soon(self._now_s()):
            self._session.tell(TOO_SOON)
        elif offer is None:
            self._session.tell(NOTHING_TO_PRESS)
        else:
            waiting.pending = offer
            self._session.tell(f"{offer.says}, in {TAKE_BACK_S:.0f} s: press again to take it back")
            self.set_timer(TAKE_BACK_S, partial(self._send, offer))

    def _send(self, offer: Offered) -> None:
        if self._session.answering.due(offer):
            self._session.order(offer.kind, offer.args)

    def _answers(self) -> bool:
        """Whether an answer counts: not in the first moment, and it replaces one that waits."""
        if self._session.answering.too_soon(self._now_s()):
            self._session.tell(TOO_SOON)
            return False
        self._session.answering.take_back()
        return True

    def action_done(self) -> None:
        """The work by hand is done."""
        if self._take_pause.press(self._now_s()):
            self._session.order("done")

    def action_again(self) -> None:
        """Read this step once more."""
        if self._take_pause.press(self._now_s()):
            self._session.order("again")

    def action_back(self) -> None:
        """One step back; a held pedal counts once."""
        if self._back_pause.press(self._now_s()):
            self._session.order("back")

    def action_name(self, number: int) -> None:
        """Name the blade of the next reading."""
        view = self._session.newest
        if view is None:
            return
        if number > blade_count(view):
            self._session.tell(f"there is no blade {number}")
            return
        self._session.order("name", {"blade": number})

    def action_withdraw(self) -> None:
        """Withdraw a reading that counts, with a reason: asks which, the newest unless another."""
        fields = [("id", "Its number"), ("reason", "Why")]
        words = "Withdraw a reading? It stays in the record and does not count. Which?"
        self._ask_of_a_reading("withdraw", words, fields)

    def action_assign(self) -> None:
        """Say of which blade a reading is: asks which reading, and the blade."""
        fields = [("id", "Its number"), ("blade", self._which("Number of the blade it is of"))]
        self._ask_of_a_reading("assign", "A reading is of another blade. Which?", fields)

    def _ask_of_a_reading(
        self, kind: CommandKind, words: str, fields: list[tuple[str, str]]
    ) -> None:
        readings, view = self._session.recall.readings, self._session.newest
        if not readings or view is None:
            self._session.tell("there is no reading yet that counts")
            return

        def answered(values: dict[str, str] | None) -> None:
            if values is None:
                return
            if values["id"].isdecimal():
                self._session.order(kind, {**values, "id": int(values["id"])})
            else:
                self._session.tell(f"{values['id']!r} is no number of a reading")

        rows, filled = reading_rows(readings, view), {"id": str(readings[-1].id)}
        self._push(Sentence(words, fields, self._view, rows=rows, filled=filled), answered)

    def action_set_again(self) -> None:
        """Answer the first alarm: set again."""
        view = self._session.newest
        if view is None or not view.alarms:
            self._session.tell("no alarm is open")
        elif not view.alarms[0].settable:
            self._session.tell("setting a blade again is no answer to this alarm: C accepts it")
        elif self._answers():
            self._session.order("acknowledge", {"id": view.alarms[0].id, "then": "set-again"})

    def action_exchange(self) -> None:
        """Answer the first alarm: two labels were exchanged, each reading goes to its own."""
        view = self._session.newest
        if view is None or not view.alarms or view.alarms[0].partner is None:
            self._session.tell("no alarm is open that says that labels were exchanged")
        elif self._answers():
            self._session.order("acknowledge", {"id": view.alarms[0].id, "then": "exchange"})

    def action_accept(self) -> None:
        """Accept the first alarm, with name and reason; of a question: the other answer."""
        view = self._session.newest
        if view is not None and calling(view) is None and asking(view) is not None:
            self.action_confirm(True)
            return
        if view is None or not view.alarms:
            self._session.tell("no alarm is open")
            return
        if not self._answers():
            return
        alarm = view.alarms[0]
        fields = [("by", "Your name"), ("reason", "Why it may stay as it is")]
        known: Args = {"id": alarm.id, "then": "accept"}
        choices = {"by": view.people, "reason": REASONS}
        self._ask("acknowledge", f"Accept: {alarm.say}", fields, known, choices, answers=True)

    def action_confirm(self, reversed_level: bool) -> None:
        """Answer the open question: right as it is, or the level is turned end for end."""
        view = self._session.newest
        question = view.question if view else None
        if question is None:
            self._session.tell("no question is open")
            return
        if not self._answers():
            return
        if question.wants == "nose":
            nose = [("nose", "up or down")]
            self._ask("confirm", question.say, nose, {"id": question.id}, answers=True)
            return
        turned: Args = {"sense": "reversed"} if reversed_level else {}
        self._session.order("confirm", {"id": question.id, **turned})

    def action_set_blade(self) -> None:
        """Set a held blade again: asks which."""
        fields = [("blade", self._which("Number of the blade"))]
        self._ask("set", "Set a held blade again. Which?", fields, {})

    def action_look(self) -> None:
        """Read something that is held again, in between: asks what."""
        which = "Number of the blade, 0 for the reference, a for all that is held"
        fields = [("blade", self._which(which))]

        def answered(values: dict[str, str] | None) -> None:
            if values is not None:
                given = values["blade"].strip()
                self._session.order(
                    "look", {} if given.lower() in {"a", "all"} else {"blade": given}
                )

        self._push(Sentence("Look again at what?", fields, self._view), answered)

    def action_aim(self) -> None:
        """Say what blades are set to: asks, with what is known."""
        view = self._session.newest
        if view is None or not view.aims:
            self._session.tell("what blades are set to is said while they are set")
            return
        rows = [f"    {one.at:8} {degrees(one.deg)}" for one in view.aims]
        choices = {"at": [one.at for one in view.aims]}
        words = "What are the blades set to? The target judges as soon as bolts are tight."
        self._ask("aim", "\n".join([words, *rows]), [("at", "Set to")], {}, choices)

    def action_found(self) -> None:
        """Read everything as it was found first."""
        self._session.order("found")

    def action_note(self) -> None:
        """Write a note."""
        self._ask("note", "Note for the record", [("text", "Note")], {})

    def action_relieve(self) -> None:
        """Say who works from here."""
        self._ask("relieve", "Who works from here?", [("by", "Name")], {}, self._people())

    def action_end(self) -> None:
        """End the job before its end."""
        words = "End here? The record will say what is missing."
        fields = [("by", "Your name"), ("reason", "Why")]
        self._ask("end", words, fields, {}, self._people())

    def action_abandon(self) -> None:
        """Abandon the job."""
        words = "Abandon this job? The propeller is then marked: do not fly."
        fields = [("by", "Your name"), ("reason", "Why")]
        self._ask("abandon", words, fields, {}, self._people())

    def action_budget(self) -> None:
        """Show where the uncertainty comes from."""
        if self._session.newest is None:
            self._session.tell("the session has not begun")
            return
        self.app.push_screen(Uncertainty(self._session))

    def action_palette(self) -> None:
        """Day or night."""
        self._session.toggle_palette()

    def action_sound(self) -> None:
        """Sound off or on."""
        self._session.toggle_sound()

    def action_keys(self) -> None:
        """Show the keys."""
        self._push(Help(newest=self._view))

    def action_leave(self) -> None:
        """Leave; asks while the job is not finished."""
        view = self._session.newest
        if view is None or view.finished or self._session.recall.summary is not None:
            self._session.leave()
            return
        words = f"The job is not finished; {self._session.leaving}. Leave the screen?"
        self._push(YesNo(words, self._view), lambda yes: self._session.leave() if yes else None)

    def _view(self) -> View | None:
        return self._session.newest

    def _people(self) -> dict[str, Sequence[str]]:
        view = self._session.newest
        return {"by": view.people if view else ()}

    def _which(self, words: str) -> str:
        marks = marks_of(self._session.newest)
        return f"{words}: {marks}" if marks else words

    def _push(
        self, dialog: Dialog[Answer], answered: Callable[[Answer | None], None] | None = None
    ) -> None:
        self.app.push_screen(dialog, answered)
        self.call_after_refresh(self._session.paint)

    def _ask(
        self,
        kind: CommandKind,
        words: str,
        fields: list[tuple[str, str]],
        known: Args,
        choices: Mapping[str, Sequence[str]] | None = None,
        *,
        answers: bool = False,
    ) -> None:
        def answered(values: dict[str, str] | None) -> None:
            if values is not None:
                self._session.order(kind, {**known, **values})

        asked = Sentence(words, fields, self._view, choices=choices, answers=answers)
        self._push(asked, answered)
