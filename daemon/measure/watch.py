"""Has a held blade moved while a level lies on it? Two stages.

The detector (`detect`, `detect_noise`) notices at once that the stream is not what it was; it
raises no alarm. The confirmation waits until the shaking is over and compares the still mean
with where the blade stood before, allowing for what a level may drift meanwhile. With a witness
on hub or cowling the difference to it is compared, so that a shift of the aircraft is told from
a moved blade.

All angles in degrees, positive is coarser; the witness's in the same sense. Time is counted in
samples of the watched level: silence is told by `missed`.
"""

import math
from collections import deque
from typing import Literal

from daemon.measure import watch_words as words
from daemon.measure.detect_noise import START, Detector, Rest
from daemon.measure.watch_block import Gathering
from daemon.measure.watch_creep import Creeping
from daemon.measure.watch_judge import Judge, WatchOutcome, WatchState
from daemon.measure.watch_still import Calm, Record, mean_variance, spread
from daemon.measure.watch_track import Block, Drift, Place, taken_in
from shared.angles import difference_deg, stated
from shared.profile import Noise

__all__ = ["Watch", "WatchOutcome", "WatchState"]

STILL_S = 2.0
"""How long it must be still before the mean is judged."""
LOOKS = (1, 2, 4, 8)
"""How many times as long it is looked at while the answer is open."""
LEARN_S = 3.0
FRESH_S = 2.0
"""A witness silent for longer is not a witness."""
IN_HAND_S = 0.3
"""Off by the lift limit for so long: in a hand, not under a blow."""
SHAKEN_S = 5.0
"""How long a shaken blade must stay quiet before the shaking is told."""
PATIENCE_S = 60.0
"""Shaken for so long without a rest, it is said that nothing can be said."""
WARM_UP_S = 300.0
"""A warm-up drifts its whole span in no less than this."""
TAKEN_OFF_S = 5.0
"""Silent for so long, the level may have been off its blade and back on it."""
LOUDEST_DEG = 0.5
"""No level at rest spreads more; one that swings in a hand does."""
_PAIRED = 8
"""Quarter blocks that the pair must have been at rest where the blade's own level is not."""
_CALM = 6.0
"""A block whose samples range over more standard deviations than this was shaken."""
_MEMORY = 40
"""Blocks of the past kept, so that what the change had already spoiled can be left out."""
_CONTRADICTED = 1.5
"""A stream this many times as wide as the stated noise is believed instead."""


