"""One level's pipe: bytes to facts. Knows nothing of the job.

    bytes -> codec -> sample -> tilt -> gate -> following -> facts

Every sample of a chunk carries the time of the chunk that completed it plus its index, and
no estimate divides by the time between neighbours, so chunking changes no tilt.
"""

from typing import Literal

from daemon.measure.stream.facts import (
    Fact,
    Hearing,
    LearnedFact,
    Pressed,
    RefusedFact,
    Sampled,
    Sways,
    TurnedOver,
)
from daemon.measure.stream.following import following_of
from daemon.measure.stream.gate import Gate
from daemon.measure.stream.learning import PlacementStudy
from daemon.measure.stream.motion import Motion
from daemon.measure.stream.placements import Placements
from daemon.measure.stream.presence import Presence
from daemon.measure.stream.rate import RateStudy
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.refusals import Refusals
from daemon.measure.stream.stuck import Stuck
from daemon.measure.stream.tilts import Tilt, Tilter
from daemon.measure.stream.turnover import Turnover, feels
from daemon.measure.stream.unsaid import Unsaid
from drivers import codecs
from shared.inputs import NS
from shared.job import LevelEntry
from shared.profile import LevelProfile
from shared.samples import Sample
from shared.view import LevelView

ANGLE_ROLES = frozenset({"angle", "roll", "pitch", "ax", "ay", "az"})
"""A sample without any of these (battery, signal strength) says nothing of the tilt."""
STALE_NS = NS
"""So long after a stop of the program or the machine what comes may have lain in a buffer."""
UNREAD = 5
"""So many frames in a row that cannot be read are no noise of a plug: the format or the speed is another."""
SWAYS_MORE = 1.2
"""A sway that is found to be so many times what was said is said again."""


