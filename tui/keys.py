"""What a key means at this moment, and which keys to offer. Pure: no terminal, no clock.

Foot pedals and presenters send Enter, PageDown, PageUp or arrows, so all of those take or
go back. A held pedal repeats, after a first pause that keyboards set to 0.25 to 0.66 s
(common practice, no source): a press counts only after PAUSE_S without any.
"""

from dataclasses import dataclass, field

from shared.displays import asking, calling
from shared.inputs import NS, Command, CommandKind
from shared.view import Turnover, View
from tui.answering import offered as offered_answer

PAUSE_S = 0.7
TAKE_UNTIL_NS = 2 * NS


@dataclass(slots=True)
class Pause:
    """Lets the first press of a row through; every repeat prolongs the wait."""

    least_s: float = PAUSE_S
    _last_s: float | None = field(default=None, init=False)

    def press(self, now_s: float) -> bool:
        """Tell whether this press counts."""
        last, self._last_s = self._last_s, now_s
        return last is None or now_s - last >= self.least_s


def either_case(keys: str) -> str:
    """Return the keys of a binding, "b,up", each letter as Shift and Caps Lock send it too: "b,B,up".

    The footer names letters as they stand on a keyboard.
    """
    each = keys.split(",")
    both = [(key, key.upper()) if len(key) == 1 and key.isalpha() else (key,) for key in each]
    return ",".join(key for pair in both for key in pair)


def command(
    view: View,
    ident: str,
    client: str,
    kind: CommandKind,
    args: dict[str, str | int | float] | None = None,
) -> Command:
    """Build the command a person gave while looking at this view."""
    until = view.t_ns + TAKE_UNTIL_NS if kind == "take" else None
    return Command(ident, client, view.seen, kind, args or {}, until)


def blade_count(view: View) -> int:
    """How many blades the propeller has."""
    return sum(1 for blade in view.blades if isinstance(blade.blade, int))


KEYS: tuple[tuple[CommandKind, str, str], ...] = (
    ("again", "A", "again"),
    ("back", "B", "back"),
    ("name", "0-9", "blade"),
    ("withdraw", "W", "withdraw"),
    ("assign", "M", "other blade"),
    ("note", "N", "note"),
    ("relieve", "H", "take over"),
    ("set", "E", "set anew"),
    ("look", "I", "look again"),
    ("aim", "J", "aim"),
    ("found", "F", "as found first"),
    ("end", "Z", "end early"),
    ("abandon", "X", "abandon"),
)
"""What is offered behind answers and the take key: command, key, words."""


TURNED = "TURNED OVER"
"""Instead of a key: what the level itself says."""
TURNED_OVER: dict[Turnover, str] = {
    "proof": "no press",
    "done": "done",
    "take": "it counts",
    "set again": "set again",
    "leave": "leave it",
    "back": "take back",
}
"""What a level that is turned over in the hand does, in a word."""


def offers(view: View | None) -> list[tuple[str, str]]:
    """Keys and words for the footer, most needed first: none that would be refused."""
    if view is None:
        return []
    offered: list[tuple[str, str]] = []
    if view.alarms:
        answers = offered_answer(view) is not None and calling(view) is not None
        pressed, swaps = "SPACE " if answers else "", view.alarms[0].partner is not None
        swap = [(f"{pressed}G", "exchange")] if swaps else []
        again = [("S" if swaps else f"{pressed}S", "set again")] if view.alarms[0].settable else []
        offered += [*swap, *again, ("C", "accept")]
    if view.question and view.question.wants == "nose":
        offered += [("Y", "up or down")]
    elif view.question:
        pressed = "SPACE " if asking(view) is not None else ""
        offered += [(f"{pressed}Y", "it is right"), ("R", "turned")]
    answered_first = calling(view) or asking(view)
    if view.press is not None and view.press in view.offers and not answered_first:
        offered.insert(0, ("SPACE", view.press))
    if view.turnover:
        offered.append((TURNED, TURNED_OVER[view.turnover]))
    blades = f"0-{blade_count(view)}"
    for kind, key, says in KEYS:
        if kind in view.offers:
            offered.append((blades if kind == "name" else key, says))
    return [*offered, ("U", "budget"), ("T", "theme")]
