"""When a level at rest may be taken as a reading: one placement, one reading, one reason.

A level that lies still proves nothing: it may lie on a bench. A reading wants a placement and
either a blade that turned under the level (while setting) or one confirming press.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from daemon.measure.stream.reading import Reading
from shared.events import Asked, Sense
from shared.inputs import NS

By = Literal["turn", "press", "button", "landing", "gesture"]

PRESS_LASTS_NS = 5 * NS
"""A press just before the level comes to rest counts for this long."""


@dataclass(slots=True)
class Landing:
    """What is remembered of one level between two readings.

    Attributes:
        lifted_ns: when it left the seat of its last reading.
        rested_ns: when it came to rest.
        in_hand_ns: when it was lifted last.
        ready_ns: since when the average of this placement is good enough; 0: it is not yet.
        surprised_deg: what the landing before read, which was not as expected; None: none was.
        surprised: its average. surprise: number of that placement; 0: none.
        held_back: number of the placement that came so soon that it may be the last blade's; 0: none.
    """

    lifted_ns: int = 0
    ready_ns: int = 0
    rested_ns: int = 0
    in_hand_ns: int = 0
    surprised_deg: float | None = None
    surprised: Reading | None = None
    surprise: int = 0
    held_back: int = 0

    @property
    def wants_a_word(self) -> bool:
        """Whether a landing was not taken because only a person knows what it was."""
        return self.same_again or self.surprise != 0

    def lift(self, now_ns: int, *, read: bool) -> None:
        """It left its place. read: of which it gave a reading."""
        self.lifted_ns = now_ns if read else self.lifted_ns
        self.in_hand_ns, self.ready_ns = now_ns, 0

    def rest(self, now_ns: int) -> None:
        """It came to rest."""
        self.rested_ns, self.ready_ns = now_ns, 0

    def settle(self, now_ns: int) -> None:
        """Its average is good enough with this sample."""
        self.ready_ns = self.ready_ns or now_ns

    def stir(self) -> None:
        """It is not good enough any more."""
        self.ready_ns = 0

    def surprise_by(self, angle_deg: float, reading: Reading, placement: int) -> None:
        """It does not read as expected."""
        self.surprised_deg, self.surprised, self.surprise = angle_deg, reading, placement

    @property
    def same_again(self) -> bool:
        """Whether a landing was held back because it may lie on the blade of the last reading."""
        return self.held_back != 0

    def too_soon(self, placement: int) -> None:
        """It may lie on the same blade as before."""
        self.held_back = placement

    def take(self) -> None:
        """It gave its reading."""
        self.surprised_deg = self.surprised = None
        self.surprise = self.held_back = 0


@dataclass(slots=True)
class Taking:
    """One level for blades: its present placement, and which way it points.

    Attributes:
        level: its name.
        sense: `reversed` once a person said that it was turned end for end.
        heard: its samples keep coming, or it speaks only when there is something to say.
        placement: number of the placement; 0 while the level is in someone's hand.
        taken: the last placement that gave a reading: none gives two.
        gave: number of that reading; 0: of none that counts.
        unseen: number of the reading that it lay on when there was a gap, if nobody saw it in a hand
            since.
        crept: the last placement that was said to creep after its reading.
        refused: the last placement of which it was said that its level cannot tell.
        armed: what confirmed that the level lies where the step wants it.
        ready: an average of this placement was good enough once.
        turned: the blade turned under the level.
        reading: the running average, where the level lies still now.
        asked: the question asked about this placement, until it is answered.
        confirmed: a person looked into the question: the reading is right.
        landing: what is remembered of how it was laid there.
    """

    level: str
    sense: Sense = "normal"
    heard: bool = False
    placement: int = 0
    taken: int = 0
    gave: int = 0
    unseen: int = 0
    crept: int = 0
    refused: int = 0
    armed: By | None = None
    armed_until_ns: int = 0
    ready: bool = False
    turned: bool = False
    reading: Reading | None = None
    asked: Asked | None = None
    confirmed: bool = False
    landing: Landing = field(default_factory=Landing)

    def hear(self, heard: bool) -> None:
        """The level is heard from here on, or is not."""
        self.heard = heard

    def lift(self, now_ns: int, *, unseen: bool = False) -> None:
        """The level left its place: the confirming press and the question are void.

        unseen: there is a gap, and nobody knows whether it did.
        A press given before the level had come to rest at all stands: coming down, a level
        looks once more as if in hand.
        """
        self.unseen = (self.lies_on or self.unseen) if unseen else 0
        if self.placement:
            self.armed = None
            self.landing.lift(now_ns, read=self.placement == self.taken)
        self.placement, self.ready, self.turned, self.reading = 0, False, False, None
        self._forget_the_question()

    def rest(self, placement: int, now_ns: int) -> None:
        """The level came to rest; an earlier press holds if it is fresh."""
        self.placement = placement
        self.landing.rest(now_ns)
        if self.armed and now_ns > self.armed_until_ns:
            self.armed = None

    def still_there(self) -> None:
        """It was not lifted since its reading, as far as anybody knows: it gives no fresh one."""
        self.taken, self.gave = self.placement, 0

    def lie(self, placement: int, reading: Reading) -> None:
        """The level rests; its average is not good enough, or not any more."""
        self.placement, self.reading = placement, reading
        self.landing.stir()

    def settle(self, placement: int, reading: Reading, now_ns: int, *, turned: bool) -> None:
        """The average of this placement is good enough."""
        self.placement, self.reading = placement, reading
        self.ready, self.turned = True, turned
        self.landing.settle(now_ns)

    def stir(self) -> None:
        """The level moves or creeps where it lies: there is no average now."""
        self.reading = None
        self.landing.stir()

    def press(self, by: By, now_ns: int, lasts_ns: int = PRESS_LASTS_NS) -> None:
        """Someone confirmed that the level lies where the step wants it, or will for so long."""
        self.armed, self.armed_until_ns = by, now_ns + lasts_ns

    def keep_armed(self, by: By | None, until_ns: int) -> None:
        """A press for the step before holds for this one: the level lies where it lay."""
        self.armed, self.armed_until_ns = by, until_ns

    def ask(self, asked: Asked) -> None:
        """A person has to look before this placement counts."""
        self.asked = asked

    def confirm(self, *, reversed_level: bool) -> None:
        """A person looked: it is right, the level turned end for end or not."""
        if reversed_level:
            self.sense = "reversed" if self.sense == "normal" else "normal"
        self.confirmed, self.asked = True, None

    def answer(self) -> None:
        """A person told what was wanted; whether it is right is still to be seen."""
        self.asked = None

    def creep(self, placement: int) -> None:
        """It was said that this placement creeps after its reading."""
        self.crept = placement

    def refuse(self) -> bool:
        """The level cannot tell here: a press is void; return whether to say so (again)."""
        say = self.armed is not None or self.refused != self.placement
        self.refused = self.placement
        self.disarm()
        return say

    def turn(self) -> None:
        """What it lies on was turned after its reading, and that was said."""
        self.gave = 0

    @property
    def lies_on(self) -> int:
        """Number of the reading that what lies there now gave; 0: of none."""
        return self.gave if self.placement == self.taken else 0

    @property
    def free(self) -> bool:
        """The placement has not given a reading yet."""
        return self.placement not in {0, self.taken}

    def take(self, number: int = 0) -> None:
        """The placement gave its reading, of this number; 0: it is to give none."""
        self.taken, self.gave, self.armed, self.unseen = self.placement, number, None, 0
        self.landing.take()
        self._forget_the_question()

    def disarm(self) -> None:
        """Another step is proposed: a press and a question about the one before are void."""
        self.armed = None
        self._forget_the_question()

    def _forget_the_question(self) -> None:
        self.asked, self.confirmed = None, False


class Takings:
    """Every level that is laid on blades, by name."""

    def __init__(self, levels: Sequence[str]) -> None:
        self._all = {level: Taking(level) for level in levels}
        self._questions = 0

    def __iter__(self) -> Iterator[Taking]:
        """In the order of the job."""
        return iter(self._all.values())

    def get(self, level: str) -> Taking | None:
        """Return a level for blades by its name."""
        return self._all.get(level)

    def for_a_press(self) -> list[Taking]:
        """Return the placements a press is for: one that lies there before one still to come."""
        heard = [taking for taking in self if taking.heard]
        return [t for t in heard if t.free] or [t for t in heard if t.placement == 0]

    def question(self) -> Asked | None:
        """Return what waits for a person to look."""
        return next((taking.asked for taking in self if taking.asked), None)

    def next_question(self) -> int:
        """Return the number of a question to be asked."""
        self._questions += 1
        return self._questions
