"""What the hands do next where a number is followed: one shape, one word, for every face. Pure."""

from typing import NamedTuple

from shared.displays import Tone
from shared.view import Lacks, View


class Doing(NamedTuple):
    """What the hands do next while a number is followed: shape, word, tone.

    Each shape means one thing: up coarser, down finer, two lines within tolerance, bars hold
    still, question mark lay it again or say which, disc press, tick taken, exclamation marks an alarm to answer, cross no signal or not good.
    """

    shape: str
    word: str
    tone: Tone


LACKING: dict[Lacks, Doing] = {
    "agreement": Doing("?", "LAY AGAIN", "warn"),
    "a turn": Doing("?", "NEXT ONE?", "warn"),
}
"""What is done where nobody has to press, by what a reading lacks."""
WITHIN = Doing("=", "IN", "good")
HOLD = Doing("‖", "HOLD STILL", "plain")


def doing_now(view: View) -> Doing:
    """Work out what the hands do next where a number is followed."""
    live = view.live
    error = live.error_deg
    if live.taken:
        return Doing("✓", "TAKEN LIFT", "good")
    if live.motion == "in hand":
        return Doing(" ", "PLACE IT", "plain")
    if error is not None and abs(error) > live.near_deg:
        return Doing("▲", "COARSER", "warn") if error < 0 else Doing("▼", "FINER", "warn")
    if live.motion == "moving":
        return Doing(" ", "MOVING", "plain") if error is None else WITHIN
    if live.by_itself:
        return HOLD if error is None else WITHIN
    if live.lacks in LACKING:
        return LACKING[live.lacks]
    pressed = live.words.startswith("hold still")
    if live.may_take and live.motion in {"still", "ready"} and not pressed:
        return Doing("●", "PRESS", "good")
    return WITHIN if error is not None and live.motion == "creeping" else HOLD
