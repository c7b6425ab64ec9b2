"""From a stream of tilts to: in hand, moving, creeping, settling, still, ready; and the reading.

Where a level is (lifted, placed) and what it does (loose, resting) are its two states:

    in state          when                                                 becomes
    loose             its newest second is still (three, where its noise   placed, resting
                      is not known); elsewhere than placed: turned
    resting           most of the newest samples are off its rest          loose, moving
    resting           a movement shows in its average                      loose, creeping
    any               it swings far or fast, or jitters; a gap             lifted, loose, in hand

Knows counts, no clock (see `pace`).
"""

import math
from dataclasses import dataclass, replace

from daemon.measure.stream.average import Average, average, median, prior_from, prior_of
from daemon.measure.stream.handling import Handling
from daemon.measure.stream.looks import LEAVES, TAKES, Looks
from daemon.measure.stream.motion import Doing
from daemon.measure.stream.pace import Pace, pace_of
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.stillness import SHARE_OF_U, without_spikes
from daemon.measure.stream.stretch import Stretch
from daemon.measure.stream.sway import MISFIT, SPAN_S, Fit, SwayStudy, block_of, blocks, fit, lay
from daemon.measure.stream.tilts import Tilt
from shared.angles import wrap_deg
from shared.profile import LevelProfile, Noise

COARSEST_DEG = 0.05
"""A step coarser than this is no excuse for an average that is worse."""
SWAYING = 2.0
"""While the aircraft sways an average is good enough at so many times its target."""
SHARE_OF_SWING = 0.2
"""And at this part of the swing, which no longer look would make much less."""
SWAYING_DOF = 20.0
"""Degrees of freedom of the middle of a swing: its size is known to about a sixth."""
AS_AMPLITUDE = 1.25
"""How far a swing goes on average, in standard deviations of its two parts (Rayleigh)."""
PLENTY = 0.8
"""An average so much better than its target rolls on without growing: a longer one would
gain nothing and hold more of a creep."""
AGREES = 5.0
"""Standard deviations of one sample that the newest may be from the average."""
LEAST_SPOILT = 3
"""So many samples at the end of a rest may hold its leaving."""
TURNED_DEG, TURNED_SDS = 0.3, 6.0
"""A level that rests this far from where it first did in its placement was turned."""
SELDOM_SINCE = 11
"""Rules since which a good average of a level whose noise is known is looked at half as often."""


@dataclass(frozen=True, slots=True)
class Lifted:
    """In a hand, or not yet at rest since: the next rest is a new placement."""


@dataclass(slots=True)
class Placed:
    """It has come to rest since it was lifted; first there, and turned since or not."""

    first_rest: float
    turned: bool = False

    def rests(self, at: float, reach: float) -> None:
        """It rests here; further than `reach` from its first rest it was turned."""
        if abs(at - self.first_rest) > reach:
            self.turned = True


@dataclass(frozen=True, slots=True)
class Loose:
    """It does not rest."""

    doing: Doing


@dataclass(frozen=True, slots=True)
class Averaged:
    """One look at a rest.

    Attributes:
        reading: its average, of its newest samples.
        middle: where that is among the samples, which are not wrapped.
        plenty: it is so good that a longer one would gain nothing.
        done: it is good enough, or as long as it gets.
        progress: 0..1.
    """

    reading: Reading
    middle: float
    plenty: bool
    done: bool
    progress: float


@dataclass(slots=True)
class Resting:
    """It rests.

    Attributes:
        run: samples at the end of the stream that are averaged.
        lain: samples since it came to rest, and the still ones before.
        was_good: the average was good enough once.
        averaged: what the last look found.
    """

    run: int
    lain: int
    was_good: bool
    averaged: Averaged

    def every(self, pace: Pace, *, seldom: bool) -> int:
        """Return how many samples lie between two looks at it."""
        if not self.was_good:
            return pace.every
        if not seldom:
            return pace.calmly
        return pace.seldom if self.lain < pace.limit else pace.idly

    def cut(self, most: int) -> "Resting":
        """Return the rest with at most so many samples averaged."""
        return replace(self, run=min(self.run, most))


