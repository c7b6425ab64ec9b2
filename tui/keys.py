"""What a key means at this moment, and which keys to offer. Pure: no terminal, no clock.

Foot pedals and presenters send Enter, PageDown, PageUp or arrows, so all of those take or
go back. A held pedal repeats, after a first pause that keyboards set to 0.25 to 0.66 s
(common practice, no source): a press counts only after REST_S without any.
"""

from dataclasses import dataclass, field

from shared.inputs import NS, Command, CommandKind
from shared.view import View

REST_S = 0.7
TAKE_UNTIL_NS = 2 * NS
ANSWER_STAGE = "answer"
"""The stage in which an alarm waits for its answer: the take key is not offered."""
HANDS_STAGES = frozenset({"prepare", "tighten", "finished"})
"""Stages with nothing to take: there the take key says that the hands are done."""


@dataclass(slots=True)
class Rest:
    """Lets the first press of a row through; every repeat prolongs the wait."""

    rest_s: float = REST_S
    _last_s: float | None = field(default=None, init=False)

    def press(self, now_s: float) -> bool:
        """Tell whether this press counts."""
        last, self._last_s = self._last_s, now_s
        return last is None or now_s - last >= self.rest_s


def take_means(view: View) -> CommandKind:
    """The take key takes, or says done where there is nothing to take."""
    return "done" if view.stage in HANDS_STAGES or view.finished else "take"


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


def offers(view: View | None, asked: bool) -> list[tuple[str, str]]:
    """Keys and words for the footer, most needed first."""
    if view is None:
        return []
    first: list[tuple[str, str]] = []
    if view.alarms:
        again = [("S", "set again")] if isinstance(view.alarms[0].blade, int) else []
        first += [*again, ("C", "accept")]
    if asked:
        first += [("Y", "it is right"), ("R", "turned")]
    if view.stage != ANSWER_STAGE:
        first.append(("SPACE", take_means(view)))
    first.append(("A", "again"))
    blades = f"0-{blade_count(view)}"
    return [
        *first,
        ("B", "back"),
        (blades, "blade"),
        ("W", "withdraw"),
        ("N", "note"),
        ("E", "set anew"),
        ("X", "abandon"),
        ("U", "budget"),
        ("T", "theme"),
    ]
