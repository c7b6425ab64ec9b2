"""From a stream of tilts to: in hand, moving, settling, still, ready; and the reading.

Knows counts, no clock: a second is ceil(rate) samples, and at least 8.
"""

import math
from typing import Literal

from daemon.measure.stream.average import Average, average, likely_lag1, median, prior_of, robust_sd
from daemon.measure.stream.handling import Handling
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.stillness import SHARE_OF_U, Looking, left_in, ragged, shown_noise
from daemon.measure.stream.stretch import Stretch
from daemon.measure.stream.tilts import Tilt
from shared.angles import wrap_deg
from shared.profile import LevelProfile, Noise

Motion = Literal["in hand", "moving", "creeping", "settling", "still", "ready"]

FEWEST = 8
LONGEST_S = 10.0
LOOKS_HZ = 12.5
"""Stillness is judged this often at most; faster samples are taken together."""
COARSEST_DEG = 0.05
"""A step coarser than this is no excuse for an average that is worse."""
PLENTY = 0.8
"""An average so much better than its target rolls on without growing: a longer one would
gain nothing and hold more of a creep."""
ARRIVES, TAKES, LEAVES = 2.0, 2.0, 3.0
"""Traces of movement, in their own standard deviations, over which a stretch is not yet still, not yet
taken, and not still any more; the last is looked at again with every sample."""
WARY = 1.4
"""The same for a level that has just been seen to creep, until it moves or is lifted."""