class Pipe:
    """From the bytes of one level to facts.

    lift_deg: a quick swing by so much is a lift; seldom: see `daemon.measure.stream.settling`.
    """

    def __init__(
        self, entry: LevelEntry, profile: LevelProfile, lift_deg: float, *, seldom: bool = True
    ) -> None:
        self.entry = entry
        self.profile = profile
        self._codec = codecs.make(profile)
        self._tilter = Tilter(profile)
        self._gate = Gate(profile)
        self._stuck = Stuck(profile)
        self._following = following_of(profile, lift_deg, seldom=seldom)
        self._placements = Placements(entry.name, self._following)
        self._presence = Presence(entry.name, profile)
        self._rate = RateStudy(profile.reporting)
        self._unsaid = Unsaid(profile.reporting)
        self._study = PlacementStudy(profile)
        self._turnover = Turnover() if entry.role == "blade" and feels(profile) else None
        self._refusals = Refusals()
        self._unread_before = 0
        """So many frames could not be read when the last sample came: they do not hide the next."""
        self._hearing = False
        """What was said last of whether the level is heard."""
        self._sways = 0.0
        """How far the aircraft was last said to sway; 0: it does not."""
        self._tilt: Tilt | None = None
        """The newest; None before the first."""
        self._fresh_from_ns = 0
        """What came before this is not known to be of its time."""
        self._battery_percent: float | None = None

    @property
    def name(self) -> str:
        """The level's name in the job."""
        return self.entry.name

    @property
    def rate_hz(self) -> float:
        """Samples a second, learned or from the profile."""
        return self._rate.hz

    @property
    def last_ns(self) -> int | None:
        """Session time of the newest valid sample; None before the first."""
        return self._presence.last_ns

    @property
    def refused(self) -> dict[str, int]:
        """Frames and samples that became nothing, by reason."""
        return self._refusals.by_reason(self._codec.refused)

    @property
    def due(self) -> int | None:
        """When this level is to be called silent, unless a sample comes first.

        Of one that sends on change: when it has shown the same for another sample's time.
        """
        if not self._presence.streaming:
            return None
        silent_ns, unsaid_ns = self._presence.due, self._unsaid.due
        if silent_ns is None or unsaid_ns is None:
            return unsaid_ns if silent_ns is None else silent_ns
        return min(silent_ns, unsaid_ns)

    @property
    def streaming(self) -> bool:
        """Valid samples keep coming."""
        return self._presence.streaming

    @property
    def heard(self) -> bool:
        """What the last `Hearing` says, once there was one."""
        return self._presence.heard

    @property
    def motion(self) -> Motion | None:
        """What the level is doing; None while no valid samples come."""
        following, tilt = self._following, self._tilt
        live_deg = following.live_deg if self.streaming else None
        if live_deg is None or tilt is None:
            return None
        reading = following.reading
        return Motion(
            doing=following.doing,
            angle_deg=live_deg,
            psi_deg=tilt.psi_deg,
            progress=following.progress,
            u_deg=reading.u_deg if reading else None,
        )

    @property
    def reading(self) -> Reading | None:
        """The reading of the last `Still` or `Ready`, while that holds."""
        return self._following.agreed

    def shown(self, now_ns: int) -> LevelView:
        """Return the level's health."""
        presence, tilt = self._presence, self._tilt
        last_ns = presence.last_ns
        return LevelView(
            name=self.name,
            role=self.entry.role,
            state=presence.state,
            tilt_deg=tilt.angle_deg if tilt and presence.streaming else None,
            age_s=None if last_ns is None else (now_ns - last_ns) / NS,
            rate_hz=self.rate_hz,
            battery_percent=self._battery_percent,
            refused=self._refusals.total,
            unread=self._unread,
        )

    @property
    def _unread(self) -> bool:
        """Of a stream that is not heard; one that speaks seldom may say other things in between."""
        expected = self.profile.reporting.mode == "stream" and not self._presence.streaming
        return expected and self._codec.refused.total() - self._unread_before >= UNREAD

    def learned(self) -> list[Fact]:
        """Return what the level's stream taught about its noise; nothing while too little."""
        noise = self._study.careful()
        if noise is None:
            return []
        return [LearnedFact(self.name, "noise", noise.sd_deg, noise.lag1, noise.n)]

    # --- what happens to the level --------------------------------------------------------

    def fire(self, due_ns: int) -> list[Fact]:
        """No valid sample came until `due_ns`: of a stream that is a gap, else it is at rest."""
        if due_ns == self._unsaid.due:
            self._unsaid.missed()
            self._following.repeat(1)
            return self._placed()
        return [self._presence.silent(due_ns), *self._heard(), *self._broken()]

    def link(self, state: Literal["up", "down"], reason: str, identity: str) -> list[Fact]:
        """The link came up or went down; down forgets half-received frames."""
        if state == "up":
            return [*self._presence.up(identity), *self._heard()]
        self._codec.reset()
        return [self._presence.down(reason), *self._heard(), *self._broken()]

    def stopped(self, t_ns: int) -> list[Fact]:
        """The program or the machine stood still until now: what lay in buffers is not of now.

        What a level that sends on change sent last still holds.
        """
        if self.profile.reporting.mode != "on-change":
            self._fresh_from_ns = t_ns + STALE_NS
            self._presence.listen(self._fresh_from_ns)
        return self._broken()

    def feed(self, t_ns: int, channel: int, data: bytes) -> list[Fact]:
        """Take one chunk; return what it told."""
        facts: list[Fact] = []
        for index, sample in enumerate(self._codec.feed(channel, data)):
            if t_ns >= self._fresh_from_ns:
                facts += self._sample(t_ns + index, sample)
        for reason, count in self._refusals.news(self._codec.refused):
            facts.append(RefusedFact(self.name, reason, count))
        if self._presence.last_ns is not None and self._presence.last_ns >= t_ns:
            self._unread_before = self._codec.refused.total()
        return facts

    # --- inside ---------------------------------------------------------------------------

    def _heard(self) -> list[Fact]:
        before, self._hearing = self._hearing, self._presence.heard
        return [] if self._hearing == before else [Hearing(self.name, self._hearing)]

    def _broken(self) -> list[Fact]:
        """The stream has a gap: nothing is averaged across it."""
        self._gate.restart()
        self._stuck.restart()
        self._following.restart()
        self._rate.restart()
        self._unsaid.restart()
        return self._placements.gap(shows_hands=self.profile.reporting.mode != "on-press")

    def _sample(self, t_ns: int, sample: Sample) -> list[Fact]:
        values = sample.values
        self._battery_percent = values.get("battery", self._battery_percent)
        facts: list[Fact] = [Pressed(self.name)] if values.get("button", 0.0) > 0 else []
        if not (ANGLE_ROLES & values.keys()):
            return facts
        tilt = self._tilter.tilt(values)
        if isinstance(tilt, str):
            self._refusals.add(tilt)
        elif (reason := self._gate.refuse(values, tilt)) is not None:
            self._refusals.add(reason)
        else:
            facts += self._valid(t_ns, values, tilt)
        return facts

    def _valid(self, t_ns: int, values: dict[str, float], tilt: Tilt) -> list[Fact]:
        facts: list[Fact] = [*self._presence.sample(t_ns), *self._timed(t_ns)]
        facts += self._presence.sane(self._stuck.push(values))
        facts += self._heard()
        self._unsaid.said(t_ns)
        self._tilt = tilt
        if self.entry.role != "blade":
            facts.append(Sampled(self.name, tilt))
        self._following.push(tilt)
        return facts + self._placed() + self._turned_over(tilt, t_ns)

    def _timed(self, t_ns: int) -> list[Fact]:
        """The level may send at another rate than its profile says."""
        intervals = self._rate.push(t_ns)
        if not intervals:
            return []
        self._following.set_rate(self.rate_hz)
        return [LearnedFact(self.name, "rate", self.rate_hz, 0.0, intervals)]

    def _placed(self) -> list[Fact]:
        """Tell what the newest sample changed, and learn from it."""
        following, was_in_hand = self._following, self._placements.in_hand
        facts = self._placements.told(self.rate_hz)
        self._study.look(following.placement, following.lain_values())
        if self._placements.in_hand and not was_in_hand and (noise := self._study.usable()):
            following.set_noise(noise)
        return facts + self._swaying()

    def _turned_over(self, tilt: Tilt, t_ns: int) -> list[Fact]:
        if self._turnover is None:
            return []
        if not self._placements.in_hand:
            if self._following.doing != "moving":
                self._turnover.lie(tilt, t_ns)
            return []
        return [TurnedOver(self.name)] if self._turnover.carry(tilt, t_ns, self.rate_hz) else []

    def _swaying(self) -> list[Fact]:
        swing_deg = self._following.swing_deg
        if 0.0 < swing_deg <= SWAYS_MORE * self._sways:
            return []
        self._sways = swing_deg
        return [Sways(self.name, swing_deg)] if swing_deg else []
