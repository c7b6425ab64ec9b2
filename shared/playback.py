"""A recorded session as a screen is given it: any moment of it that has been folded."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from shared.events import Event
from shared.view import View


@dataclass(frozen=True, slots=True)
class Point:
    """Where the level was at one moment.

    error_deg: the angle of a blade that it lay on, less the target; None in a hand, at the
        reference, without a signal, and where there is no target (a watch).
    """

    t_ns: int
    error_deg: float | None


class Playback(Protocol):
    """Fold on, look at any moment that was folded, and what was said up to there."""

    @property
    def events(self) -> Sequence[Event]:
        """Everything said in what is folded, in order."""
        ...

    @property
    def trace(self) -> Sequence[Point]:
        """The level's way through what is folded, about two points a second."""
        ...

    @property
    def folded_ns(self) -> int:
        """Session time that the fold has reached."""
        ...

    @property
    def reach_ns(self) -> int:
        """Session time at which the session ends."""
        ...

    @property
    def complete(self) -> bool:
        """All of it is folded."""
        ...

    def go_on(self, inputs: int) -> None:
        """Fold so many inputs more.

        Raises:
            BadInputError: one that no engine can take.
        """
        ...

    def view(self, t_ns: int) -> View:
        """Return what a face showed at a moment that was folded."""
        ...