class Settling:
    """Follows one level that streams, or sends on change; see `Following`.

    seldom: a good average is looked at half as often where the noise is known; see SELDOM_SINCE.
    """

    def __init__(self, profile: LevelProfile, lift_deg: float, *, seldom: bool = True) -> None:
        self.placement = 0
        self._seldom = seldom
        self._step_deg = profile.resolution_deg
        self._least_sd = max(profile.noise.sd_deg, self._step_deg)
        seating, step = profile.seating.u_deg, self._step_deg
        self._target = max(seating / 3.0, min(step, COARSEST_DEG))
        # a blade angle hangs on its own placement and on the mean of two of the reference
        own_u = math.sqrt(1.5 * (seating**2 + self._target**2 + step * step / 12.0))
        self._circular = profile.convention != "projection"
        self._where: Lifted | Placed = Lifted()
        self._does: Loose | Resting = Loose("in hand")
        self._unlooked = 0
        """Samples since the last look."""
        self._lying = 0
        """Samples since it was last in a hand."""
        self._sway = SwayStudy() if profile.reporting.mode == "stream" else None
        self._known_rest: list[float] = []
        """Samples of a rest that the newest sample has shown to be one."""
        self._stretch = Stretch(self._circular)
        rate_hz = profile.reporting.rate_hz
        prior, pace = prior_of(profile), pace_of(rate_hz)
        self._looks = Looks(self._stretch, prior, pace, SHARE_OF_U * 2.0 * own_u)
        self._handling = Handling(self._stretch, prior.sd, lift_deg, rate_hz)
        self.set_rate(rate_hz)

    @property
    def doing(self) -> Doing:
        """See `Following`."""
        if isinstance(self._does, Loose):
            return self._does.doing
        return "ready" if self._does.averaged.done else "still"

    @property
    def turned(self) -> bool:
        """See `Following`."""
        return isinstance(self._where, Placed) and self._where.turned

    @property
    def live_deg(self) -> float | None:
        """See `Following`."""
        if self._stretch.empty:
            return None
        looks = self._looks
        return self._wrapped(self._stretch.live(looks.pace.rate_hz, 4.0 * looks.prior.sd))

    @property
    def reading(self) -> Reading | None:
        """See `Following`."""
        return self._does.averaged.reading if isinstance(self._does, Resting) else None

    @property
    def agreed(self) -> Reading | None:
        """See `Following`.

        A robust average takes the first samples of a level that is just leaving for outliers.
        """
        if not isinstance(self._does, Resting):
            return None
        averaged = self._does.averaged
        far = AGREES * max(averaged.reading.sd_deg, self._least_sd)
        off = [abs(angle - averaged.middle) > far for angle in self._stretch.tail(3)]
        return None if off[-1] or sum(off) > 1 else averaged.reading

    @property
    def progress(self) -> float:
        """See `Following`."""
        return self._does.averaged.progress if isinstance(self._does, Resting) else 0.0

    @property
    def swing_deg(self) -> float:
        """See `Following`."""
        return self._swing

    @property
    def _swing(self) -> float:
        return self._sway.swing if self._sway is not None else 0.0

    def set_rate(self, hz: float) -> None:
        """See `Following`."""
        pace = pace_of(hz)
        self._looks.set_rate(pace)
        if isinstance(self._does, Resting):
            # what were the samples of a second may be few of it now
            longer = self._does.run >= pace.second
            self._does = self._does.cut(pace.limit) if longer else Loose("settling")
        self._stretch.keep(pace.limit + 2 * pace.second)
        self._handling.set_rate(hz)

    def set_noise(self, noise: Noise) -> None:
        """See `Following`."""
        self._looks.set_noise(prior_from(noise, self._step_deg))
        self._handling.set_noise(self._looks.prior.sd)

    def restart(self) -> None:
        """See `Following`."""
        self._lying = 0
        self._lift()
        self._known_rest = []
        self._stretch.clear()

    def repeat(self, samples: int) -> None:
        """See `Following`. More than fill the longest average change nothing."""
        for _ in range(0 if self._stretch.empty else min(samples, self._looks.pace.limit)):
            self._stretch.repeat()
            self._follow()

    def push(self, tilt: Tilt) -> None:
        """See `Following`."""
        self._stretch.push(tilt)
        self._follow()

    def lain_values(self) -> list[float]:
        """See `Following`. For a study of the noise; unwrapped.

        Not the samples behind the reading: those end when they seem good enough, and so are
        the ones that seem to hang together least.
        """
        return self._known_rest

    # --- transitions ----------------------------------------------------------------------

    def _follow(self) -> None:
        does, self._known_rest = self._does, []
        self._lying += 1
        if self._handling.in_hand():
            self._lift()
        elif isinstance(does, Resting):
            self._stay(does)
        elif self._due(self._looks.pace.every):
            self._arrive()

    def _due(self, every: int) -> bool:
        self._unlooked += 1
        if self._unlooked < every:
            return False
        self._unlooked = 0
        return True

    def _lift(self) -> None:
        if isinstance(self._does, Resting):
            self._know(self._does)
        self._hear_sway()
        self._lying = 0
        self._where, self._does = Lifted(), Loose("in hand")
        self._looks.trust()
        self._handling.lifted()

    def _arrive(self) -> None:
        looks = self._looks
        values = self._stretch.tail(looks.pace.second)
        if len(values) < looks.pace.second:
            self._move()
            return
        noise = looks.noise()
        if self._swing:
            self._arrive_swaying(noise)
        elif looks.swept(values, noise):
            looks.trust()
            self._move()
        elif size := looks.still_size(values, noise):
            self._rest(size, noise)
        else:
            self._does = Loose("creeping" if looks.creeps else "settling")

    def _arrive_swaying(self, noise: float) -> None:
        """What swings is at rest when its newest second is a swing and nothing else."""
        second = self._looks.pace.second
        if self._lying >= 3 * second // 2 and self._swung(second, noise).left <= MISFIT:
            self._rest(second, noise)
        else:
            self._does = Loose("settling")

    def _hear_sway(self) -> None:
        """What lay there until now shows whether the aircraft sways."""
        looks = self._looks
        lifted = isinstance(self._where, Lifted)
        if self._sway is None or lifted or not self._lying or not looks.prior.learned:
            return  # of what lay there when there was a gap nobody knows until when
        half, spoilt = looks.pace.second // 2, max(LEAST_SPOILT, looks.pace.second // 3)
        lying = min(self._lying, looks.pace.limit)
        values = self._stretch.tail(lying)[half:-spoilt]
        if values:
            calm = without_spikes(values, looks.noise())
            self._sway.add(calm, looks.pace.rate_hz, self._of_block(looks.noise()))

    def _of_block(self, noise: float) -> float:
        """Noise of the means of blocks, as if they hung together no more."""
        every, lag1 = block_of(self._looks.pace.rate_hz), self._looks.prior.lag1
        u = noise * math.sqrt((1.0 + lag1) / ((1.0 - lag1) * every))
        return math.hypot(u, self._looks.prior.step / math.sqrt(12.0))

    def _swung(self, run: int, noise: float) -> Fit:
        """Lay the swing through the newest samples."""
        rate_hz = self._looks.pace.rate_hz
        points, every = blocks(without_spikes(self._stretch.tail(run), noise), rate_hz)
        return fit(lay(points, every / rate_hz), self._of_block(noise), self._swing)

    def _move(self) -> None:
        self._does = Loose("in hand" if isinstance(self._where, Lifted) else "moving")

    def _rest(self, size: int, noise: float) -> None:
        at = median(sorted(self._stretch.tail(size)))
        where = self._where
        if isinstance(where, Lifted):
            self.placement += 1
            self._where = Placed(at)
        else:
            sd = math.hypot(self._looks.prior.sd, self._swing)
            where.rests(at, max(TURNED_DEG, TURNED_SDS * sd))
        self._handling.rests(at, noise)
        self._look(size, size, was_good=False)

    def _stay(self, rest: Resting) -> None:
        pace = self._looks.pace
        rest.lain += 1
        if not rest.averaged.plenty:
            rest.run = min(rest.run + 1, pace.limit)
        if rest.lain == pace.limit:
            self._know(rest)
        if self._handling.left():
            self._know(rest)
            self._does = Loose("moving")
        elif self._due(rest.every(pace, seldom=self._seldom and self._looks.prior.learned)):
            self._look(rest.run, rest.lain, was_good=rest.was_good)

    def _know(self, rest: Resting) -> None:
        """It rested until a third of a second before the last look: the newest may hold how it was left."""
        if self._swing:
            return
        second = self._looks.pace.second
        spoilt = max(LEAST_SPOILT, second // 3) + (self._unlooked if self._seldom else 0)
        enough = min(5 * second // 4, rest.lain - spoilt)
        if enough > 0:
            self._known_rest = self._stretch.tail(enough + spoilt)[:enough]

    # --- the average ----------------------------------------------------------------------

    def _look(self, run: int, lain: int, *, was_good: bool) -> None:
        looks = self._looks
        values, noise = self._stretch.tail(run), looks.noise()
        if self._swing:
            self._look_swaying(run, lain, noise, was_good=was_good)
            return
        lag1 = looks.lag1(values)
        if looks.left_in(values, noise, lag1, LEAVES):
            self._does = Loose("creeping")
            looks.crept()
            return
        got = average(values, looks.prior)
        good = got.u <= self._target
        if good and not was_good and looks.left_in(values, noise, lag1, TAKES):
            # the newer part holds less of a movement
            run, good = max(looks.pace.second, 2 * run // 3), False
        self._handling.rests(got.mean, max(noise, got.sd))
        averaged = self._averaged(got, run, good=good)
        self._does = Resting(run, lain, was_good or good, averaged)

    def _look_swaying(self, run: int, lain: int, noise: float, *, was_good: bool) -> None:
        """The middle of a swing, as unsure as the span leaves it."""
        swung = self._swung(run, noise)
        if swung.left > MISFIT:
            self._does = Loose("settling")
            return
        plain = average(self._stretch.tail(run), self._looks.prior)
        sd = math.hypot(plain.sd, self._swing)
        got = replace(plain, mean=swung.middle, u=swung.u, dof=SWAYING_DOF, n=run, sd=sd)
        spans = run >= SPAN_S * self._looks.pace.rate_hz
        good = spans and got.u <= max(SWAYING * self._target, SHARE_OF_SWING * self._swing)
        self._handling.rests(got.mean, math.hypot(noise, AS_AMPLITUDE * self._swing))
        averaged = self._averaged(got, run, good=good)
        self._does = Resting(run, lain, was_good or good, averaged)

    def _averaged(self, got: Average, run: int, *, good: bool) -> Averaged:
        part = run / self._looks.pace.limit
        done = good or part >= 1.0
        worth = min((self._target / got.u) ** 2, 0.99) if got.u > 0.0 else 0.99
        return Averaged(
            reading=self._as_reading(got, self._stretch.span(run), reached=good),
            middle=got.mean,
            plenty=good and got.u <= PLENTY * self._target,
            done=done,
            progress=1.0 if done else max(worth, part),
        )

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
            resolution_deg=self._step_deg,
            u_rounding_deg=got.u_rounding,
            u_sway_deg=0.0 if self._swing else None,
        )

    def _wrapped(self, angle_deg: float) -> float:
        return wrap_deg(angle_deg) if self._circular else angle_deg
