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
from dataclasses import dataclass
from typing import Literal

from daemon.measure import watch_words as words
from daemon.measure.detect_noise import START, Detector, Rest
from daemon.measure.watch_still import Calm, Record, mean_variance, spread
from daemon.measure.watch_track import Block, Drift, Place, Stand, creep, slope, taken_in
from shared.angles import difference_deg, stated
from shared.profile import Noise

WatchState = Literal["changed", "moved", "creeping", "shaken", "lifted", "no signal", "quiet"]

K95 = 1.96
LIMIT = 5.0
"""A lasting change is called at this many standard uncertainties of it."""
OPEN = 2.0
"""Under this many it is none; between the two it is looked at for longer."""
STILL_S = 2.0
"""How long it must be still before the mean is judged."""
LOOKS = (1, 2, 4, 8)
"""How many times as long it is looked at while the answer is open."""
LEARN_S = 3.0
FRESH_S = 2.0
"""A witness silent for longer is not a witness."""
IN_HAND_S = 0.3
"""Off by the lift limit for so long: in a hand, not under a blow."""
CREEP_DEG_PER_S = 0.003
SPANS = (6, 10, 20)
"""Blocks (seconds) over which a creep is looked for: the slower, the longer it takes."""
ENDED = 12
"""Blocks over which a creep is seen to have ended."""
_MEMORY = 40
"""Blocks of the past kept, so that what the change had already spoiled can be left out."""
_PAIRED = 8
"""Quarter seconds that the pair must have been at rest where the blade's own level is not."""
_CALM = 6.0
"""A second whose samples range over more standard deviations than this was shaken."""
SHAKEN_S = 5.0
"""How long a shaken blade must stay quiet before the shaking is told."""
_CONTRADICTED = 1.5
"""A stream this many times as wide as the stated noise is believed instead."""


