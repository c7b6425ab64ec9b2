"""What a lasting change means: blade, aircraft, witness, or nothing at all."""

import math
from dataclasses import dataclass
from typing import Literal

from daemon.measure import watch_words as words
from daemon.measure.watch_track import Block, Drift, Place, Stand, taken_in
from shared.angles import stated

WatchState = Literal["changed", "moved", "creeping", "shaken", "lifted", "no signal", "quiet"]

K95 = 1.96
LIMIT = 5.0
"""A lasting change is called at this many standard uncertainties of it."""
OPEN = 2.0
"""Under this many it is none; between the two it is looked at for longer."""


@dataclass(frozen=True, slots=True)
class WatchOutcome:
    """What a watched level saw; the words are those of `shared.events.Watched`."""

    state: WatchState
    change_deg: float
    u95_deg: float
    say: str


@dataclass(frozen=True, slots=True)
class Judge:
    """The limits of one watch.

    least: no lasting change below this is called. seat: standard uncertainty of putting the
    level back. drift, drift_pair: what one level, and the difference of two, may drift.
    """

    name: str
    least: float
    seat: float
    drift: Drift
    drift_pair: Drift

    def limit(self, u: float) -> float:
        """Return the change that is called, for its standard uncertainty."""
        return max(LIMIT * u, self.least)

    def own(self, block: Block, place: Place) -> tuple[float, float]:
        """Return the change of the blade's own level and its standard uncertainty."""
        variance = place.own.later(block.t, self.drift) + block.own_variance
        return block.own - place.own.mean, math.sqrt(variance)

    def difference(self, block: Block, place: Place) -> tuple[float, float, bool]:
        """Return change, standard uncertainty, and whether it is against the witness."""
        if block.against is not None and place.against is not None:
            variance = place.against.later(block.t, self.drift_pair) + block.against_variance
            return block.against - place.against.mean, math.sqrt(variance), True
        return *self.own(block, place), False

    def outcome(
        self, block: Block, anchor: Place, *, lifted: bool, back: bool
    ) -> tuple[WatchOutcome, bool]:
        """Return the outcome, and whether a longer look could make it another.

        lifted: the level was off the blade in between. back: it was silent.
        """
        change, u, pair = self.difference(block, anchor)
        if lifted:
            u = math.hypot(u, self.seat)
        if abs(change) > self.limit(u):
            return self._lasting(block, anchor, (change, u, pair), lifted=lifted), False
        state, say = self._came_back(block, anchor, (change, u, pair), lifted or back)
        return self._said(state, change, u, say), abs(change) > OPEN * u

    def _lasting(
        self, block: Block, anchor: Place, found: tuple[float, float, bool], *, lifted: bool
    ) -> WatchOutcome:
        change, u, pair = found
        own, own_u = self.own(block, anchor)
        u95 = K95 * u
        if lifted:
            return self._said("changed", change, u, words.replaced(self.name, change, u95))
        if not pair:
            return self._said("changed", change, u, words.changed(self.name, change, u95))
        if abs(own) <= min(self.limit(own_u), abs(change) / 3.0):
            return self._said("changed", own, u, words.witness_changed(self.name, -change, u95))
        return self._said("moved", change, u, words.moved(self.name, change, u95))

    def _came_back(
        self, block: Block, anchor: Place, found: tuple[float, float, bool], put_back: bool
    ) -> tuple[WatchState, str]:
        change, u, pair = found
        if put_back:
            return "quiet", words.quiet(self.name, self.limit(u))
        own, own_u = self.own(block, anchor)
        if pair and abs(own) > self.limit(own_u):
            return "shaken", words.followed(self.name, own, K95 * own_u)
        return "shaken", words.shaken(self.name, change, K95 * u)

    def _said(self, state: WatchState, change: float, u: float, say: str) -> WatchOutcome:
        return WatchOutcome(state, stated(change), stated(K95 * u), say)

    def creeping(
        self, block: Block, anchor: Place, per_second: float, so_far: float
    ) -> WatchOutcome:
        """Return the outcome of a creep, with its change since the anchor or over the creep."""
        change, u, pair = self.difference(block, anchor)
        change = max(change, so_far, key=abs)
        return self._said(
            "creeping", change, u, words.creeping(self.name, per_second, change, pair)
        )

    def wandered(self, now: Place, home: Place) -> WatchOutcome | None:
        """Compare with where it stood at first: many small steps make a large one."""
        block = Block(now.t, now.own.mean, now.own.variance, None, 0.0)
        if now.against is not None and now.against.t == now.t:
            pair = now.against
            block = Block(now.t, now.own.mean, now.own.variance, pair.mean, pair.variance)
        change, u, _ = self.difference(block, home)
        if abs(change) <= self.limit(u):
            return None
        return self._said("creeping", change, u, words.wandered(self.name, change, K95 * u))

    def new_place(
        self, block: Block, anchor: Place, home: Place, state: WatchState
    ) -> tuple[Place, Place, bool]:
        """Return the new place, the new home, and whether the past is another country.

        The place is merged with the old where nothing changed, and taken anew where it did.
        """
        merged = taken_in(anchor, block, self.drift, self.drift_pair)
        own = Stand(block.t, block.own, block.own_variance)
        if state in {"moved", "changed"}:
            against = anchor.against
            if block.against is not None:
                against = Stand(block.t, block.against, block.against_variance)
            return Place(own, against), Place(own, against), True
        change, u = self.own(block, anchor)
        if abs(change) > self.limit(u):
            return Place(own, merged.against), Place(own, home.against), True
        return merged, home, False
