"""One level's pipe: bytes to facts. Knows nothing of the job.

    bytes -> codec -> sample -> tilt -> gate -> settling -> facts

Every sample of a chunk carries the time of the chunk that completed it plus its index, and
no estimate divides by the time between neighbours, so chunking changes no tilt.
"""

from collections import Counter, deque
from collections.abc import Callable
from typing import Literal

from daemon.facts import (
    Crept,
    Fact,
    InHand,
    LearnedFact,
    LinkFact,
    Pressed,
    Ready,
    RefusedFact,
    Rested,
    Sampled,
)
from daemon.measure.average import LEARNED
from daemon.measure.gate import Gate
from daemon.measure.learn import NoiseStudy
from daemon.measure.reading import Reading
from daemon.measure.settle import Settling
from daemon.measure.stuck import Stuck
from daemon.measure.tilts import Tilt, Tilter
from drivers import codecs
from shared.angles import difference_deg
from shared.inputs import NS
from shared.job import LevelEntry
from shared.profile import LevelProfile
from shared.samples import Sample
from shared.view import LevelView, Live

RATE_LEARNED_OVER_S = 5.0
"""An unbroken stream this long tells the level's real rate."""
RATE_WORTH_SAYING = 0.2
"""Relative difference from the profile's rate below which the profile stands."""

AGREES = 5.0
"""Standard deviations of one sample that the newest may be from the average."""
ANGLE_ROLES = frozenset({"angle", "roll", "pitch", "ax", "ay", "az"})
"""A sample without any of these (battery, signal strength) says nothing of the tilt."""


