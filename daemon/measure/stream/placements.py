"""One level's placements told as facts: each change once, each average with its sample."""

import math

from daemon.measure.stream.facts import Crept, Fact, InHand, Ready, Rested, Restless, Still
from daemon.measure.stream.following import Following

CREPT_S = 0.5
"""A level that has been creeping for more than this is said to."""


class Placements:
    """What was told of a level's placements so far.

    Attributes:
        in_hand: whether the last that was told is that it was lifted.
    """

    def __init__(self, name: str, following: Following) -> None:
        self.in_hand = False
        self._name = name
        self._following = following
        self._rested = 0
        """The last placement that was told to rest."""
        self._creeping = 0
        """Samples that it has been creeping for."""
        self._after_gap: int | None = None
        """Samples since a gap, until it rests; None: there was none."""
        self._averaged = False
        """Whether an average was told with the last sample."""

    def gap(self, *, shows_hands: bool) -> list[Fact]:
        """The stream has a gap: whatever lay there is over.

        shows_hands: this level sends while it is in a hand.
        """
        self._after_gap = 0
        return self._lifted(unseen=shows_hands)

    def told(self, rate_hz: float) -> list[Fact]:
        """Return what the newest sample has changed."""
        facts: list[Fact] = []
        following = self._following
        if self._after_gap is not None:
            self._after_gap += 1
        if following.doing == "in hand":
            facts += self._lifted()
        else:
            self.in_hand = False
        if following.placement > self._rested:
            self._rested = following.placement
            facts.append(Rested(self._name, following.placement, self._since_gap_s(rate_hz)))
        return facts + self._crept(rate_hz) + self._average()

    def _lifted(self, *, unseen: bool = False) -> list[Fact]:
        self._averaged = False
        was, self.in_hand = self.in_hand, True
        return [] if was else [InHand(self._name, unseen)]

    def _since_gap_s(self, rate_hz: float) -> float:
        samples, self._after_gap = self._after_gap, None
        return math.inf if samples is None else samples / rate_hz

    def _crept(self, rate_hz: float) -> list[Fact]:
        following = self._following
        self._creeping = self._creeping + 1 if following.doing == "creeping" else 0
        live_deg = following.live_deg if self._creeping > CREPT_S * rate_hz else None
        if live_deg is None:
            return []
        return [Crept(self._name, following.placement, live_deg)]

    def _average(self) -> list[Fact]:
        following = self._following
        reading = following.agreed
        was, self._averaged = self._averaged, reading is not None
        if reading is None:
            return [Restless(self._name)] if was else []
        said = Ready if following.doing == "ready" else Still
        return [said(self._name, following.placement, following.turned, reading)]
