"""What is heard and felt: a signal for each moment, and the words of a voice. Pure, for every face.

A signal begins with its moment and, where it must not be overlooked, comes again until that is over. So who
comes late hears it too: it follows from the view, and nothing of it is recorded.
"""

from dataclasses import dataclass
from typing import Literal

from shared.displays import NOTHING, Heard, calling, display, proving, surprising
from shared.view import Lacks, View
from shared.wording import bare_name

Moment = Literal[
    "",
    "step",
    "proof",
    "landed",
    "taken",
    "taken back",
    "lay it again",
    "which blade",
    "turn it over",
    "surprise",
    "question",
    "alarm",
    "set again",
    "no signal",
    "hands",
    "the end",
]
Lead = Literal["", "coarser", "finer", "in"]

REST = 0.0
"""Instead of a frequency: silence."""


@dataclass(frozen=True, slots=True)
class Signal:
    """What is heard: (from Hz, to Hz, ms) of each tone; buzz: ms on, off, on ... of a vibration.

    again_s: it comes again after so long; None: once. means: for people.
    """

    means: str
    tones: tuple[tuple[float, float, int], ...]
    buzz: tuple[int, ...] = ()
    again_s: float | None = None


SIGNALS: dict[Moment, Signal] = {
    "step": Signal("what comes next", ((988.0, 988.0, 60),), (40,)),
    "proof": Signal(
        "turn the level over in the hand, and back, if you hear this",
        ((784.0, 784.0, 120), (1175.0, 1175.0, 120), (784.0, 784.0, 120)),
        (120, 60, 60, 60, 120),
        again_s=10.0,
    ),
    "landed": Signal("the level lies: leave it, wait", ((1175.0, 1175.0, 40),), (30,)),
    "taken back": Signal(
        "the last reading is taken back",
        ((1320.0, 1320.0, 120), (880.0, 880.0, 160)),
        (60, 60, 60),
    ),
    "lay it again": Signal(
        "not as expected: lift the level and lay it on again",
        ((784.0, 784.0, 90), (REST, REST, 60)) * 3,
        (90, 60, 90, 60, 90),
        again_s=6.0,
    ),
    "which blade": Signal(
        "the same blade again? turn the level over if it is not",
        ((880.0, 880.0, 120), (330.0, 330.0, 200)),
        (120, 80, 200),
        again_s=6.0,
    ),
    "turn it over": Signal(
        "lift the level, turn it over and lay it on again, or press",
        ((659.0, 988.0, 150), (988.0, 659.0, 150)),
        (150, 60, 60),
        again_s=6.0,
    ),
    "taken": Signal(
        "the reading is taken: lift the level",
        ((880.0, 880.0, 120), (1320.0, 1320.0, 160)),
        (120,),
    ),
    "surprise": Signal(
        "the reading is taken, and not where the blade was: look",
        ((1320.0, 1320.0, 120), (880.0, 880.0, 160), (587.0, 587.0, 240)),
        (120, 80, 120, 80, 120),
    ),
    "question": Signal(
        "look: the reading is asked about",
        ((660.0, 660.0, 200), (440.0, 440.0, 300)),
        (200, 100, 200),
    ),
    "alarm": Signal(
        "an alarm waits for its answer",
        ((440.0, 440.0, 300), (REST, REST, 100), (440.0, 440.0, 300)),
        (400, 150, 400),
        again_s=4.0,
    ),
    "set again": Signal(
        "set again in 5 seconds: turn the level over once more to leave it",
        ((440.0, 440.0, 100), (880.0, 880.0, 200)),
        (100, 60, 200),
    ),
    "no signal": Signal("the level is not heard", ((220.0, 220.0, 500),), (600,), again_s=3.0),
    "hands": Signal(
        "the work is with the hands: read what", ((523.0, 523.0, 150),), (80,), again_s=60.0
    ),
    "the end": Signal(
        "everything is read: look at the result",
        ((523.0, 523.0, 150), (659.0, 659.0, 150), (784.0, 784.0, 300)),
        (100, 50, 100, 50, 300),
    ),
}
LEADS: dict[Lead, Signal] = {
    "coarser": Signal("turn it coarser", ((500.0, 750.0, 140),)),
    "finer": Signal("turn it finer", ((750.0, 500.0, 140),)),
    "in": Signal("in tolerance: let go", ((1000.0, 1000.0, 60),)),
}
"""While a blade is set: rising means coarser, falling finer, one short tone in."""
EVERY: dict[str, Signal] = {**dict(SIGNALS.items()), **dict(LEADS.items())}
"""All that is ever heard, by name."""
LED: frozenset[Moment] = frozenset({"", "step", "taken back"})
"""Moments in which the leading tone may be heard."""
ONCE: frozenset[Moment] = frozenset({"step", "proof"})
"""Moments that are told once a step, however often the level is lifted in it."""
LEAD_FAR_S, LEAD_NEAR_S = 1.0, 0.3
"""Between two leading tones, from far away to the edge of the tolerance."""
FAR = 10.0
"""So many tolerances off is far."""