class Pipe:
    """From the bytes of one level to facts."""

    def __init__(self, entry: LevelEntry, profile: LevelProfile, lift_deg: float) -> None:
        self.entry = entry
        self.profile = profile
        self.state: Literal["waiting", "streaming", "silent", "down", "stuck"] = "waiting"
        self.last_ns: int | None = None
        self.battery_percent: float | None = None
        self.rate_hz = profile.reporting.rate_hz
        self.tilt: Tilt | None = None
        self.settling = Settling(profile, lift_deg)
        self._codec = codecs.make(profile)
        self._tilter = Tilter(profile)
        self._gate = Gate(profile)
        self._stuck = Stuck(profile)
        self._is_stuck = False
        self._mode: float | None = None
        self._refused: Counter[str] = Counter()
        self._newest: deque[float] = deque(maxlen=3)
        self._said: Counter[str] = Counter()
        self._refused_total = 0
        self._identity = ""
        self._stream_from_ns: int | None = None
        self._stream_count = 0
        self._rate_learned = False
        self._gap = False
        self._rested_placement = 0
        self._creeping = 0
        self._noise = NoiseStudy(profile)
        self._studied = 0
        """The last placement whose noise was studied: one stretch of each."""
        self._in_hand = False

    @property
    def name(self) -> str:
        """The level's name in the job."""
        return self.entry.name

    @property
    def refused(self) -> dict[str, int]:
        """Frames and samples that became nothing, by reason."""
        return dict(sorted((self._refused + self._codec.refused).items()))

    @property
    def due(self) -> int | None:
        """When this level is to be called silent, unless a sample comes first."""
        if self.state != "streaming" or self.last_ns is None:
            return None
        if self.profile.reporting.mode != "stream":
            return None
        return self.last_ns + round(self.profile.transport.silent_after_s * NS)

    def age_s(self, now_ns: int) -> float | None:
        """Return the age of the newest valid sample."""
        return None if self.last_ns is None else (now_ns - self.last_ns) / NS

    @property
    def streaming(self) -> bool:
        """Valid samples keep coming."""
        return self.state == "streaming"

    @property
    def heard(self) -> bool:
        """The level was heard and is not known to be silent; only a stream can be missed."""
        by_itself = self.profile.reporting.mode != "stream" and self.state != "down"
        return self.streaming or by_itself

    @property
    def live(self) -> Live | None:
        """Motion, progress and filtered angle of the stream, in the level's own terms.

        `target_deg` carries the blade's own azimuth where the level knows it.
        """
        settling = self.settling
        if not self.streaming or settling.live_deg is None:
            return None
        reading = settling.reading
        return Live(
            angle_deg=settling.live_deg,
            error_deg=None,
            target_deg=self.tilt.psi_deg if self.tilt else None,
            words="",
            motion=settling.motion,
            progress=settling.progress,
            u_deg=reading.u_deg if reading else None,
            may_take=False,
            taken=False,
        )

    @property
    def reading(self) -> Reading | None:
        """The running average, if the level is still and its newest samples say so too.

        A robust average takes the first samples of a level that is just leaving for outliers.
        """
        reading = self.settling.reading
        if reading is None:
            return None
        far = AGREES * max(reading.sd_deg, self.profile.noise.sd_deg, reading.resolution_deg)
        off = [abs(difference_deg(angle, reading.mean_deg)) > far for angle in self._newest]
        return None if sum(off) > 1 or off[-1:] == [True] else reading

    def shown(self, now_ns: int) -> LevelView:
        """Return the level's health."""
        return LevelView(
            name=self.name,
            role=self.entry.role,
            state=self.state,
            tilt_deg=self.tilt.angle_deg if self.tilt and self.streaming else None,
            age_s=self.age_s(now_ns),
            rate_hz=self.rate_hz,
            battery_percent=self.battery_percent,
            refused=self._refused_total,
        )

    def learned(self) -> list[Fact]:
        """Return what the level's stream taught about its noise; nothing while too little."""
        noise = self._noise.careful()
        if noise is None:
            return []
        return [LearnedFact(self.name, "noise", noise.sd_deg, noise.lag1, noise.n)]

    def fire(self, due_ns: int) -> list[Fact]:
        """No valid sample came until `due_ns`."""
        self.state = "silent"
        gap_s = (due_ns - (self.last_ns or 0)) / NS
        return [LinkFact(self.name, "silent", f"no sample for {gap_s:g} s", gap_s), *self._broken()]

    def link(self, state: Literal["up", "down"], reason: str, identity: str) -> list[Fact]:
        """The link came up or went down; down forgets half-received frames."""
        if state == "up":
            return self._up(identity)
        self._codec.reset()
        self.state = "down"
        return [LinkFact(self.name, "down", reason), *self._broken()]

    def feed(self, t_ns: int, channel: int, data: bytes) -> list[Fact]:
        """Take one chunk; return what it told."""
        facts: list[Fact] = []
        for index, sample in enumerate(self._codec.feed(channel, data)):
            self._sample(t_ns + index, sample, facts.append)
        self._say_refused(facts.append)
        return facts

    def _up(self, identity: str) -> list[Fact]:
        swapped = bool(self._identity and identity and identity != self._identity)
        facts: list[Fact] = [LinkFact(self.name, "up", identity)]
        if swapped:
            facts.append(LinkFact(self.name, "swapped", f"was {self._identity}, now {identity}"))
        self._identity = identity or self._identity
        if self.state == "down":
            self.state = "waiting"
        return facts

    def _broken(self) -> list[Fact]:
        """The stream has a gap: nothing is averaged across it."""
        self._gate.restart()
        self._stuck.restart()
        self.settling.restart()
        self._stream_from_ns = None
        self._gap = True
        was_resting = not self._in_hand
        self._in_hand = True
        return [InHand(self.name)] if was_resting else []

    def _sample(self, t_ns: int, sample: Sample, say: Callable[[Fact], None]) -> None:
        values = sample.values
        if "battery" in values:
            self.battery_percent = values["battery"]
        if values.get("button", 0.0) > 0:
            say(Pressed(self.name))
        if not (ANGLE_ROLES & values.keys()):
            return
        tilt = self._tilter.tilt(values)
        reason = tilt if isinstance(tilt, str) else self._gate.refuse(values, tilt)
        if reason is not None:
            self._refused[reason] += 1
            return
        assert isinstance(tilt, Tilt)
        self._heard(t_ns, say)
        self._whether_sane(values, say)
        self.tilt = tilt
        if self.entry.role != "blade":
            say(Sampled(self.name, tilt))
        self._newest.append(tilt.angle_deg)
        self.settling.push(tilt)
        self._motion(say)

    def _whether_sane(self, values: dict[str, float], say: Callable[[Fact], None]) -> None:
        """Notice a level that repeats itself, or that was put into another mode of its own."""
        stuck = self._stuck.push(values)
        if stuck is not None and not self._is_stuck:
            say(LinkFact(self.name, "stuck", stuck))
        self._is_stuck = stuck is not None
        if self._is_stuck:
            self.state = "stuck"
        mode = values.get("mode")
        if mode is not None and self._mode is not None and mode != self._mode:
            say(LinkFact(self.name, "mode", f"it was in mode {self._mode:g}, now in {mode:g}"))
        self._mode = mode if mode is not None else self._mode

    def _heard(self, t_ns: int, say: Callable[[Fact], None]) -> None:
        """A valid sample arrived: the level is streaming, and its rate may be learned."""
        if self._gap and self.last_ns is not None:
            say(LinkFact(self.name, "back", "", (t_ns - self.last_ns) / NS))
        self._gap = False
        self.state = "streaming"
        self.last_ns = t_ns
        if self._stream_from_ns is None:
            self._stream_from_ns, self._stream_count = t_ns, 0
        else:
            self._stream_count += 1
        elapsed_s = (t_ns - self._stream_from_ns) / NS
        if not self._rate_learned and elapsed_s >= RATE_LEARNED_OVER_S:
            self._learn_rate(self._stream_count / elapsed_s, say)

    def _learn_rate(self, rate_hz: float, say: Callable[[Fact], None]) -> None:
        self._rate_learned = True
        if self.profile.reporting.mode != "stream":
            return
        stated_hz = self.profile.reporting.rate_hz
        if abs(rate_hz - stated_hz) > RATE_WORTH_SAYING * stated_hz:
            self.rate_hz = rate_hz
            self.settling.set_rate(rate_hz)
            say(LearnedFact(self.name, "rate", rate_hz, 0.0, self._stream_count))

    def _motion(self, say: Callable[[Fact], None]) -> None:
        """Turn changes of the settling's state into facts."""
        settling = self.settling
        in_hand = settling.motion == "in hand"
        if in_hand and not self._in_hand:
            say(InHand(self.name))
            self._use_noise()
        self._in_hand = in_hand
        if settling.placement > self._rested_placement:
            self._rested_placement = settling.placement
            say(Rested(self.name, settling.placement))
        self._creeping = self._creeping + 1 if settling.motion == "creeping" else 0
        if 2 * self._creeping > self.rate_hz and settling.live_deg is not None:
            say(Crept(self.name, settling.placement, settling.live_deg))
        if settling.motion == "ready" and self.reading is not None:
            say(Ready(self.name, settling.placement, settling.turned))
        self._study()

    def _study(self) -> None:
        """Take a little over a second of each placement for the study of the noise."""
        settling = self.settling
        if settling.placement != self._studied and (values := settling.lain_values()):
            self._studied = settling.placement
            self._noise.add(values)

    def _use_noise(self) -> None:
        """Where nobody knew the level's noise, go on with what it has taught so far."""
        if self.profile.noise.n < LEARNED and (noise := self._noise.usable()) is not None:
            self.settling.set_noise(noise)

    def _say_refused(self, say: Callable[[Fact], None]) -> None:
        total = self._refused.total() + self._codec.refused.total()
        if total == self._refused_total:
            return
        self._refused_total = total
        for reason, count in self.refused.items():
            reached = 10 ** (len(str(count)) - 1)
            if reached > self._said[reason]:
                self._said[reason] = reached
                say(RefusedFact(self.name, reason, reached))