@dataclass(frozen=True, slots=True)
class WatchOutcome:
    """What a watched level saw; the words are those of `shared.events.Watched`."""

    state: WatchState
    change_deg: float
    u95_deg: float
    say: str


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
        self._rate = rate_hz
        self._resolution = resolution_deg
        self._witness = witness
        self._lift, self._least, self._seat = lift_deg, least_deg, seat_deg
        self._drift = Drift(walk_deg, drift_deg / 300.0, drift_deg)
        both = math.sqrt(2.0)
        self._drift_pair = Drift(walk_deg * both, drift_deg * both / 300.0, drift_deg * both)
        self._block = max(8, round(rate_hz))
        self._creep_step = CREEP_DEG_PER_S * self._block / rate_hz
        self._creep = 0.0
        follow = max(300, round(30.0 * rate_hz))
        floor = 0.5 * resolution_deg
        self._detectors = [
            Detector(run_length=run_length, noise=one, floor=floor, follow=follow)
            for one in (noise, None)
        ]
        self._detector = self._detectors[0]
        self._pair = Rest(floor=floor, follow=follow)
        self._learning = Record(max(round(LEARN_S * rate_hz), START + 2))
        shortest = max(round(STILL_S * rate_hz), 8)
        self._lengths = [look * shortest for look in LOOKS]
        self._record = Record(self._lengths[-1])
        self._n = 0
        self._origin: float | None = None
        self._witness_origin: float | None = None
        self._heard: tuple[float, int] | None = None
        self._state: Literal["learning", "quiet", "unsettled"] = "learning"
        self._off = self._tell_at = self._paired = 0
        self._waiting: WatchOutcome | None = None
        self._lifted = self._lost = self._creeping = False
        self._home: Place | None = None
        self._place: Place | None = None
        self._anchor: Place | None = None
        self._past: deque[Place] = deque(maxlen=_MEMORY)
        self._blocks: deque[Block] = deque(maxlen=SPANS[-1])
        self._open_block()

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
        self._learning.clear()
        self._record.clear()
        self._blocks.clear()
        self._open_block()
        if self._lost:
            return []
        self._lost = True
        self._unsettle(self._n - samples)
        return [WatchOutcome("no signal", 0.0, 0.0, words.no_signal(self.name))]

    def push(self, angle_deg: float) -> list[WatchOutcome]:
        """Take one sample of the watched level; return what it showed, mostly nothing."""
        self._n += 1
        x = self._turned(angle_deg)
        against = self._against(x)
        if self._state == "learning":
            return self._learn(x, against)
        found = self._in_hand(x)
        if self._state == "quiet":
            self._watch(x, against)
        else:
            self._record.push(x, against)
            found += self._confirm()
        self._gather(x, against)
        if self._count == self._block:
            found += self._close_block()
        return found

    @property
    def quiet(self) -> bool:
        """Whether the blade is being watched and at rest."""
        return self._state == "quiet"

    def _turned(self, angle_deg: float) -> float:
        """Angles are counted from the first one, so that 180 is no edge."""
        if self._origin is None:
            self._origin = angle_deg
        return difference_deg(angle_deg, self._origin)

    def _against(self, x: float) -> float | None:
        if self._heard is None or self._n - self._heard[1] > FRESH_S * self._rate:
            return None
        return x - self._heard[0]

    @property
    def _t(self) -> float:
        return self._n / self._rate

    # --- learning ----------------------------------------------------------------------

    def _learn(self, x: float, against: float | None) -> list[WatchOutcome]:
        self._lost = False
        self._learning.push(x, against)
        if self._n % max(self._block // 2, 1) or not self._learning.looks_quiet():
            return []
        samples = list(self._learning.own)
        rest = self._detector.rest
        if rest.known and spread(samples) > _CONTRADICTED * rest.sd:
            self._detector = self._detectors[1]
        for own, pair in zip(samples, self._learning.against, strict=True):
            self._detector.learn(own)
            if pair is not None:
                self._pair.learn(pair)
        block = self._block_of(self._learning.means(), len(samples))
        self._place = self._home = taken_in(None, block, self._drift, self._drift_pair)
        self._settle(block, len(samples))
        self._open_block()
        return [self._said_quiet()]

    def _said_quiet(self) -> WatchOutcome:
        least = max(self._least, LIMIT * math.sqrt(2.0 * self._mean_variance(self._witness)))
        return WatchOutcome("quiet", 0.0, stated(least), words.quiet(self.name, least))

    def _mean_variance(self, pair: bool, samples: int = 0) -> float:
        rest = self._pair if pair and self._pair.n >= START else self._detector.rest
        return mean_variance(rest, samples or self._lengths[0], self._resolution)

    def _block_of(self, calm: Calm, samples: int) -> Block:
        against = calm.against if self._pair.n >= START else None
        return Block(
            self._t,
            calm.own,
            self._mean_variance(False, samples),
            against,
            self._mean_variance(True, samples),
        )

    # --- watching ----------------------------------------------------------------------

    def _watch(self, x: float, against: float | None) -> None:
        if self._detector.push(x):
            since = self._detector.since
            self._unsettle(self._n - since - since // 2 - 2)
            self._record.push(x, against)
        elif against is not None:
            self._unlearned.append(against)

    def _unsettle(self, onset: int) -> None:
        """Leave the quiet; remember where the blade stood before sample `onset`."""
        if self._state != "quiet":
            return
        before = [place for place in self._past if place.t * self._rate <= onset]
        self._anchor = before[-1] if before else (self._past[0] if self._past else self._place)
        self._state = "unsettled"
        self._rested = False
        self._record.clear()
        self._paired = 0

    def _in_hand(self, x: float) -> list[WatchOutcome]:
        assert self._place is not None
        far = abs(x - self._place.own.mean) > self._lift
        self._off = self._off + 1 if far else 0
        if self._lifted or self._off < max(3.0, IN_HAND_S * self._rate):
            return []
        self._unsettle(self._n - self._off)
        self._lifted = True
        return [WatchOutcome("lifted", 0.0, 0.0, words.lifted(self.name))]

    # --- blocks of a second ------------------------------------------------------------

    def _open_block(self) -> None:
        self._count, self._heard_all, self._rested = 0, True, self._state == "quiet"
        self._unlearned: list[float] = []
        self._sum_own = self._sum_against = self._low = self._high = 0.0

    def _gather(self, x: float, against: float | None) -> None:
        best = x if against is None else against
        self._low = min(self._low, best) if self._count else best
        self._high = max(self._high, best) if self._count else best
        self._count += 1
        self._sum_own += x
        if against is None:
            self._heard_all = False
        else:
            self._sum_against += against

    def _close_block(self) -> list[WatchOutcome]:
        against = self._sum_against / self._count if self._heard_all else None
        block = self._block_of(Calm(self._sum_own / self._count, against), self._count)
        if self._high - self._low > _CALM * math.sqrt(self._sample_variance(block)):
            self._blocks.clear()
        else:
            self._blocks.append(block)
        if self._state == "quiet" and self._rested:
            self._take_in(block)
        self._open_block()
        found = self._creeps() + self._shaken_at_last()
        if not found and self._state == "quiet" and self._n % (10 * self._block) < self._block:
            found = self._wandered()
        return found

    def _sample_variance(self, block: Block) -> float:
        rest = self._detector.rest if block.against is None else self._pair
        return rest.sd * rest.sd

    def _shaken_at_last(self) -> list[WatchOutcome]:
        """A train of blows is one shaking: it is told when the blade has stayed quiet."""
        waiting = self._waiting
        if waiting is None or self._state != "quiet" or self._n < self._tell_at:
            return []
        self._waiting = None
        return [waiting]

    def _take_in(self, block: Block) -> None:
        """Follow the place, unless the pair disagrees with it: then something was knocked."""
        assert self._place is not None
        stand = self._place.against
        if block.against is not None and stand is not None:
            u = math.sqrt(stand.later(block.t, self._drift_pair) + block.against_variance)
            if abs(block.against - stand.mean) > max(6.0 * u, self._least):
                self._unsettle(self._n - 2 * self._block)
                return
        self._place = taken_in(self._place, block, self._drift, self._drift_pair)
        self._past.append(self._place)
        for pair in self._unlearned:
            self._pair.learn(pair)

    def _creeps(self) -> list[WatchOutcome]:
        if self._lifted or self._lost:
            return []
        if self._creeping:
            self._creeping = self._creeps_on()
            if not self._creeping:
                self._blocks.clear()
            return []
        for length in SPANS:
            last = self._last_blocks(length)
            step = creep(last, self._creep_step, self._least, self._kept()) if last else 0.0
            if step:
                return self._said_creeping(step, length)
        return []

    def _kept(self) -> float:
        """Correlation of neighbouring blocks: what is left of lag-1 over a block."""
        pair = self._pair.lag1 if self._pair.n >= START else 0.0
        return float(max(self._detector.rest.lag1, pair) ** self._block)

    def _last_blocks(self, length: int) -> list[Block]:
        """Return the last blocks where there are enough, all with or all without the witness."""
        last = list(self._blocks)[-length:]
        heard = {one.against is None for one in last}
        return last if len(last) == length and len(heard) == 1 else []

    def _creeps_on(self) -> bool:
        """A creep has ended when the last blocks rise by less than half of it."""
        last = self._last_blocks(ENDED)
        if not last:
            return len(self._blocks) >= SPANS[0]
        return slope([one.best for one in last]) * self._creep > 0.5 * self._creep**2

    def _said_creeping(self, step: float, length: int) -> list[WatchOutcome]:
        self._unsettle(self._n - (length + 1) * self._block)
        self._creeping, self._creep = True, step
        assert self._anchor is not None
        block = self._blocks[-1]
        change, u, pair = self._difference(block, self._anchor)
        change = max(change, step * (length - 1), key=abs)
        per_second = step * self._rate / self._block
        say = words.creeping(self.name, per_second, change, pair)
        return [WatchOutcome("creeping", stated(change), stated(K95 * u), say)]

    def _wandered(self) -> list[WatchOutcome]:
        """Compare with where it stood at first: many small steps make a large one."""
        assert self._home is not None
        assert self._place is not None
        now = self._place
        block = Block(now.t, now.own.mean, now.own.variance, None, 0.0)
        if now.against is not None and now.against.t == now.t:
            block = Block(
                now.t, now.own.mean, now.own.variance, now.against.mean, now.against.variance
            )
        change, u, _ = self._difference(block, self._home)
        if abs(change) <= max(LIMIT * u, self._least):
            return []
        self._home = now
        say = words.wandered(self.name, change, K95 * u)
        return [WatchOutcome("creeping", stated(change), stated(K95 * u), say)]

    # --- confirming ---------------------------------------------------------------------

    def _difference(self, block: Block, place: Place) -> tuple[float, float, bool]:
        """Return change, standard uncertainty, and whether it is against the witness."""
        if block.against is not None and place.against is not None:
            variance = place.against.later(block.t, self._drift_pair) + block.against_variance
            return block.against - place.against.mean, math.sqrt(variance), True
        return self._own_difference(block, place)

    def _own_difference(self, block: Block, place: Place) -> tuple[float, float, bool]:
        variance = place.own.later(block.t, self._drift) + block.own_variance
        return block.own - place.own.mean, math.sqrt(variance), False

    def _confirm(self) -> list[WatchOutcome]:
        """Once it is still: what is left of the change.

        A change that is neither plain nor plainly none is looked at for longer, so that a
        blade is not cleared on a mean too short to clear it.
        """
        if self._n % max(self._block // 4, 1) or self._creeping:
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
            outcome, open_still = self._judge(block, self._anchor)
            if not open_still:
                return self._confirmed(block, outcome, length)
        return self._confirmed(block, outcome, length)

    def _confirmed(self, block: Block, outcome: WatchOutcome, samples: int) -> list[WatchOutcome]:
        assert self._anchor is not None
        self._take_stand(block, self._anchor, outcome.state)
        self._lifted = self._lost = False
        self._settle(block, samples)
        if outcome.state == "shaken":
            self._waiting = outcome
            self._tell_at = self._n + round((SHAKEN_S - STILL_S) * self._rate)
            return []
        return [outcome]

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

    def _judge(self, block: Block, anchor: Place) -> tuple[WatchOutcome, bool]:
        """Return the outcome, and whether a longer look could make it another."""
        change, u, pair = self._difference(block, anchor)
        own, own_u, _ = self._own_difference(block, anchor)
        if self._lifted:
            change, u = own, math.hypot(own_u, self._seat)
        state: WatchState
        if abs(change) <= max(LIMIT * u, self._least):
            state, say = self._came_back(change, u, own if pair else 0.0, own_u)
        elif self._lifted:
            state, say = "changed", words.replaced(self.name, change, K95 * u)
        elif not pair:
            state, say = "changed", words.changed(self.name, change, K95 * u)
        elif abs(own) <= min(max(LIMIT * own_u, self._least), abs(change) / 3.0):
            state, say = "changed", words.witness_changed(self.name, -change, K95 * u)
            change = own
        else:
            state, say = "moved", words.moved(self.name, change, K95 * u)
        open_still = state in {"shaken", "quiet"} and abs(change) > OPEN * u
        return WatchOutcome(state, stated(change), stated(K95 * u), say), open_still

    def _came_back(
        self, change: float, u: float, own: float, own_u: float
    ) -> tuple[WatchState, str]:
        if self._lost or self._lifted:
            return "quiet", self._said_quiet().say
        if abs(own) > max(LIMIT * own_u, self._least):
            return "shaken", words.followed(self.name, own, K95 * own_u)
        return "shaken", words.shaken(self.name, change, K95 * u)

    def _take_stand(self, block: Block, anchor: Place, state: WatchState) -> None:
        """The new place: merged with the old where nothing changed, anew where it did."""
        assert self._home is not None
        merged = taken_in(anchor, block, self._drift, self._drift_pair)
        fresh = Place(
            Stand(block.t, block.own, block.own_variance),
            anchor.against
            if block.against is None
            else Stand(block.t, block.against, block.against_variance),
        )
        own, own_u, _ = self._own_difference(block, anchor)
        followed = abs(own) > max(LIMIT * own_u, self._least)
        if state in {"moved", "changed"}:
            self._place = self._home = fresh
            self._past.clear()
        elif followed:
            self._place = Place(fresh.own, merged.against)
            self._home = Place(fresh.own, self._home.against)
            self._past.clear()
        else:
            self._place = merged

    def _settle(self, block: Block, samples: int) -> None:
        assert self._place is not None
        self._state = "quiet"
        self._rested = False
        self._past.append(self._place)
        self._detector.recentre(block.own, samples)
        if block.against is not None:
            self._pair.recentre(block.against, samples)
