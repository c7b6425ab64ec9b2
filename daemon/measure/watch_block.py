"""A second of samples, gathered into one block."""

from daemon.measure.watch_still import Calm


class Gathering:
    """Sums of one block in the making.

    Attributes:
        count: samples so far.
        rested: whether the blade was quiet through all of it; others set it False.
        pairs: the differences to the witness, in order.
    """

    def __init__(self, rested: bool) -> None:
        self.count = 0
        self.rested = rested
        self.pairs: list[float] = []
        self._sum = 0.0
        self._low = self._high = 0.0

    def add(self, x: float, against: float | None) -> None:
        """Take one sample."""
        best = x
        if against is not None:
            self.pairs.append(against)
            best = against
        self._low = min(self._low, best) if self.count else best
        self._high = max(self._high, best) if self.count else best
        self.count += 1
        self._sum += x

    @property
    def span(self) -> float:
        """Largest minus smallest."""
        return self._high - self._low

    def means(self) -> Calm:
        """Return the means; against the witness only if it was heard all along."""
        against = None
        if self.pairs and len(self.pairs) == self.count:
            total = 0.0
            for pair in self.pairs:
                total += pair
            against = total / self.count
        return Calm(self._sum / self.count, against)
