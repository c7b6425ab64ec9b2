"""Does it creep? Blocks of a second, looked at over several spans."""

from collections import deque

from daemon.measure.watch_track import Block, creep, slope

CREEP_DEG_PER_S = 0.003
SPANS = (6, 10, 20)
"""Blocks over which a creep is looked for: the slower, the longer it takes."""
ENDED = 12
"""Blocks over which a creep is seen to have ended."""


class Creeping:
    """The last blocks, and whether they creep.

    Attributes:
        on: a creep was found and has not ended.
        step: its slope, per block.
        span: blocks over which it was found.
    """

    def __init__(self, block_s: float, least: float) -> None:
        self._least_step = CREEP_DEG_PER_S * block_s
        self._least = least
        self.blocks: deque[Block] = deque(maxlen=SPANS[-1])
        self.on = False
        self.step = 0.0
        self.span = 0

    def shaken(self) -> None:
        """A block was no rest: what came before is not looked at."""
        self.blocks.clear()

    def take(self, block: Block) -> None:
        """Take one calm block."""
        self.blocks.append(block)

    def starts(self, kept: float) -> bool:
        """Say whether a creep has just been found; kept: correlation of neighbouring blocks."""
        if self.on:
            self.on = self._goes_on()
            if not self.on:
                self.blocks.clear()
            return False
        for span in SPANS:
            last = self._last(span)
            step = creep(last, self._least_step, self._least, kept) if last else 0.0
            if step:
                self.on, self.step, self.span = True, step, span
                return True
        return False

    def _last(self, length: int) -> list[Block]:
        """Return the last blocks where there are enough, all with or all without the witness."""
        last = list(self.blocks)[-length:]
        heard = {one.against is None for one in last}
        return last if len(last) == length and len(heard) == 1 else []

    def _goes_on(self) -> bool:
        """A creep has ended when the last blocks rise by less than half of it."""
        last = self._last(ENDED)
        if not last:
            return len(self.blocks) >= SPANS[0]
        return slope([one.best for one in last]) * self.step > 0.5 * self.step**2
