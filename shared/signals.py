"""What is heard and felt: a signal for each moment, and the words of a voice. Pure, for every face.

A signal begins with its moment and, where it must not be overlooked, comes again until that is over. So who
comes late hears it too: it follows from the view, and nothing of it is recorded.
"""

from dataclasses import dataclass
from typing import Literal

from shared.displays import NOTHING, Heard, calling, display, surprising
from shared.view import View
from shared.wording import bare_name

Moment = Literal["", "taken", "surprise", "question", "alarm", "no signal", "hands", "the end"]
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
    "no signal": Signal("the level is not heard", ((220.0, 220.0, 500),), (600,), again_s=3.0),
    "hands": Signal("the work is with the hands: read what", ((523.0, 523.0, 150),), (80,)),
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
        return "alarm"
    if view.stage == "watch":
        return ""
    return _in_a_step(view, heard) or ("alarm" if view.alarms else "")


def _in_a_step(view: View, heard: Heard) -> Moment:
    if view.press == "done":
        return "hands"
    if view.live.angle_deg is None:
        return "no signal"
    if view.question is not None:
        return "question"
    if surprising(view, heard):
        return "surprise"
    return "taken" if view.live.taken else ""


def spoken(view: View, heard: Heard = NOTHING) -> str:
    """Return what a voice says when the moment begins: the blade first, then what and how much."""
    moment = moment_of(view, heard)
    if moment == "taken" and heard.taken is not None:
        return f"{bare_name(heard.taken.blade)}, {heard.taken.angle_deg:.2f}, lift the level"
    if moment == "alarm" and calling(view) is None:
        return view.alarms[0].say
    if moment in {"alarm", "surprise", "question", "the end", "no signal"}:
        shown = display(view, heard)
        parts = (shown.largest, shown.second, shown.third) if shown else ()
        return ", ".join(part for part in parts if part).lower()
    return view.say.partition(".")[0] if moment == "hands" else ""


def lead_of(view: View) -> tuple[Lead, float]:
    """Return which leading tone is heard while a blade is set, and the seconds to the next."""
    error, limit = view.live.error_deg, view.tolerance_deg
    turning = view.live.motion in {"moving", "creeping", "settling", "still", "ready"}
    if view.stage != "set" or error is None or view.live.taken or view.alarms or not turning:
        return "", 0.0
    if abs(error) <= limit:
        return "in", LEAD_FAR_S
    share = min(1.0, (abs(error) - limit) / (FAR * limit))
    pause = LEAD_NEAR_S + (LEAD_FAR_S - LEAD_NEAR_S) * share
    return ("coarser" if error < 0 else "finer"), pause
