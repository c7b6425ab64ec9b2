"""What begins to be heard, from picture to picture: the same for a player and for whoever listens. Pure."""

from typing import NamedTuple

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


class Cue(NamedTuple):
    """A signal begins, with the words of a voice; "": it says nothing."""

    name: Moment | Lead
    words: str


class Sounding:
    """Turns pictures into cues: each moment once, and again where it must not be overlooked."""

    def __init__(self) -> None:
        self._remembered = Remembered()
        self._begun = ""
        self._told = -1
        """The last step that was told: it is told once, however often the level is lifted in it."""
        self._signalled_s = self._led_s = 0.0

    def hear(self, body: Body) -> None:
        """Take what the next event says."""
        self._remembered.fold(body)

    def look(self, view: View, now_s: float) -> Cue | None:
        """Return what begins to be heard now, if anything; now_s: of any clock that never goes back."""
        heard = self._remembered.heard
        moment = moment_of(view, heard)
        signal, key = SIGNALS.get(moment), begins(view, moment)
        new, self._begun = key != self._begun, key
        if moment in ONCE:
            new, self._told = new and view.step != self._told, view.step
        if signal is not None and (new or _again(signal, now_s - self._signalled_s)):
            self._signalled_s = now_s
            return Cue(moment, spoken(view, heard) if new else "")
        return self._lead(*lead_of(view), now_s) if moment in LED else None

    def _lead(self, lead: Lead, pause_s: float, now_s: float) -> Cue | None:
        if not lead or now_s - self._led_s < pause_s:
            return None
        self._led_s = now_s
        return Cue(lead, "")


def _again(signal: Signal, since_s: float) -> bool:
    return signal.again_s is not None and since_s > signal.again_s
