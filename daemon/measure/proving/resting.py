"""A level that is left alone: its samples, until they are enough to tell its noise.

Pure, as `placing.py`, and told the same: facts of a pipe and seconds in, words out.
"""

from collections.abc import Sequence

from daemon.measure.stream.facts import Fact, InHand, LinkFact, Ready, Restless, Sampled, Still
from daemon.measure.stream.learning import NoiseStudy
from daemon.measure.stream.reading import Reading
from shared.profile import LevelProfile, Noise

STRETCH = 25
"""Samples of one stretch: the study leaves out those that moved."""
FEWEST, LEAST_S = 125, 10.0
"""So many samples and seconds are wanted: a session uses what was learned from 120 on."""
AGAIN_S = 20.0


class Resting:
    """Follows one level that shall lie still.

    Attributes:
        readings: none; this is no placement.
        rate_hz: samples a second, as the level was heard.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self.readings: list[Reading] = []
        self.rate_hz = profile.reporting.rate_hz
        self._study = NoiseStudy(profile)
        self._stretch: list[float] = []
        self._still = False
        self._samples = 0
        self._from_s: float | None = None
        self._now_s = self._told_s = 0.0

    @property
    def done(self) -> bool:
        """Whether there is enough."""
        return self._samples >= FEWEST and self._lain_s >= LEAST_S

    @property
    def _lain_s(self) -> float:
        return 0.0 if self._from_s is None else self._now_s - self._from_s

    def begin(self, now_s: float) -> list[str]:
        """Return what the person does."""
        self._told_s = now_s
        return ["lay the level on something steady and leave it alone, hands off"]

    def take(self, now_s: float, facts: Sequence[Fact], rate_hz: float) -> list[str]:
        """Take what the pipe told at this time, and its rate; return words."""
        self._now_s, self.rate_hz = now_s, rate_hz
        said = []
        for fact in facts:
            if isinstance(fact, InHand | Restless):
                self._still = False
                self._stretch.clear()
            elif isinstance(fact, Still | Ready):
                self._still = True
            elif isinstance(fact, Sampled) and self._still:
                self._add(fact.tilt.angle_deg)
            elif isinstance(fact, LinkFact):
                said.append(f"{fact.level}: {fact.state} {fact.reason}".rstrip())
        return said

    def waiting(self, now_s: float, motion: str, progress: float) -> str:
        """Return a line on how far it is, or what is waited for; "" when nothing is new."""
        del motion, progress
        if self.done:
            return ""
        if self._still:
            share = min(self._samples / FEWEST, self._lain_s / LEAST_S, 0.99)
            return f"listening, {100.0 * share:.0f} %: leave it alone"
        if now_s - self._told_s < AGAIN_S:
            return ""
        self._told_s = now_s
        return "waiting for it to lie still"

    def noise(self) -> Noise | None:
        """Return what was learned, as later sessions may use it; None while it is too little."""
        return self._study.careful()

    def _add(self, angle_deg: float) -> None:
        if self._from_s is None:
            self._from_s = self._now_s
        self._stretch.append(angle_deg)
        if len(self._stretch) == STRETCH:
            self._study.add(self._stretch)
            self._samples += STRETCH
            self._stretch.clear()