class Settling:
    """Follows one level. Push every accepted tilt; read the attributes after each push.

    Attributes:
        motion: what the level is doing.
        placement: counts placements: up by one when the level first comes to rest after it
            was in hand, after a gap, or at the very start.
        turned: since it first came to rest in this placement the angle moved smoothly and
            came to rest elsewhere: the blade was turned under the level.
        live_deg: a lightly filtered angle for the display, within 0.3 s of the true one.
        reading: the running average while still, else None.
        progress: 0..1 towards a reading that is good enough.
    """

    def __init__(self, profile: LevelProfile, lift_deg: float) -> None:
        self.motion: Motion = "in hand"
        self.placement = 0
        self.turned = False
        self.live_deg: float | None = None
        self.reading: Reading | None = None
        self.progress = 0.0
        self._profile = profile
        self._prior = prior_of(profile)
        seating, step = profile.seating.u_deg, profile.resolution_deg
        self._target = max(seating / 3.0, min(step, COARSEST_DEG))
        # a blade angle hangs on its own placement and on the mean of two of the reference
        own_u = math.sqrt(1.5 * (seating**2 + self._target**2 + step * step / 12.0))
        self._may_leave = SHARE_OF_U * 2.0 * own_u
        self._circular = profile.convention != "projection"
        self._lifted = True
        self._first_rest = 0.0
        self._run = self._lain = 0
        self._plenty = self._was_ready = False
        self._since = 0
        self._creeps = self._wary = False
        self._last: Tilt | None = None
        self._stretch = Stretch(self._circular)
        self._handling = Handling(self._stretch, self._prior.sd, lift_deg)
        self.set_rate(profile.reporting.rate_hz)

    def set_rate(self, hz: float) -> None:
        """Take the learned rate."""
        self._rate = hz
        self._second = max(FEWEST, math.ceil(hz))
        self._limit = max(self._second, math.ceil(hz * LONGEST_S))
        self._every = max(1, math.ceil(hz / LOOKS_HZ))
        self._calmly = max(self._every, math.floor(hz / 4.0))
        self._run = min(self._run, self._limit)
        self._stretch.keep(self._limit + 2 * self._second)
        self._handling.set_rate(hz)

    def set_noise(self, noise: Noise) -> None:
        """Take what the level's own stream has taught about its noise; between placements."""
        self._profile = self._profile.model_copy(update={"noise": noise})
        self._prior = prior_of(self._profile)
        self._handling.set_noise(self._prior.sd)

    def restart(self) -> None:
        """Forget the stretch (a gap); what comes next is a new placement."""
        self._stretch.clear()
        self._to_hand()
        self.live_deg = None
        self._last = None

    def quiet(self, samples_missed: int) -> None:
        """A level that sends only on change was silent though alive: it still shows the same."""
        if self._last is None or self._profile.reporting.mode != "on-change":
            return
        for _ in range(min(samples_missed, self._limit)):
            self.push(self._last)

    def push(self, tilt: Tilt) -> None:
        """Take one tilt."""
        self._last = tilt
        self._stretch.push(tilt)
        if self._profile.reporting.mode == "on-press":
            self._pressed(tilt)
            return
        live = self._stretch.live(self._rate, 4.0 * self._prior.sd)
        self.live_deg = self._wrapped(live)
        if self._handling.in_hand():
            self._to_hand()
        elif self._run:
            self._stay()
        elif self._due():
            self._arrive()

    def _due(self) -> bool:
        """Judge with every look until ready, then four times a second."""
        self._since += 1
        if self._since < (self._calmly if self._was_ready else self._every):
            return False
        self._since = 0
        return True

    def lain_values(self) -> list[float]:
        """Return the newest second and a quarter of this rest; nothing before that is over.

        For a study of the noise. Not the samples behind the reading: those end when they seem
        good enough, and so are the ones that seem to hang together least. A hand is taken to need
        a quarter of a second after its reading to take it off. Unwrapped.
        """
        enough = 5 * self._second // 4
        return self._stretch.tail(enough) if self._lain >= enough else []

    def _wrapped(self, angle_deg: float) -> float:
        return wrap_deg(angle_deg) if self._circular else angle_deg

    def _to_hand(self) -> None:
        self.motion = "in hand"
        self._lifted = True
        self._wary = self.turned = False
        self._handling.lifted()
        self._leave()

    def _leave(self) -> None:
        self._run = self._lain = 0
        self._plenty = self._was_ready = False
        self.reading = None
        self.progress = 0.0

    def _pressed(self, tilt: Tilt) -> None:
        self.placement += 1
        self.live_deg = tilt.angle_deg
        noise = self._prior
        one = Average(
            tilt.angle_deg, noise.sd, noise.weight, 1, noise.sd, noise.lag1, noise.step / 12**0.5
        )
        self.reading = self._as_reading(one, tilt.psi_deg, reached=True)
        self.motion, self.progress = "ready", 1.0

    def _arrive(self) -> None:
        values = self._stretch.tail(self._second)
        if len(values) < self._second:
            self.motion = "in hand" if self._lifted else "moving"
            return
        noise = self._noise()
        if self._swept(values, noise):
            self._wary = False
            self.motion = "in hand" if self._lifted else "moving"
            return
        size = self._still_size(values, noise)
        if size:
            self._come_to_rest(size, noise)
        else:
            self.motion = "creeping" if self._creeps else "settling"

    def _noise(self) -> float:
        """Noise of the last second; of three where it was never learned, to be surer of it."""
        noise = shown_noise(self._stretch.tail(self._second), self._prior)
        if self._prior.learned:
            return noise
        return max(noise, shown_noise(self._stretch.tail(3 * self._second), self._prior))

    def _swept(self, values: list[float], noise: float) -> bool:
        """Whether the last half second is visibly on the move."""
        few = values[-max(5, self._second // 2) :]
        swept = abs(median(sorted(few[-3:])) - median(sorted(few[:3])))
        return swept > 4.0 * noise or robust_sd(few, median(sorted(few))) > 3.0 * noise

    def _still_size(self, values: list[float], noise: float) -> int:
        """Samples at the end of the stream that are still: a second, or 0.

        Where nobody learned how the level's noise hangs together, three seconds are looked
        at too: noise that wanders looks like a creep in one.
        """
        if self._still(values, noise, self._prior.lag1):
            return self._second
        if self._prior.learned:
            return 0
        longer = self._stretch.tail(3 * self._second)
        if len(longer) < 3 * self._second or self._swept(longer, noise):
            return 0
        return len(longer) if self._still(longer, noise, self._wander(longer)) else 0

    def _wander(self, values: list[float]) -> float:
        """Autocorrelation of what is left when a straight line is taken out."""
        n = len(values)
        third = n // 3
        rise = (median(sorted(values[-third:])) - median(sorted(values[:third]))) / (n - third)
        flat = [value - rise * i for i, value in enumerate(values)]
        return likely_lag1(flat, math.fsum(flat) / n, self._prior)

    def _still(self, values: list[float], noise: float, lag1: float) -> bool:
        return not ragged(values, noise) and self._left_in(values, noise, lag1, ARRIVES) == 0.0

    def _left_in(self, values: list[float], noise: float, lag1: float, limit: float) -> float:
        """What a movement puts into the mean of these newest values; 0 when little enough."""
        before = self._stretch.before(len(values), 2 * self._second)
        how = Looking(noise, lag1, self._rate, self._every)
        left, self._creeps = left_in(before, values, how, min(limit, WARY) if self._wary else limit)
        return left if left > self._may_leave else 0.0

    def _come_to_rest(self, size: int, noise: float) -> None:
        at = median(sorted(self._stretch.tail(size)))
        if self._lifted:
            self.placement += 1
            self._lifted = False
            self._first_rest = at
        elif abs(at - self._first_rest) > max(0.3, 6.0 * self._prior.sd):
            self.turned = True
        self._run = self._lain = size
        self._handling.rests(at, noise)
        self._measure()

    def _stay(self) -> None:
        self._lain += 1
        if not self._plenty:
            self._run = min(self._run + 1, self._limit)
        if self._handling.left():
            self._leave()
            self.motion = "moving"
        elif self._due():
            self._measure()

    def _measure(self) -> None:
        values = self._stretch.tail(self._run)
        noise = self._noise()
        lag1 = self._prior.lag1 if self._prior.learned else self._wander(values)
        if self._left_in(values, noise, lag1, LEAVES):
            self._leave()
            self._wary = True
            self.motion = "creeping"
            return
        got = average(values, self._prior)
        enough = got.u <= self._target
        if enough and not self._was_ready and self._left_in(values, noise, lag1, TAKES):
            # the newer part holds less of a movement
            self._run, enough = max(self._second, 2 * self._run // 3), False
        self.reading = self._as_reading(got, self._stretch.span(self._run), reached=enough)
        self._handling.rests(got.mean, max(noise, got.sd))
        self._plenty = got.u <= PLENTY * self._target
        self._was_ready |= enough
        done = enough or self._run >= self._limit
        self.motion = "ready" if done else "still"
        worth = min((self._target / got.u) ** 2, 0.99) if got.u > 0.0 else 0.99
        self.progress = 1.0 if done else max(worth, self._run / self._limit)

    def _as_reading(self, got: Average, psi: float | None, *, reached: bool) -> Reading:
        return Reading(
            mean_deg=self._wrapped(got.mean),
            u_deg=got.u,
            dof=got.dof,
            n=got.n,
            sd_deg=got.sd,
            lag1=got.lag1,
            reached=reached,
            psi_deg=psi,
            u_psi_deg=None if psi is None else got.u,
            resolution_deg=self._profile.resolution_deg,
            u_rounding_deg=got.u_rounding,
        )
