"""From a stream of tilts to: in hand, moving, settling, still, ready; and the reading.

Knows counts, no clock: a second is ceil(rate) samples.
"""

import math
from collections import deque
from itertools import pairwise
from typing import Literal

from daemon.measure.average import Prior, average, median, robust_sd, without_outliers
from daemon.measure.reading import Reading
from daemon.measure.tilts import Tilt
from shared.angles import difference_deg, wrap_deg
from shared.profile import LevelProfile

Motion = Literal["in hand", "moving", "creeping", "settling", "still", "ready"]

FEWEST = 8
LONGEST_S = 10.0
HAND_SPEED = 12.0
"""Degrees a second: faster than a blade is turned by hand in its hub."""
FAR = 2.5
"""A rest left by this many times the lift angle was left by lifting, however slowly."""
JITTER_DEG = 0.6
"""Sample-to-sample unevenness of a level carried in a hand; a blade turns more smoothly."""


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
        self._lift_deg = lift_deg
        noise = profile.noise
        self._quantum = profile.resolution_deg / math.sqrt(12.0)
        self._prior = Prior(math.hypot(noise.sd_deg, self._quantum), noise.lag1, noise.n)
        self._target = max(profile.seating.u_deg / 3.0, profile.resolution_deg)
        self._circular = profile.convention != "projection"
        self._rest: float | None = None
        self._first_rest: float | None = None
        self._lifted = True
        self._fastest = 0.0
        self._last: Tilt | None = None
        self._seen_sd = 0.0
        self.set_rate(profile.reporting.rate_hz)

    def set_rate(self, hz: float) -> None:
        """Take the learned rate; windows are rebuilt from what is there."""
        self._rate = hz
        self._second = max(FEWEST, math.ceil(hz))
        self._half = max(3, math.ceil(hz / 2.0))
        self._limit = max(self._second, math.ceil(hz * LONGEST_S))
        old = getattr(self, "_window", ())
        self._window: deque[float] = deque(old, self._limit)
        self._spans: deque[float | None] = deque(getattr(self, "_spans", ()), self._limit)
        self._still = min(getattr(self, "_still", 0), self._limit)
        self._every = max(1, math.floor(hz / 20.0))
        self._since = 0

    def restart(self) -> None:
        """Forget the stretch (a gap); what comes next is a new placement."""
        self._window.clear()
        self._spans.clear()
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
        self._window.append(self._unwrapped(tilt.angle_deg))
        self._spans.append(tilt.psi_deg)
        if self._profile.reporting.mode == "on-press":
            self._pressed(tilt)
            return
        self._filter()
        if self._in_hand():
            self._to_hand()
        elif self._still:
            self._stay()
        else:
            self._arrive()

    def _unwrapped(self, angle_deg: float) -> float:
        if not self._circular or not self._window:
            return angle_deg
        before = self._window[-1]
        return before + difference_deg(angle_deg, before)

    def _tail(self, n: int) -> list[float]:
        size = len(self._window)
        return [self._window[i] for i in range(max(0, size - n), size)]

    def _filter(self) -> None:
        few = self._tail(max(1, math.floor(self._rate * 0.35)))
        middle = median(sorted(few))
        reach = 4.0 * self._prior.sd
        newest = median(sorted(few[-3:]))
        near = [x for x in few if abs(x - middle) <= reach]
        # in motion the newest counts, at rest all of them
        calm = abs(newest - middle) <= reach and len(near) * 2 > len(few)
        value = math.fsum(near) / len(near) if calm else newest
        self.live_deg = wrap_deg(value) if self._circular else value

    def _in_hand(self) -> bool:
        few = self._tail(self._half + 3)
        if len(few) < 6:
            return self._lifted
        newest, before = median(sorted(few[-3:])), median(sorted(few[:3]))
        speed = abs(newest - before) * self._rate / (len(few) - 3)
        self._fastest = max(self._fastest, speed) if not self._still else speed
        if self._rest is not None:
            left = abs(newest - self._rest)
            if left > FAR * self._lift_deg:
                return True
            if left > self._lift_deg and self._fastest > HAND_SPEED:
                return True
        if speed * 0.5 > self._lift_deg:
            return True
        if self._mostly_at_rest():
            return False
        return self._jitter() > max(JITTER_DEG, 8.0 * max(self._prior.sd, self._seen_sd))

    def _mostly_at_rest(self) -> bool:
        """A few outliers are not a hand."""
        if self._rest is None:
            return False
        few = self._tail(self._second)
        reach = 5.0 * max(self._prior.sd, self._seen_sd)
        return sum(abs(x - self._rest) <= reach for x in few) > 0.55 * len(few)

    def _jitter(self) -> float:
        """Unevenness that neither starting, stopping nor a few outliers show."""
        few = self._tail(max(FEWEST, math.ceil(self._rate)) + 2)
        bends = sorted(abs(a - 2.0 * b + c) for a, b, c in zip(few, few[1:], few[2:], strict=False))
        return bends[2 * len(bends) // 5] if len(bends) > 4 else 0.0

    def _to_hand(self) -> None:
        self.motion = "in hand"
        self._lifted = True
        self.turned = False
        self._rest = self._first_rest = None
        self._leave()

    def _leave(self) -> None:
        self._still = 0
        self.reading = None
        self.progress = 0.0

    def _pressed(self, tilt: Tilt) -> None:
        self.placement += 1
        self.live_deg = tilt.angle_deg
        noise, psi = self._prior, tilt.psi_deg
        dof = float(max(noise.n - 1, 1)) if noise.n else 10.0
        self.reading = Reading(
            tilt.angle_deg, noise.sd, dof, 1, noise.sd, noise.lag1, True,
            psi, None if psi is None else noise.sd, self._profile.resolution_deg,
        )  # fmt: skip
        self.motion, self.progress = "ready", 1.0

    def _noise(self, values: list[float]) -> float:
        """Noise to judge by: what is known, or where only assumed what neighbours show."""
        steps = [b - a for a, b in pairwise(values)]
        shown = robust_sd(steps, 0.0) / math.sqrt(2.0)
        most = 1.5 * self._prior.sd if self._prior.n else max(10.0 * self._prior.sd, 0.3)
        return max(self._prior.sd, self._quantum, min(shown, most))

    def _calm(self, values: list[float]) -> bool:
        """No more drift between the thirds of this stretch than the noise explains."""
        noise = self._noise(values)
        grown = (1.0 + self._prior.lag1) / (1.0 - self._prior.lag1)
        part = max(2, len(values) // 3)
        first = median(sorted(values[:part]))
        last = median(sorted(values[-part:]))
        allowed = 3.5 * noise * math.sqrt(min(grown / part, 1.0) * 2.0 * 1.3)
        kept = without_outliers(values, noise)
        spread = robust_sd(values, median(sorted(values)))
        return (
            abs(last - first) <= allowed
            and spread <= 2.2 * noise
            and len(kept) >= 0.7 * len(values)
        )

    def _arrive(self) -> None:
        values = self._tail(self._second)
        if len(values) < self._second:
            self.motion = "in hand" if self._lifted else "moving"
            return
        if self._calm(values):
            self._come_to_rest(median(sorted(values)))
            return
        few = values[-self._half :]
        swept = abs(median(sorted(few[-3:])) - median(sorted(few[:3])))
        noise = self._noise(values)
        if swept <= 4.0 * noise and robust_sd(few, median(sorted(few))) <= 3.0 * noise:
            total = abs(median(sorted(values[-3:])) - median(sorted(values[:3])))
            self.motion = "creeping" if total < 0.15 else "settling"
        else:
            self.motion = "in hand" if self._lifted else "moving"

    def _come_to_rest(self, at: float) -> None:
        if self._lifted:
            self.placement += 1
            self._lifted = False
            self._first_rest = at
        elif self._first_rest is not None:
            self.turned |= abs(at - self._first_rest) > max(0.3, 6.0 * self._prior.sd)
        self._rest = at
        self._fastest = 0.0
        self._still = self._second
        self._measure()

    def _stay(self) -> None:
        self._still = min(self._still + 1, self._limit)
        few = self._tail(max(5, math.ceil(self._rate * 0.4)))
        assert self._rest is not None
        noise = self._noise(self._tail(self._second))
        if abs(median(sorted(few)) - self._rest) > 4.0 * noise:
            self._leave()
            self.motion = "moving"
            return
        self._since += 1
        if self._since >= self._every:
            self._since = 0
            self._measure()

    def _measure(self) -> None:
        values = self._tail(self._still)
        if not self._calm(values):
            self._leave()
            self.motion = "creeping"
            return
        got = average(values, self._prior, self._profile.resolution_deg)
        enough = got.u <= self._target
        self._seen_sd = got.sd
        psi, u_psi = self._span(got.u)
        mean = wrap_deg(got.mean) if self._circular else got.mean
        self.reading = Reading(
            mean, got.u, got.dof, got.n, got.sd, got.lag1, enough,
            psi, u_psi, self._profile.resolution_deg,
        )  # fmt: skip
        done = enough or self._still >= self._limit
        self.motion = "ready" if done else "still"
        worth = (self._target / got.u) ** 2 if got.u > 0.0 else 1.0
        self.progress = 1.0 if done else min(max(worth, self._still / self._limit), 0.99)

    def _span(self, u_angle: float) -> tuple[float | None, float | None]:
        size = len(self._spans)
        spans = [self._spans[i] for i in range(max(0, size - self._still), size)]
        known = sorted(span for span in spans if span is not None)
        return (median(known), u_angle) if known else (None, None)
