"""What a watch is at: one small type a mode, with the data that only this mode has."""

from dataclasses import dataclass

from daemon.measure.watch.record import Record
from daemon.measure.watch.track import Place, Standing


@dataclass(frozen=True, slots=True)
class Learning:
    """Nothing is known of the level yet; what it shows is gathered until it is at rest."""

    record: Record


@dataclass(frozen=True, slots=True)
class Unheard:
    """It fell silent before anything was known."""


@dataclass(frozen=True, slots=True)
class Quiet:
    """At rest since a sample, and watched by the detector."""

    standing: Standing
    since: int


@dataclass(slots=True)
class Left:
    """What is kept while the blade is away from rest.

    anchor: where it stood before. at: the sample at which rest was left. record: the last
    seconds since. paired: looks in a row at which the difference to the witness was at rest.
    """

    standing: Standing
    anchor: Place
    at: int
    record: Record
    paired: int = 0

    def look_at_pair(self, at_rest: bool) -> None:
        """The difference to the witness was looked at once more."""
        self.paired = self.paired + 1 if at_rest else 0

    def break_off(self) -> None:
        """There is a gap: nothing is judged across it."""
        self.record.clear()


@dataclass(slots=True)
class Away:
    """Away from rest, in one of the modes below."""

    left: Left

    @property
    def standing(self) -> Standing:
        """Where the blade stood."""
        return self.left.standing


@dataclass(slots=True)
class Shaken(Away):
    """Something shakes or turns it; that is not told before it is over, or lasts."""


@dataclass(slots=True)
class Restless(Away):
    """Shaken for so long that it was told; not told again."""


@dataclass(slots=True)
class Lifted(Away):
    """The level is in someone's hand, and may be put back anew."""


@dataclass(slots=True)
class Silent(Away):
    """Nothing was heard, for so many samples in all."""

    gap: int = 0

    def lasts(self, samples: int) -> None:
        """It is silent for so many samples more."""
        self.gap += samples


@dataclass(slots=True)
class Gone(Lifted):
    """Both lifted and silent, whichever came first."""


Mode = Learning | Unheard | Quiet | Away
