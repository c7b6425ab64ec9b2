"""What a level is doing right now, in its own terms: for the eye, never recorded."""

from dataclasses import dataclass
from typing import Literal

Doing = Literal["in hand", "moving", "creeping", "settling", "still", "ready"]


@dataclass(frozen=True, slots=True)
class Motion:
    """One level's motion.

    Attributes:
        doing: what the level does.
        angle_deg: a lightly filtered angle, within 0.3 s of the true one.
        psi_deg: elevation of the span, where the level knows it.
        progress: 0..1 towards an average that is good enough.
        u_deg: standard uncertainty of the running average, where there is one.
    """

    doing: Doing
    angle_deg: float
    psi_deg: float | None
    progress: float
    u_deg: float | None
