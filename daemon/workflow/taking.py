"""When a level at rest may be taken as a reading: one placement, one reading, one reason.

A level that lies still proves nothing: it may lie on a bench. A reading wants a placement and
either a blade that turned under the level (while setting) or one confirming press.
"""

from dataclasses import dataclass
from typing import Literal

from shared.events import Asked
from shared.inputs import NS

By = Literal["turn", "press", "button"]

PRESS_LASTS_NS = 5 * NS
"""A press just before the level comes to rest counts for this long."""


@dataclass(slots=True)
class Taking:
    """One level's present placement."""

    level: str
    placement: int = 0
    """Number of the placement; 0 while the level is in someone's hand."""
    taken: int = 0
    """The last placement that gave a reading: none gives two."""
    crept: int = 0
    """The last placement that was said to creep after its reading."""
    armed: By | None = None
    armed_until_ns: int = 0
    ready: bool = False
    turned: bool = False
    asked: Asked | None = None
    """The question asked about this placement, until it is answered or the level is lifted."""
    confirmed: bool = False
    """A person looked into the question: the reading is right."""

    def lift(self) -> None:
        """The level left its place: the confirming press and the question are void.

        A press given before the level had come to rest at all stands: coming down, a level
        looks once more as if in hand.
        """
        if self.placement:
            self.armed = None
        self.placement, self.ready, self.turned = 0, False, False
        self.asked, self.confirmed = None, False

    def rest(self, placement: int, now_ns: int) -> None:
        """The level came to rest; an earlier press holds if it is fresh."""
        self.placement = placement
        if self.armed and now_ns > self.armed_until_ns:
            self.armed = None

    def press(self, by: By, now_ns: int) -> None:
        """Someone confirmed that the level lies where the step wants it."""
        self.armed, self.armed_until_ns = by, now_ns + PRESS_LASTS_NS

    @property
    def free(self) -> bool:
        """The placement has not given a reading yet."""
        return self.placement not in {0, self.taken}

    def take(self) -> None:
        """The placement gave its reading."""
        self.taken, self.armed = self.placement, None
        self.asked, self.confirmed = None, False
