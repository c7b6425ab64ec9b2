"""Has a held blade moved while a level lies on it? Two stages.

The detector notices at once that the stream is not what it was; it raises no alarm. The
confirmation waits until the shaking is over and compares the still mean with where the blade
stood before, allowing for what a level may drift meanwhile. With a witness on hub or cowling
the difference to it is compared, so that a shift of the aircraft is told from a moved blade.

How the modes follow each other:

    Learning   at rest: Quiet, told     silence: Unheard, told
    Unheard    the next sample: Learning
    Quiet      what takes it away stands in NEXT
    all others at rest and not creeping: Quiet, judged by what is left of the change
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from daemon.measure.watch import phrases
from daemon.measure.watch.creep import Creeping
from daemon.measure.watch.judge import Judge, WatchOutcome, unmeasured
from daemon.measure.watch.modes import (
    Away,
    Gone,
    Learning,
    Left,
    Lifted,
    Mode,
    Quiet,
    Restless,
    Shaken,
    Silent,
    Unheard,
)
from daemon.measure.watch.record import Gathering, Record, spread
from daemon.measure.watch.rest import START
from daemon.measure.watch.streams import FromFirst, Streams, Witness
from daemon.measure.watch.track import Drift, Place, Standing
from shared.profile import Noise

__all__ = ["NEXT", "Watch", "WatchOutcome"]

Cause = Literal["change", "creep", "in hand", "silence", "no rest"]

NEXT: Mapping[type[Quiet | Away], Mapping[Cause, type[Away]]] = {
    Quiet: {"change": Shaken, "creep": Shaken, "in hand": Lifted, "silence": Silent},
    Shaken: {"creep": Shaken, "no rest": Restless, "in hand": Lifted, "silence": Silent},
    Restless: {"creep": Restless, "in hand": Lifted, "silence": Silent},
    Lifted: {"silence": Gone},
    Silent: {"in hand": Gone},
    Gone: {},
}
"""What takes a known blade away from rest, or further. All but "change" are told as they come; a
cause without a row is nothing new there: nothing is told and the mode stays."""

STILL_S = 2.0
"""How long it must be still before the mean is judged."""
LOOKS = (1, 2, 4, 8)
"""How many times as long it is looked at while the answer is open."""
LEARN_S = 3.0
"""How long it must look quiet before it is watched."""
IN_HAND_S = 0.3
"""Off by the lift limit for so long: in a hand, not under a blow;"""
IN_HAND_LEAST = 3.0
"""and for no fewer samples than these."""
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
BLOCK_S = 1.0
"""A block is so long,"""
LEAST = 8
"""and neither it nor what is judged has fewer samples than these."""
HOME_BLOCKS = 10
"""At every so many blocks the place is compared with where it stood at first."""
_PAIRED = 8
"""Quarter blocks that the pair must have been at rest where the blade's own level is not."""


