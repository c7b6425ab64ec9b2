"""A level that sends when its button is pressed: every sample is a placement and its reading."""

from daemon.measure.stream.average import prior_from, prior_of
from daemon.measure.stream.motion import Doing
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.tilts import Tilt
from shared.angles import wrap_deg
from shared.profile import LevelProfile, Noise


class Presses:
    """Follows one level that sends on a press; see `Following`."""

    turned = False
    """A turn under the level is not seen between two presses."""

    def __init__(self, profile: LevelProfile) -> None:
        self.placement = 0
        self.reading: Reading | None = None
        self._circular = profile.convention != "projection"
        self._prior = prior_of(profile)

    @property
    def doing(self) -> Doing:
        """See `Following`."""
        return "in hand" if self.reading is None else "ready"

    @property
    def live_deg(self) -> float | None:
        """See `Following`."""
        return None if self.reading is None else self.reading.mean_deg

    @property
    def agreed(self) -> Reading | None:
        """See `Following`. The samples before it were of other placements."""
        return self.reading

    @property
    def progress(self) -> float:
        """See `Following`."""
        return 0.0 if self.reading is None else 1.0

    @property
    def swing_deg(self) -> float:
        """See `Following`. Single samples show none."""
        return 0.0

    def push(self, tilt: Tilt) -> None:
        """See `Following`."""
        noise = self._prior
        self.placement += 1
        self.reading = Reading(
            mean_deg=wrap_deg(tilt.angle_deg) if self._circular else tilt.angle_deg,
            u_deg=noise.sd,
            dof=noise.weight,
            n=1,
            sd_deg=noise.sd,
            lag1=noise.lag1,
            reached=True,
            psi_deg=tilt.psi_deg,
            u_psi_deg=None if tilt.psi_deg is None else noise.sd,
            resolution_deg=noise.step,
        )

    def repeat(self, samples: int) -> None:
        """See `Following`. A level that was not pressed shows nothing."""

    def restart(self) -> None:
        """See `Following`."""
        self.reading = None

    def set_rate(self, hz: float) -> None:
        """See `Following`. Nothing of it is counted."""

    def set_noise(self, noise: Noise) -> None:
        """See `Following`."""
        self._prior = prior_from(noise, self._prior.step)

    def lain_values(self) -> list[float]:
        """See `Following`. One sample shows no noise."""
        return []
