"""What became nothing, counted by reason, and when a count is worth saying."""

from collections import Counter


class Refusals:
    """Counts refusals by reason and says each count when it reaches 1, 10, 100 ...

    Attributes:
        total: all that were counted when `news` was last asked for.
    """

    def __init__(self) -> None:
        self.total = 0
        self._own: Counter[str] = Counter()
        self._said: Counter[str] = Counter()

    def add(self, reason: str) -> None:
        """Count one sample."""
        self._own[reason] += 1

    def by_reason(self, frames: Counter[str]) -> dict[str, int]:
        """Return all counts, sorted by reason; frames: those that the codec could not read."""
        return dict(sorted((self._own + frames).items()))

    def news(self, frames: Counter[str]) -> list[tuple[str, int]]:
        """Return the reasons whose count has reached another power of ten, with that power."""
        total = self._own.total() + frames.total()
        if total == self.total:
            return []
        self.total = total
        found = []
        for reason, count in self.by_reason(frames).items():
            reached = 10 ** (len(str(count)) - 1)
            if reached > self._said[reason]:
                self._said[reason] = reached
                found.append((reason, reached))
        return found
