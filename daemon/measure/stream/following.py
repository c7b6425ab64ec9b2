"""Who follows the tilts of a level, by how the level reports."""

from typing import Protocol

from daemon.measure.stream.motion import Doing
from daemon.measure.stream.presses import Presses
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.tilts import Tilt
from shared.profile import LevelProfile, Noise


class Following(Protocol):
    """What follows the tilts of one level. Push every accepted tilt; then read.

    Attributes:
        placement: counts placements: up by one when the level first comes to rest after it
            was in hand, after a gap, or at the very start.
    """

    placement: int

    @property
    def doing(self) -> Doing:
        """What the level does."""
        ...

    @property
    def turned(self) -> bool:
        """Whether the blade was turned under the level.

        Since it first came to rest in this placement the angle moved smoothly and came to
        rest elsewhere.
        """
        ...

    @property
    def live_deg(self) -> float | None:
        """A lightly filtered angle for the display; None before the first sample."""
        ...

    @property
    def reading(self) -> Reading | None:
        """The running average while still, else None."""
        ...

    @property
    def agreed(self) -> Reading | None:
        """The running average, if the newest samples say the same."""
        ...

    @property
    def progress(self) -> float:
        """0..1 towards a reading that is good enough."""
        ...

    @property
    def swing_deg(self) -> float:
        """Standard deviation of what the aircraft sways by; 0 while it does not."""
        ...

    def push(self, tilt: Tilt) -> None:
        """Take one tilt."""
        ...

    def repeat(self, samples: int) -> None:
        """Take the newest tilt so many times more."""
        ...

    def restart(self) -> None:
        """Forget the samples (a gap); what comes next is a new placement."""
        ...

    def set_rate(self, hz: float) -> None:
        """Take the learned rate."""
        ...

    def set_noise(self, noise: Noise) -> None:
        """Take what the level's own stream has taught about its noise; between placements."""
        ...

    def lain_values(self) -> list[float]:
        """Return what may be learned from: up to a second and a quarter of a rest that is known.

        Of one that has just ended, without its last third of a second, which may hold the leaving;
        or of one that has just lasted ten seconds. Nothing at any other time, and nothing of
        a rest that was left by creeping.
        """
        ...


def following_of(profile: LevelProfile, lift_deg: float, *, seldom: bool = True) -> Following:
    """Return what follows a level of this kind; lift_deg: a quick swing by so much is a lift."""
    if profile.reporting.mode == "on-press":
        return Presses(profile)
    return Settling(profile, lift_deg, seldom=seldom)
