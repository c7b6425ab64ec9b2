"""Where one is in a session that has been, how fast it goes on, and where one may jump to. Pure."""

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass

from shared.events import BladeId, Event
from shared.inputs import NS
from shared.playback import Playback
from shared.sentences import sentence

SPEEDS = (1, 2, 5, 10, 30, 60)
USUAL = SPEEDS.index(10)


def is_said(event: Event) -> bool:
    """Whether an event is one that a person was told."""
    return bool(sentence(event.body))


def is_of(event: Event, blade: BladeId) -> bool:
    """Whether something was read, held, called or asked of this blade."""
    kinds = {"captured", "held", "verdict", "alarm", "asked"}
    return event.body.event in kinds and getattr(event.body, "blade", None) == blade


@dataclass(slots=True)
class Playhead:
    """A moment of a playback. It never leaves what is folded."""

    playback: Playback
    t_ns: int = 0
    playing: bool = True
    pace: int = USUAL
    """Which of `SPEEDS`."""

    @property
    def speed(self) -> int:
        """Session seconds a second."""
        return SPEEDS[self.pace]

    @property
    def said(self) -> int:
        """How many events there have been by now."""
        return bisect_right(self.playback.events, self.t_ns, key=lambda event: event.t_ns)

    def go_on(self, seconds: float) -> None:
        """Let so much time of the person pass."""
        if not self.playing:
            return
        self._to(self.t_ns + int(seconds * self.speed * NS))
        if self.playback.complete and self.t_ns >= self.playback.reach_ns:
            self.playing = False

    def play(self) -> None:
        """Play or pause; at the end, play from the beginning."""
        if not self.playing and self.playback.complete and self.t_ns >= self.playback.reach_ns:
            self.t_ns = 0
        self.playing = not self.playing

    def faster(self, by: int) -> None:
        """Change the speed by so many steps."""
        self.pace = max(0, min(len(SPEEDS) - 1, self.pace + by))

    def move(self, by_ns: int) -> None:
        """Go so far on, or back."""
        self._to(self.t_ns + by_ns)

    def jump(self, by: int, wanted: Callable[[Event], bool]) -> bool:
        """Pause at the next moment, or with -1 the last, at which something wanted was said."""
        events = self.playback.events
        if by > 0:
            found = next((e for e in events[self.said :] if wanted(e)), None)
        else:
            before = [e for e in events if e.t_ns < self.t_ns and wanted(e)]
            found = before[-1] if before else None
        if found is not None:
            self.t_ns, self.playing = found.t_ns, False
        return found is not None

    def _to(self, t_ns: int) -> None:
        self.t_ns = max(0, min(t_ns, self.playback.folded_ns))