def moment_of(view: View, heard: Heard = NOTHING) -> Moment:
    """Return which moment it is; "" where nothing is to be heard.

    An open alarm comes first where it is to be answered now, and last where it waits: what is taken
    meanwhile is heard.
    """
    if heard.summary is not None or view.finished:
        return "the end"
    if calling(view) is not None:
        return "set again" if view.turnover == "leave" else "alarm"
    if view.stage in {"watch", ""}:
        return ""
    return _in_a_step(view, heard) or _next(view, heard)


def _in_a_step(view: View, heard: Heard) -> Moment:
    if view.press == "done":
        return "hands"
    if proving(view, heard) and view.live.motion == "ready":
        return (
            ""  # it is asked for again: a level that was turned over badly lies there for nothing
        )
    if view.live.angle_deg is None:
        return "no signal"
    if view.question is not None:
        return "question"
    if surprising(view, heard):
        return "surprise"
    if view.live.taken:
        return "taken"
    return LACKING.get(view.live.lacks, "") or ("landed" if _landed(view) else "")


LACKING: dict[Lacks, Moment] = {
    "agreement": "lay it again",
    "a turn": "which blade",
    "a press": "turn it over",
}
"""What is heard where nobody has to press, by what lacks."""


def _landed(view: View) -> bool:
    return view.stage != "set" and view.live.laid


def _next(view: View, heard: Heard) -> Moment:
    """The step by itself, as long as nothing happens in it; an alarm that waits comes first."""
    if view.alarms:
        return "alarm"
    if proving(view, heard):
        return "proof"
    return "taken back" if heard.taken_back else "step"


def begins(view: View, moment: Moment) -> str:
    """Return what tells one beginning of a moment from the next: every step is told anew."""
    return f"{view.step} {moment}"


def spoken(view: View, heard: Heard = NOTHING, begun: Moment | None = None) -> str:
    """Return what a voice says when the moment begins: the blade first, then what and how much.

    begun: another moment than that of the view.
    """
    moment = moment_of(view, heard) if begun is None else begun
    if moment == "taken" and heard.taken is not None:
        return f"{bare_name(heard.taken.blade)}, {heard.taken.angle_deg:.2f}, lift the level"
    if moment == "surprise" and heard.taken is not None and heard.was_deg is not None:
        read = f"{bare_name(heard.taken.blade)}?, {heard.taken.angle_deg:.2f}"
        return f"{read}, was {heard.was_deg:.2f}, lift the level"
    if moment == "alarm" and calling(view) is None:
        return view.alarms[0].say
    if moment in AS_MEANT:
        return SIGNALS[moment].means
    if moment in {"alarm", "question", "the end", "no signal"}:
        shown = display(view, heard)
        parts = (shown.largest, shown.second, shown.third) if shown else ()
        return ", ".join(part for part in parts if part).lower()
    first = _first_sentence(view.say)
    if moment == "proof":
        return f"turn the level over, and back, if you hear me; then: {first}"
    if moment in {"step", "taken back"} and view.turnover == "take":
        first = f"{OVER_FIRST}; {first}"
    if moment == "taken back":
        return f"taken back; {first}"
    return first if moment in {"hands", "step"} else ""


OVER_FIRST = "turn the level over first"
"""Said of a reading that only a press takes, or a level that was turned over before."""
AS_MEANT = frozenset({"lay it again", "which blade", "turn it over", "set again"})
"""A voice says of these what they mean."""


def _first_sentence(text: str) -> str:
    """A number's own point ends no sentence."""
    return text.partition(". ")[0].removesuffix(".")


def lead_of(view: View) -> tuple[Lead, float]:
    """Return which leading tone is heard while a blade is set, and the seconds to the next."""
    error, limit = view.live.error_deg, view.live.near_deg
    turning = view.live.motion in {"moving", "creeping", "settling", "still", "ready"}
    if view.stage != "set" or error is None or view.live.taken or view.alarms or not turning:
        return "", 0.0
    if abs(error) <= limit:
        return "in", LEAD_FAR_S
    share = min(1.0, (abs(error) - limit) / (FAR * limit))
    pause = LEAD_NEAR_S + (LEAD_FAR_S - LEAD_NEAR_S) * share
    return ("coarser" if error < 0 else "finer"), pause
