"""A press as an answer: the offered one, which waits a moment, so that a second press takes it back.

Pure: no terminal, no clock. A press that was meant for a reading must not answer an alarm that has just
begun, so nothing is answered in its first `LOOK_S`.
"""

from dataclasses import dataclass, field

from shared.displays import asking, calling
from shared.inputs import CommandKind
from shared.pauses import LOOK_S
from shared.view import View
from shared.wording import blade_name, together

TOO_SOON = "it has just begun: look first, then answer"
NOT_DONE = "taken back: it still waits for its answer"


@dataclass(frozen=True, slots=True)
class Offered:
    """An answer as it would be sent, and what it says."""

    kind: CommandKind
    args: dict[str, str | int | float]
    says: str


def offered(view: View) -> Offered | None:
    """Return what a press answers; None where there is nothing to answer by it."""
    alarm, question = calling(view), asking(view)
    if alarm is not None:
        if alarm.partner is not None:
            says = f"the labels of {alarm.blade} and {alarm.partner} were exchanged"
            return Offered("acknowledge", {"id": alarm.id, "then": "exchange"}, says)
        if not alarm.settable:
            return None
        names = [blade_name(blade) for blade in alarm.blades] or [blade_name(alarm.blade)]
        says = f"{together(names)} will be set again"
        return Offered("acknowledge", {"id": alarm.id, "then": "set-again"}, says)
    if question is not None and question.wants == "":
        return Offered("confirm", {"id": question.id}, "the reading is right")
    return None


def _waiting(view: View) -> tuple[str, int] | None:
    """What is answered now, by a press or by its key; one that begins to call begins anew."""
    alarm, question = calling(view), asking(view)
    if alarm is not None:
        return "alarm", alarm.id
    if question is not None:
        return "question", question.id
    return ("alarm that waits", view.alarms[0].id) if view.alarms else None


@dataclass(slots=True)
class Answering:
    """Since when something waits for an answer, and the answer that may still be taken back."""

    _waits: tuple[str, int] | None = None
    _since_s: float | None = None
    """None: it waited before this screen was opened, so no press was meant for a reading."""
    _looked: bool = False
    pending: Offered | None = field(default=None, init=False)

    def look(self, view: View, now_s: float) -> None:
        """Note what waits; an answer to what waits no longer is dropped."""
        waits = _waiting(view)
        if waits != self._waits:
            self._since_s = now_s if self._looked else None
            self._waits, self.pending = waits, None
        self._looked = True

    def too_soon(self, now_s: float) -> bool:
        """Tell whether it has only just begun."""
        began = self._since_s
        return self._waits is not None and began is not None and now_s - began < LOOK_S

    def take_back(self) -> bool:
        """Drop the pending answer; False where there is none."""
        was, self.pending = self.pending, None
        return was is not None

    def due(self, offer: Offered) -> bool:
        """Tell whether this answer was not taken back, and clear it."""
        if self.pending is not offer:
            return False
        self.pending = None
        return True
