"""What a level's pipe tells the workflow: light objects, no judgement about the job.

A fact carries its data, so that nobody has to ask the pipe back. From facts alone is known
at any time, for each level:

- whether it is heard: what the last `Hearing` said;
- what a press may take: the reading of the last `Still` or `Ready`, until `Restless` or `InHand`.
"""

import math
from dataclasses import dataclass
from typing import Literal

from daemon.measure.stream.reading import Reading
from daemon.measure.stream.tilts import Tilt


@dataclass(slots=True)
class LinkFact:
    """The link changed, or valid samples stopped or came back.

    reason: in words; of "up", who answered. gap_s: of "silent" and "back", since the last sample.
    """

    level: str
    state: Literal["up", "down", "silent", "back", "stuck", "swapped"]
    reason: str = ""
    gap_s: float = 0.0


@dataclass(slots=True)
class Hearing:
    """Whether the level is heard. Said when that changes; before the first one it is not.

    A level that streams is heard while valid samples come that are not always the same. One
    that reports by itself, on change or on a press, is heard while its link is up, because
    nothing can be missed of it.
    """

    level: str
    heard: bool


@dataclass(slots=True)
class RefusedFact:
    """A reason of refusal reached 1, 10, 100 ... frames."""

    level: str
    reason: str
    count: int


@dataclass(slots=True)
class LearnedFact:
    """Something about the level was learned from its own stream."""

    level: str
    what: Literal["noise", "seating", "rate"]
    value: float
    lag1: float
    n: int


@dataclass(slots=True)
class Sways:
    """The aircraft was found to sway; said when that begins, and when it is found to be more.

    swing_deg: standard deviation of what it sways by.
    """

    level: str
    swing_deg: float


@dataclass(slots=True)
class Sampled:
    """One sample that passed the gate (only levels that are watched or on the hub say so)."""

    level: str
    tilt: Tilt


@dataclass(slots=True)
class InHand:
    """The level was lifted, or there is a gap: whatever lay on a blade is over.

    unseen: there is a gap, of a level that sends while it is in a hand; nobody knows whether it was.
    """

    level: str
    unseen: bool = False


@dataclass(slots=True)
class Rested:
    """The level came to rest for the first time in this placement.

    after_gap_s: so long it sent since a gap until it was known to rest; infinite: there was none since
    the placement before.
    """

    level: str
    placement: int
    after_gap_s: float = math.inf


@dataclass(slots=True)
class Still:
    """The level rests, and its running average is not good enough yet.

    Said with every sample for as long as that holds.
    """

    level: str
    placement: int
    turned: bool
    reading: Reading


@dataclass(slots=True)
class Ready:
    """The average of this placement is good enough, or as good as it gets in 10 s.

    Said with every sample for as long as that holds. The reading is the running average up to
    this sample; turned: the blade was turned under the level since it was placed.
    """

    level: str
    placement: int
    turned: bool
    reading: Reading


@dataclass(slots=True)
class Restless:
    """The average that the sample before still had is over, and the level was not lifted.

    It moves, creeps, or its newest samples are off the average; the last may pass.
    """

    level: str


@dataclass(slots=True)
class Crept:
    """The level lies there and has crept for half a second: not lifted, and not at rest.

    Said with every sample for as long as that holds; angle_deg: what it shows now.
    """

    level: str
    placement: int
    angle_deg: float


@dataclass(slots=True)
class Pressed:
    """The level's own button was pressed."""

    level: str


@dataclass(slots=True)
class TurnedOver:
    """The level was turned over in the hand, and back (`turnover`)."""

    level: str


PlacementFact = Hearing | InHand | Rested | Still | Ready | Restless | Crept | Pressed | TurnedOver
"""What a level tells of the place it lies on."""
Fact = LinkFact | RefusedFact | LearnedFact | Sways | Sampled | PlacementFact
