"""One short check of a level: which placement comes next, and when its average counts.

Pure: facts of a pipe and seconds go in, words for the person come out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from daemon.measure.stream.facts import Fact, InHand, LinkFact, Ready
from daemon.measure.stream.reading import Reading
from shared.angles import difference_deg
from shared.profile import LevelProfile

AGAIN_S = 20.0
"""After so long without the next placement the person is told once more what is wanted."""
ELSEWHERE_DEG, ELSEWHERE_SDS = 0.3, 6.0
"""A level that rests this far from where it was read has been laid anew, lifted or not."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One placement of a check.

    Attributes:
        say: what the person does, one sentence without a full stop.
        lead_s: seconds the person has for it; only samples after them are averaged.
        lifted: the level must have been lifted, or lie visibly elsewhere, since the last.
    """

    say: str
    lead_s: float = 0.0
    lifted: bool = False


class Placing:
    """Follows one level through the stages of a check.

    Args:
        profile: the level; one that sends on a press is read when its button is pressed,
            without lead or lifting.
        stages: at least one.
        stays: the level must not be lifted between the stages; they begin anew where it was.

    Attributes:
        readings: one a stage that is over.
    """

    def __init__(
        self, profile: LevelProfile, stages: Sequence[Stage], *, stays: bool = False
    ) -> None:
        self.readings: list[Reading] = []
        self._stages = stages
        self._stays = stays
        self._presses = profile.reporting.mode == "on-press"
        self._lifted = False
        self._from_s = self._told_s = 0.0
        self._placement = 0

    @property
    def done(self) -> bool:
        """Whether every stage has its reading."""
        return len(self.readings) == len(self._stages)

    def begin(self, now_s: float) -> list[str]:
        """Begin the stage that is next; return what to say."""
        stage = self._stages[len(self.readings)]
        lead_s = 0.0 if self._presses else stage.lead_s
        self._from_s, self._told_s = now_s + lead_s, now_s
        self._lifted = False
        press = ", then press its button" if self._presses else ""
        ahead = f"; averaging begins in {lead_s:g} s" if lead_s else ""
        return [f"{stage.say}{press}{ahead}"]

    def take(self, now_s: float, facts: Sequence[Fact], rate_hz: float) -> list[str]:
        """Take what the pipe told at this time, and its rate; return words."""
        words = [_link(fact) for fact in facts if isinstance(fact, LinkFact)]
        if self.done:
            return words
        gap = any(isinstance(fact, LinkFact) for fact in facts)
        if not gap and any(isinstance(fact, InHand) for fact in facts):
            words += self._in_hand(now_s)
        for fact in facts:
            if isinstance(fact, Ready) and not self.done:
                words += self._ready(now_s, fact, rate_hz)
        return words

    def waiting(self, now_s: float, motion: str, progress: float) -> str:
        """Return a line on how far it is, or what is waited for; "" when nothing is new."""
        if self.done or self._presses:
            return ""
        if now_s < self._from_s:
            return ""
        if motion in {"still", "ready"} and not self._waits_for_lift:
            return f"averaging, {100.0 * min(progress, 0.99):.0f} %: leave it alone"
        if now_s - self._told_s < AGAIN_S:
            return ""
        self._told_s = now_s
        clear = " (lift it well clear of where it lay)" if self._waits_for_lift else ""
        return f"waiting for it to rest: {self._stages[len(self.readings)].say}{clear}"

    @property
    def _waits_for_lift(self) -> bool:
        return self._stages[len(self.readings)].lifted and not self._lifted

    def _in_hand(self, now_s: float) -> list[str]:
        self._lifted = True
        if not (self._stays and self.readings):
            return []
        self.readings.clear()
        return ["the level was lifted: it must stay as it is, so begin again", *self.begin(now_s)]

    def _ready(self, now_s: float, fact: Ready, rate_hz: float) -> list[str]:
        if not self._counts(now_s, fact, rate_hz):
            return []
        reading = fact.reading
        self.readings.append(reading)
        self._placement = fact.placement
        taken = f"taken: {reading.mean_deg:.2f} from {_samples(reading.n)}"
        return [taken] if self.done else [taken, *self.begin(now_s)]

    def _counts(self, now_s: float, fact: Ready, rate_hz: float) -> bool:
        if self._presses:
            return fact.placement != self._placement
        if not self._stages[len(self.readings)].lifted:
            return now_s - self._from_s >= fact.reading.n / rate_hz
        return self._lifted or self._elsewhere(fact.reading)

    def _elsewhere(self, reading: Reading) -> bool:
        far = max(ELSEWHERE_DEG, ELSEWHERE_SDS * reading.sd_deg)
        return abs(difference_deg(reading.mean_deg, self.readings[-1].mean_deg)) > far


def _samples(n: int) -> str:
    return "1 sample" if n == 1 else f"{n} samples"


def _link(fact: LinkFact) -> str:
    words = {
        "up": f"{fact.level} is connected: {fact.reason}",
        "back": f"{fact.level} is heard again after {fact.gap_s:.1f} s",
    }
    return words.get(fact.state, f"{fact.level}: {fact.reason}")
