"""What a level's pipe tells the workflow: light objects, no judgement about the job."""

from dataclasses import dataclass
from typing import Literal

from daemon.measure.stream.tilts import Tilt


@dataclass(slots=True)
class LinkFact:
    """The link changed, or valid samples stopped or came back."""

    level: str
    state: Literal["up", "down", "silent", "back", "stuck", "mode", "swapped"]
    reason: str = ""
    gap_s: float = 0.0


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
class Sampled:
    """One sample that passed the gate (only levels that are watched or on the hub say so)."""

    level: str
    tilt: Tilt


@dataclass(slots=True)
class InHand:
    """The level was lifted: whatever lay on a blade is over."""

    level: str


@dataclass(slots=True)
class Rested:
    """The level came to rest for the first time in this placement."""

    level: str
    placement: int


@dataclass(slots=True)
class Ready:
    """The average of this placement is good enough, or as good as it gets in 10 s.

    Said with every sample for as long as that holds.
    """

    level: str
    placement: int
    turned: bool


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


Fact = LinkFact | RefusedFact | LearnedFact | Sampled | InHand | Rested | Ready | Crept | Pressed