class Watch:
    """One level left on one held blade.

    Args:
        rate_hz: nominal samples a second.
        noise: the level's noise; with n = 0 it is learned here.
        resolution_deg: of the level.
        witness: whether another level will be told through `push_witness`.
        name: what to call the blade in sentences.
        run_length: mean samples between false starts of the detector (they raise no alarm).
        lift_deg: farther off than this, the level is in someone's hand.
        least_deg: no lasting change below this is called.
        seat_deg: standard uncertainty of putting the level back.
        drift_deg: farthest the level's zero drifts in a warm-up.
        walk_deg: random walk of its zero, a root second.
    """

    def __init__(
        self,
        *,
        rate_hz: float,
        noise: Noise,
        resolution_deg: float,
        witness: bool,
        name: str = "the watched blade",
        run_length: float = 36_000.0,
        lift_deg: float = 8.0,
        least_deg: float = 0.05,
        seat_deg: float = 0.05,
        drift_deg: float = 0.1,
        walk_deg: float = 0.001,
    ) -> None:
        self.name = name
        self._rate, self._resolution = rate_hz, resolution_deg
        self._witness, self._lift = witness, lift_deg
        both = math.sqrt(2.0)
        drift = Drift(walk_deg, drift_deg / WARM_UP_S, drift_deg)
        pair = Drift(drift.walk * both, drift.rate * both, drift.span * both)
        self._judge = Judge(name, least_deg, seat_deg, drift, pair)
        follow = max(300, round(30.0 * rate_hz))
        floor = 0.5 * resolution_deg
        self._detectors = [
            Detector(run_length=run_length, noise=one, floor=floor, follow=follow)
            for one in (noise, None)
        ]
        self._detector = self._detectors[0]
        self._pair = Rest(floor=floor, follow=follow)
        self._block = max(8, round(rate_hz))
        self._creeping = Creeping(self._block / rate_hz, least_deg)
        self._learning = Record(max(round(LEARN_S * rate_hz), START + 2))
        shortest = max(round(STILL_S * rate_hz), 8)
        self._lengths = [look * shortest for look in LOOKS]
        self._record = Record(self._lengths[-1])
        self._start()

    def _start(self) -> None:
        self._n = 0
        self._state: Literal["learning", "quiet", "unsettled"] = "learning"
        self._origin: float | None = None
        self._witness_origin: float | None = None
        self._heard: tuple[float, int] | None = None
        self._off = self._paired = self._tell_at = self._left_at = 0
        self._waiting: WatchOutcome | None = None
        self._lifted = self._lost = False
        self._gap = 0
        self._home: Place | None = None
        self._place: Place | None = None
        self._anchor: Place | None = None
        self._past: deque[Place] = deque(maxlen=_MEMORY)
        self._gathering = Gathering(rested=False)

    # --- what comes in ------------------------------------------------------------------

    def push_witness(self, angle_deg: float) -> None:
        """Take one sample of the witness, in the blade's sense."""
        if not self._witness:
            return
        if self._witness_origin is None:
            self._witness_origin = angle_deg
        self._heard = (difference_deg(angle_deg, self._witness_origin), self._n)

    def missed(self, samples: int) -> list[WatchOutcome]:
        """The level was silent for the time of so many samples; said once until it is back."""
        self._n += samples
        self._gap += samples
        self._learning.clear()
        self._record.clear()
        self._creeping.shaken()
        self._gathering = Gathering(rested=False)
        if self._lost:
            return []
        self._lost = True
        self._unsettle(self._n - samples)
        return [WatchOutcome("no signal", 0.0, 0.0, words.no_signal(self.name))]

    def push(self, angle_deg: float) -> list[WatchOutcome]:
        """Take one sample of the watched level; return what it showed, mostly nothing."""
        self._n += 1
        if self._origin is None:
            self._origin = angle_deg
        x = difference_deg(angle_deg, self._origin)
        against = self._against(x)
        if self._state == "learning":
            return self._learn(x, against)
        found = self._in_hand(x)
        if self._state == "quiet":
            self._watch(x, against)
        else:
            self._record.push(x, against)
            found += self._confirm()
        self._gathering.add(x, against)
        if self._gathering.count == self._block:
            found += self._close_block()
        return found

    @property
    def quiet(self) -> bool:
        """Whether the blade is being watched and at rest."""
        return self._state == "quiet"

    def _against(self, x: float) -> float | None:
        if self._heard is None or self._n - self._heard[1] > FRESH_S * self._rate:
            return None
        return x - self._heard[0]

    # --- learning ----------------------------------------------------------------------

    def _learn(self, x: float, against: float | None) -> list[WatchOutcome]:
        self._lost, self._gap = False, 0
        self._learning.push(x, against)
        if self._n % max(self._block // 2, 1) or not self._learning.looks_quiet():
            return []
        samples = list(self._learning.own)
        if spread(samples) > LOUDEST_DEG:
            return []
        rest = self._detector.rest
        if rest.known and spread(samples) > _CONTRADICTED * rest.sd:
            self._detector = self._detectors[1]
        for own, pair in zip(samples, self._learning.against, strict=True):
            self._detector.learn(own)
            if pair is not None:
                self._pair.learn(pair)
        block = self._block_of(self._learning.means(), len(samples))
        drift, drift_pair = self._judge.drift, self._judge.drift_pair
        self._place = self._home = taken_in(None, block, drift, drift_pair)
        self._settle(block, len(samples))
        self._gathering = Gathering(rested=True)
        variance = self._mean_variance(self._lengths[0], self._witness)
        least = self._judge.limit(math.sqrt(2.0 * variance))
        return [WatchOutcome("quiet", 0.0, stated(least), words.quiet(self.name, least))]

    def _mean_variance(self, samples: int, pair: bool) -> float:
        rest = self._pair if pair and self._pair.n >= START else self._detector.rest
        return mean_variance(rest, samples, self._resolution)

    def _block_of(self, calm: Calm, samples: int) -> Block:
        against = calm.against if self._pair.n >= START else None
        own_variance = self._mean_variance(samples, pair=False)
        pair_variance = self._mean_variance(samples, pair=True)
        return Block(self._n / self._rate, calm.own, own_variance, against, pair_variance)

    # --- watching ----------------------------------------------------------------------

    def _watch(self, x: float, against: float | None) -> None:
        if self._detector.push(x):
            since = self._detector.since
            self._unsettle(self._n - since - since // 2 - 2)
            self._record.push(x, against)

    def _unsettle(self, onset: int) -> None:
        """Leave the quiet; remember where the blade stood before sample `onset`."""
        if self._state != "quiet":
            return
        before = [place for place in self._past if place.t * self._rate <= onset]
        self._anchor = before[-1] if before else (self._past[0] if self._past else self._place)
        self._state = "unsettled"
        self._gathering.rested = False
        self._record.clear()
        self._paired = 0
        self._left_at = self._n

    def _in_hand(self, x: float) -> list[WatchOutcome]:
        assert self._place is not None
        far = abs(x - self._place.own.mean) > self._lift
        self._off = self._off + 1 if far else 0
        if self._lifted or self._off < max(3.0, IN_HAND_S * self._rate):
            return []
        self._unsettle(self._n - self._off)
        self._lifted = True
        return [WatchOutcome("lifted", 0.0, 0.0, words.lifted(self.name))]

    # --- blocks ------------------------------------------------------------------------

    def _close_block(self) -> list[WatchOutcome]:
        done = self._gathering
        block = self._block_of(done.means(), done.count)
        rest = self._detector.rest if block.against is None else self._pair
        if done.span > _CALM * rest.sd:
            self._creeping.shaken()
        else:
            self._creeping.take(block)
        if self._state == "quiet" and done.rested:
            self._take_in(block, done.pairs)
        self._gathering = Gathering(rested=self._state == "quiet")
        return self._creeps() + self._told_late() + self._wandered()

    def _take_in(self, block: Block, pairs: list[float]) -> None:
        """Follow the place, unless the pair disagrees with it: then something was knocked."""
        assert self._place is not None
        stand, judge = self._place.against, self._judge
        if block.against is not None and stand is not None:
            u = math.sqrt(stand.later(block.t, judge.drift_pair) + block.against_variance)
            if abs(block.against - stand.mean) > max(6.0 * u, judge.least):
                self._unsettle(self._n - 2 * self._block)
                return
        self._place = taken_in(self._place, block, judge.drift, judge.drift_pair)
        self._past.append(self._place)
        for pair in pairs:
            self._pair.learn(pair)

    def _creeps(self) -> list[WatchOutcome]:
        if self._lifted or self._lost or not self._creeping.starts(self._kept()):
            return []
        found = self._creeping
        self._unsettle(self._n - (found.span + 1) * self._block)
        assert self._anchor is not None
        per_second = found.step * self._rate / self._block
        so_far = found.step * (found.span - 1)
        return [self._judge.creeping(found.blocks[-1], self._anchor, per_second, so_far)]

    def _kept(self) -> float:
        """Correlation of neighbouring blocks: what is left of lag-1 over a block."""
        pair = self._pair.lag1 if self._pair.n >= START else 0.0
        kept = 1.0
        for _ in range(self._block):
            kept *= max(self._detector.rest.lag1, pair)
        return kept

    def _told_late(self) -> list[WatchOutcome]:
        """A train of blows is one shaking, told when it is over, or when it does not end."""
        waiting = self._waiting
        if self._state == "quiet" and waiting is not None and self._n >= self._tell_at:
            self._waiting = None
            return [waiting]
        unsettled = self._state == "unsettled" and not (self._lifted or self._lost)
        if unsettled and self._n - self._left_at >= PATIENCE_S * self._rate > 0:
            self._left_at = self._n + round(1e9 * self._rate)
            say = words.never_still(self.name, PATIENCE_S)
            return [WatchOutcome("shaken", 0.0, 0.0, say)]
        return []

    def _wandered(self) -> list[WatchOutcome]:
        if self._state != "quiet" or self._n % (10 * self._block) >= self._block:
            return []
        assert self._place is not None
        assert self._home is not None
        outcome = self._judge.wandered(self._place, self._home)
        if outcome is None:
            return []
        self._home = self._place
        return [outcome]

    # --- confirming ---------------------------------------------------------------------

    def _confirm(self) -> list[WatchOutcome]:
        """Once it is still: what is left of the change.

        A change that is neither plain nor plainly none is looked at for longer, so that a
        blade is not cleared on a mean too short to clear it.
        """
        if self._n % max(self._block // 4, 1) or self._creeping.on:
            return []
        assert self._anchor is not None
        for length in self._lengths:
            record = self._record.last(length)
            if not self._at_rest(record, length):
                return []
            calm = record.means()
            if abs(calm.own - self._anchor.own.mean) > self._lift:
                return []
            block = self._block_of(calm, length)
            outcome, open_still = self._judge.outcome(
                block, self._anchor, lifted=self._lifted or self._taken_off(), back=self._lost
            )
            if not open_still:
                break
        return self._confirmed(block, outcome, length)

    def _taken_off(self) -> bool:
        """Whether it was silent long enough to have been laid on anew."""
        return self._lost and self._gap >= TAKEN_OFF_S * self._rate

    def _at_rest(self, record: Record, length: int) -> bool:
        """The blade's own level at rest, or for a while at least its difference to the witness.

        A rocking aircraft never rests, but a shift that has just come should be let through.
        """
        if record.own_at_rest(self._detector.rest):
            return True
        at_rest = record.pair_at_rest(self._pair)
        if length == self._lengths[0]:
            self._paired = self._paired + 1 if at_rest else 0
        return at_rest and self._paired >= _PAIRED

    def _confirmed(self, block: Block, outcome: WatchOutcome, samples: int) -> list[WatchOutcome]:
        assert self._anchor is not None
        assert self._home is not None
        self._place, self._home, anew = self._judge.new_place(
            block, self._anchor, self._home, outcome.state
        )
        if anew:
            self._past.clear()
        self._lifted = self._lost = False
        self._gap = 0
        self._settle(block, samples)
        if outcome.state == "shaken":
            self._waiting = outcome
            self._tell_at = self._n + round((SHAKEN_S - STILL_S) * self._rate)
            return []
        return [outcome]

    def _settle(self, block: Block, samples: int) -> None:
        assert self._place is not None
        self._state = "quiet"
        self._gathering.rested = False
        self._past.append(self._place)
        self._detector.recentre(block.own, samples)
        if block.against is not None:
            self._pair.recentre(block.against, samples)
