"""Entry by proof: with which levels this person has shown that a job goes without a press."""

from collections.abc import Collection


class Proofs:
    """Who turns a level over when a voice asks for it hears, and the level feels it.

    Args:
        wanted: the job is to go without a press.
        needed: without it nothing is taken by itself (not so under older rules).
        feel: the levels that can tell when they are turned over.
    """

    def __init__(self, *, wanted: bool, needed: bool, feel: Collection[str]) -> None:
        self.wanted = wanted and needed
        self._feel = feel
        self._given: set[str] = set()
        self._by_itself = wanted and not needed

    def possible(self, level: str) -> bool:
        """Whether this level can give it."""
        return self.wanted and level in self._feel

    def given(self, level: str) -> bool:
        """Whether readings of this level may be taken by themselves."""
        return self._by_itself or level in self._given

    def give(self, level: str) -> None:
        """It was turned over."""
        self._given.add(level)

    def lose(self, level: str) -> bool:
        """It was gone: whoever comes back may be somebody else. Return whether that changes anything."""
        changes = level in self._given
        self._given.discard(level)
        return changes

    def lose_all(self) -> bool:
        """Nothing is to be heard any more; return whether that changes anything."""
        changes = bool(self._given)
        self._given.clear()
        return changes