@dataclass(frozen=True, slots=True)
class Later:
    """An outcome to be told at a sample or after, once it is quiet."""

    outcome: WatchOutcome
    at: int


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
        self._rate, self._lift = rate_hz, lift_deg
        drift = Drift(walk_deg, drift_deg / WARM_UP_S, drift_deg)
        self._judge = Judge(name, least_deg, seat_deg, drift)
        self._streams = Streams(rate_hz, noise, resolution_deg, run_length)
        self._angles = FromFirst()
        self._witness = Witness(rate_hz) if witness else None
        self._block = max(LEAST, round(BLOCK_S * rate_hz))
        self._creeping = Creeping(self._block / rate_hz, least_deg)
        self._learn_length = max(round(LEARN_S * rate_hz), START + 2)
        shortest = max(round(STILL_S * rate_hz), LEAST)
        self._lengths = [look * shortest for look in LOOKS]
        self._n = self._off = 0
        self._gathering = Gathering()
        self._later: Later | None = None
        self.mode: Mode = self._learning()

    def _learning(self) -> Learning:
        return Learning(Record(self._learn_length))

    # --- what comes in ------------------------------------------------------------------

    def push_witness(self, angle_deg: float) -> None:
        """Take one sample of the witness, in the blade's sense."""
        if self._witness is not None:
            self._witness.told(angle_deg, self._n)

    def missed(self, samples: int) -> list[WatchOutcome]:
        """The level was silent for the time of so many samples; said once until it is back."""
        began = self._n
        self._n += samples
        self._creeping.shaken()
        self._gathering = Gathering()
        if not self._fall_silent(began, samples):
            return []
        return [unmeasured("no signal", phrases.no_signal(self._judge.name))]

    def push(self, angle_deg: float) -> list[WatchOutcome]:
        """Take one sample of the watched level; return what it showed, mostly nothing."""
        self._n += 1
        x = self._angles.of(angle_deg)
        against = self._against(x)
        if isinstance(self.mode, Unheard):
            self.mode = self._learning()
        if isinstance(self.mode, Learning):
            return self._learn(self.mode, x, against)
        found = self._in_hand(self.mode, x)
        found += self._sampled(x, against)
        self._gathering.add(x, against)
        if self._gathering.count == self._block:
            found += self._close_block()
        return found

    def _against(self, x: float) -> float | None:
        witness = self._witness.at(self._n) if self._witness is not None else None
        return None if witness is None else x - witness

    def _sampled(self, x: float, against: float | None) -> list[WatchOutcome]:
        if isinstance(self.mode, Quiet):
            self._watch(self.mode, x, against)
        elif isinstance(self.mode, Away):
            self.mode.left.record.push(x, against)
            return self._confirm(self.mode)
        return []

    # --- learning ----------------------------------------------------------------------

    def _learn(self, mode: Learning, x: float, against: float | None) -> list[WatchOutcome]:
        record = mode.record
        record.push(x, against)
        if self._n % (self._block // 2) or not record.looks_quiet():
            return []
        if spread(list(record.own)) > LOUDEST_DEG:
            return []
        samples = len(record.own)
        self._streams.learn(record)
        block = self._streams.block(record.means(), samples, self._n)
        self._settle(Standing(block, [block]), block, samples)
        self._gathering = Gathering()
        variance = self._streams.best_variance(self._lengths[0])
        return [self._judge.watching(math.sqrt(2.0 * variance))]

    # --- going away from rest ------------------------------------------------------------

    def _leave(self, mode: Quiet | Away, cause: Cause, onset: int) -> Away | None:
        """Follow NEXT and return the new mode; None where the cause has no row.

        onset: the last sample at which the blade was surely where it stood.
        """
        kind = NEXT[type(mode)].get(cause)
        if kind is None:
            return None
        away = kind(self._left(mode, onset))
        self.mode = away
        if "creep" not in NEXT[kind]:
            self._creeping.forget()
        return away

    def _left(self, mode: Quiet | Away, onset: int) -> Left:
        if not isinstance(mode, Quiet):
            return mode.left
        anchor = mode.standing.before(onset, self._rate)
        return Left(mode.standing, anchor, self._n, Record(self._lengths[-1]))

    def _in_hand(self, mode: Quiet | Away, x: float) -> list[WatchOutcome]:
        if abs(x - mode.standing.place.own.mean) <= self._lift:
            self._off = 0
            return []
        self._off += 1
        if self._off < max(IN_HAND_LEAST, IN_HAND_S * self._rate):
            return []
        if self._leave(mode, "in hand", self._n - self._off) is None:
            return []
        return [unmeasured("lifted", phrases.lifted(self._judge.name))]

    def _fall_silent(self, began: int, samples: int) -> bool:
        """Say whether the silence since this sample is news."""
        if not isinstance(self.mode, Quiet | Away):
            news, self.mode = isinstance(self.mode, Learning), Unheard()
            return news
        news = self._leave(self.mode, "silence", began) is not None
        if isinstance(self.mode, Away):
            self.mode.left.break_off()
        if isinstance(self.mode, Silent):
            self.mode.lasts(samples)
        return news

    # --- at rest -------------------------------------------------------------------------

    def _watch(self, mode: Quiet, x: float, against: float | None) -> None:
        """Let the detector see one sample."""
        detector = self._streams.detector
        if not detector.push(x):
            return
        since = detector.since
        away = self._leave(mode, "change", self._n - since - since // 2 - 2)
        if away is not None:
            away.left.record.push(x, against)

    def _close_block(self) -> list[WatchOutcome]:
        done = self._gathering
        block = self._streams.block(done.means(), done.count, self._n)
        if self._streams.calm(done.span, block):
            self._creeping.take(block)
        else:
            self._creeping.shaken()
        if isinstance(self.mode, Quiet) and self.mode.since <= self._n - done.count:
            self._follow(self.mode, block, done.pairs)
        self._gathering = Gathering()
        return self._creeps() + self._told_late() + self._wandered()

    def _follow(self, mode: Quiet, block: Place, pairs: list[float]) -> None:
        """Follow the place, unless the pair disagrees with it: then something was knocked."""
        if self._judge.apart(block, mode.standing.place):
            self._leave(mode, "change", self._n - 2 * self._block)
            return
        mode.standing.follow(block, self._judge.drift)
        self._streams.learn_pairs(pairs)

    def _wandered(self) -> list[WatchOutcome]:
        if not isinstance(self.mode, Quiet) or self._n % (HOME_BLOCKS * self._block) >= self._block:
            return []
        standing = self.mode.standing
        outcome = self._judge.wandered(standing.place, standing.home)
        if outcome is None:
            return []
        standing.told()
        return [outcome]

    # --- at rest or away -----------------------------------------------------------------

    def _creeps(self) -> list[WatchOutcome]:
        mode = self.mode
        if not isinstance(mode, Quiet | Away) or "creep" not in NEXT[type(mode)]:
            return []
        found = self._creeping.look(self._streams.kept(self._block))
        if found is None:
            return []
        away = self._leave(mode, "creep", self._n - (found.span + 1) * self._block)
        if away is None:
            return []
        per_second = found.step * self._rate / self._block
        so_far = found.step * (found.span - 1)
        newest, anchor = self._creeping.newest, away.left.anchor
        return [self._judge.creeping(newest, anchor, per_second, so_far)]

    def _told_late(self) -> list[WatchOutcome]:
        """A train of blows is one shaking, told when it is over, or when it does not end."""
        later = self._later
        if isinstance(self.mode, Quiet) and later is not None and self._n >= later.at:
            self._later = None
            return [later.outcome]
        if isinstance(self.mode, Away) and self._impatient(self.mode):
            say = phrases.never_still(self._judge.name, PATIENCE_S)
            return [unmeasured("shaken", say)]
        return []

    def _impatient(self, mode: Away) -> bool:
        """Say whether it has been shaken so long, which is news once."""
        if self._n - mode.left.at < PATIENCE_S * self._rate:
            return False
        return self._leave(mode, "no rest", self._n) is not None

    # --- confirming ---------------------------------------------------------------------

    def _confirm(self, away: Away) -> list[WatchOutcome]:
        """Once it is still: what is left of the change."""
        if self._n % (self._block // 4) or self._creeping.going is not None:
            return []
        found = self._look(away)
        return [] if found is None else self._confirmed(away.left, *found)

    def _look(self, away: Away) -> tuple[Place, WatchOutcome, int] | None:
        """Return the mean at rest, what it says and of how many samples it is.

        A change that is neither plain nor plainly none is looked at for longer, so that a
        blade is not cleared on a mean too short to clear it.
        """
        anchor = away.left.anchor
        anew, back = self._taken_off(away), isinstance(away, Lifted | Silent)
        for length in self._lengths:
            record = away.left.record.last(length)
            if not self._at_rest(away.left, record):
                return None
            means = record.means()
            if abs(means.own - anchor.own.mean) > self._lift:
                return None
            block = self._streams.block(means, length, self._n)
            outcome, open_still = self._judge.outcome(block, anchor, anew=anew, back=back)
            if not open_still:
                break
        return block, outcome, length

    def _taken_off(self, away: Away) -> bool:
        """Whether the level was off its blade, or was silent long enough to have been."""
        if isinstance(away, Silent):
            return away.gap >= TAKEN_OFF_S * self._rate
        return isinstance(away, Lifted)

    def _at_rest(self, left: Left, record: Record) -> bool:
        """The blade's own level at rest, or for a while at least its difference to the witness.

        A rocking aircraft never rests, but a shift that has just come should be let through.
        """
        if record.own_at_rest(self._streams.own):
            return True
        at_rest = record.pair_at_rest(self._streams.pair)
        if record.length == self._lengths[0]:
            left.look_at_pair(at_rest)
        return at_rest and left.paired >= _PAIRED

    def _confirmed(
        self, left: Left, block: Place, outcome: WatchOutcome, samples: int
    ) -> list[WatchOutcome]:
        place, home, anew = self._judge.new_place(
            block, left.anchor, left.standing.home, outcome.state
        )
        past = [] if anew else left.standing.past
        self._settle(Standing(home, [*past, place]), block, samples)
        if outcome.state != "shaken":
            return [outcome]
        self._later = Later(outcome, self._n + round((SHAKEN_S - STILL_S) * self._rate))
        return []

    def _settle(self, standing: Standing, block: Place, samples: int) -> None:
        self.mode = Quiet(standing, self._n)
        self._streams.recentre(block, samples)
