"""What a lasting change means: blade, aircraft, witness, or nothing at all."""

import math
from dataclasses import dataclass
from typing import Literal

from daemon.measure.quantiles import K95
from daemon.measure.watch import phrases
from daemon.measure.watch.track import Drift, Place, Stand
from shared.angles import stated

WatchState = Literal["changed", "moved", "creeping", "shaken", "lifted", "no signal", "quiet"]

LIMIT = 5.0
"""A lasting change is called at this many standard uncertainties of it."""
OPEN = 2.0
"""Under this many it is none; between the two it is looked at for longer."""
KNOCKED = 6.0
"""At so many, in one block, blade and witness have parted: something was knocked."""
_FOLLOWED = 3.0
"""A blade whose own level changed by less than one in so many of the difference stayed."""


@dataclass(frozen=True, slots=True)
class WatchOutcome:
    """What a watched level saw; the words are those of `shared.events.Watched`."""

    state: WatchState
    change_deg: float
    u95_deg: float
    say: str


@dataclass(frozen=True, slots=True)
class Change:
    """A change since some place, and its standard uncertainty.

    pair: whether it is of the difference to the witness.
    """

    size: float
    u: float
    pair: bool

    @property
    def u95(self) -> float:
        """Its expanded uncertainty."""
        return K95 * self.u


@dataclass(frozen=True, slots=True)
class Judge:
    """The limits of one watch.

    name: of the blade. least: no lasting change below this is called. seat: standard
    uncertainty of putting the level back. drift: what one level may drift.
    """

    name: str
    least: float
    seat: float
    drift: Drift

    def limit(self, u: float) -> float:
        """Return the change that is called, for its standard uncertainty."""
        return max(LIMIT * u, self.least)

    def own(self, block: Place, since: Place) -> Change:
        """Return the change of the blade's own level."""
        return _change(block.own, since.own, self.drift, pair=False)

    def difference(self, block: Place, since: Place) -> Change:
        """Return the change against the witness where it can be told, else of the own level."""
        if block.against is not None and since.against is not None:
            return _change(block.against, since.against, self.drift.of_two(), pair=True)
        return self.own(block, since)

    def apart(self, block: Place, place: Place) -> bool:
        """Whether blade and witness have parted, plainly, within one block."""
        change = self.difference(block, place)
        return change.pair and abs(change.size) > max(KNOCKED * change.u, self.least)

    def outcome(
        self, block: Place, anchor: Place, *, anew: bool, back: bool
    ) -> tuple[WatchOutcome, bool]:
        """Return the outcome, and whether a longer look could make it another.

        anew: the level may have been off the blade in between. back: it was not watched.
        """
        found = self.difference(block, anchor)
        if anew:
            found = Change(found.size, math.hypot(found.u, self.seat), found.pair)
        if abs(found.size) > self.limit(found.u):
            return self._lasting(found, self.own(block, anchor), anew=anew), False
        open_still = abs(found.size) > OPEN * found.u
        if back:
            return _said("quiet", found, phrases.quiet(self.name, self.limit(found.u))), open_still
        return self._came_back(found, self.own(block, anchor)), open_still

    def _lasting(self, found: Change, own: Change, *, anew: bool) -> WatchOutcome:
        size, u95 = found.size, found.u95
        if anew:
            return _said("changed", found, phrases.replaced(self.name, size, u95))
        if not found.pair:
            return _said("changed", found, phrases.changed(self.name, size, u95))
        if abs(own.size) <= min(self.limit(own.u), abs(size) / _FOLLOWED):
            stayed = Change(own.size, found.u, pair=False)
            return _said("changed", stayed, phrases.witness_changed(self.name, -size, u95))
        return _said("moved", found, phrases.moved(self.name, size, u95))

    def _came_back(self, found: Change, own: Change) -> WatchOutcome:
        if found.pair and abs(own.size) > self.limit(own.u):
            return _said("shaken", found, phrases.followed(self.name, own.size, own.u95))
        return _said("shaken", found, phrases.shaken(self.name, found.size, found.u95))

    def creeping(
        self, block: Place, anchor: Place, per_second: float, so_far: float
    ) -> WatchOutcome:
        """Return the outcome of a creep, with its change since the anchor or over the creep."""
        found = self.difference(block, anchor)
        found = Change(max(found.size, so_far, key=abs), found.u, found.pair)
        say = phrases.creeping(self.name, per_second, found.size, found.pair)
        return _said("creeping", found, say)

    def wandered(self, now: Place, home: Place) -> WatchOutcome | None:
        """Compare with where it stood at first: many small steps make a large one."""
        fresh = now.against is not None and now.against.t == now.own.t
        found = self.difference(now if fresh else Place(now.own, None), home)
        if abs(found.size) <= self.limit(found.u):
            return None
        return _said("creeping", found, phrases.wandered(self.name, found.size, found.u95))

    def watching(self, u: float) -> WatchOutcome:
        """Return that it is watched from now on; u: of the first change that could be called."""
        least = self.limit(u)
        return WatchOutcome("quiet", 0.0, stated(least), phrases.quiet(self.name, least))

    def new_place(
        self, block: Place, anchor: Place, home: Place, state: WatchState
    ) -> tuple[Place, Place, bool]:
        """Return the new place, the new home, and whether the past is another country.

        The place is merged with the old where nothing changed, and taken anew where it did.
        """
        if state in {"moved", "changed"}:
            anew = Place(block.own, block.against or anchor.against)
            return anew, anew, True
        merged = anchor.merged(block, self.drift)
        change = self.own(block, anchor)
        if abs(change.size) > self.limit(change.u):
            return Place(block.own, merged.against), Place(block.own, home.against), True
        return merged, home, False


def unmeasured(state: WatchState, say: str) -> WatchOutcome:
    """Return an outcome without a number."""
    return WatchOutcome(state, 0.0, 0.0, say)


def _change(now: Stand, before: Stand, drift: Drift, *, pair: bool) -> Change:
    u = math.sqrt(before.later(now.t, drift) + now.variance)
    return Change(now.mean - before.mean, u, pair)


def _said(state: WatchState, found: Change, say: str) -> WatchOutcome:
    return WatchOutcome(state, stated(found.size), stated(found.u95), say)
