"""What begins to be heard, from picture to picture: the same for a player and for whoever listens. Pure."""

from typing import NamedTuple

from shared.displays import proving
from shared.events import Body
from shared.remembered import Remembered
from shared.signals import (
    LED,
    ONCE,
    SIGNALS,
    Lead,
    Moment,
    Signal,
    begins,
    lead_of,
    moment_of,
    spoken,
)
from shared.view import View

TELLS = ONCE | {"taken back"}
"""Moments in which a voice tells the step."""
VOID: Moment = "lay it again"
DOES_NOT_COUNT = "it does not count: lift the level and lay it on again"
"""A round was started over under a level that lay: nothing was taken, whatever was read before."""


class Cue(NamedTuple):
    """A signal begins, with the words of a voice; "": it says nothing."""

    name: Moment | Lead
    words: str


class Sounding:
    """Turns pictures into cues: each moment once, and again where it must not be overlooked.

    remembered: what another folds the events into; without it, `hear` does.
    """

    def __init__(self, remembered: Remembered | None = None) -> None:
        self._remembered = Remembered() if remembered is None else remembered
        self._begun = ""
        self._told = -1
        """The last step that was told: it is told once, however often the level is lifted in it."""
        self._known = 0
        """The newest reading when that step was told: what is taken in it is a newer one."""
        self._signalled_s = self._led_s = 0.0

    def hear(self, body: Body) -> None:
        """Take what the next event says."""
        self._remembered.fold(body)

    def look(self, view: View, now_s: float) -> Cue | None:
        """Return what begins to be heard now, if anything; now_s: of any clock that never goes back."""
        heard = self._remembered.heard
        newest = heard.taken.id if heard.taken is not None else 0
        void = self._void(view, newest)
        moment = VOID if void else self._first_told(view, moment_of(view, heard))
        signal, key = SIGNALS.get(moment), begins(view, moment)
        new, self._begun = key != self._begun, key
        if moment in ONCE:
            new = new and view.step != self._told
        if moment in TELLS:
            self._told, self._known = view.step, newest
        if signal is not None and (new or _again(signal, now_s - self._signalled_s)):
            self._signalled_s = now_s
            words = DOES_NOT_COUNT if void else spoken(view, heard, moment)
            return Cue(moment, words if new else "")
        return self._lead(*lead_of(view), now_s) if moment in LED else None

    def _first_told(self, view: View, moment: Moment) -> Moment:
        """Return the step itself where a level lay down before it was told: whoever only hears knows none of it."""
        if moment != "landed" or view.step == self._told or view.alarms:
            return moment
        return "proof" if proving(view, self._remembered.heard) else "step"

    def _void(self, view: View, newest: int) -> bool:
        """Whether what lies there gives no reading, though the step that was told wants one."""
        told = view.step == self._told and newest == self._known
        return told and moment_of(view, self._remembered.heard) in {"taken", "surprise"}

    def _lead(self, lead: Lead, pause_s: float, now_s: float) -> Cue | None:
        if not lead or now_s - self._led_s < pause_s:
            return None
        self._led_s = now_s
        return Cue(lead, "")


def _again(signal: Signal, since_s: float) -> bool:
    return signal.again_s is not None and since_s > signal.again_s
