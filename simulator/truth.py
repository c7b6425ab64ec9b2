"""What is true in the hangar, for those who compare afterwards. The program never sees it."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Move:
    """A blade turned that nobody meant to turn. Angles in degrees, coarser positive."""

    t_ns: int
    blade: int
    size_deg: float
    stage: str
    cause: str


@dataclass(frozen=True, slots=True)
class Shift:
    """Something that shifts readings together: the aircraft, or a level."""

    t_ns: int
    what: Literal["aircraft", "level"]
    size_deg: float
    stage: str
    cause: str
    lasting: bool


@dataclass(frozen=True, slots=True)
class Truth:
    """The state of the hangar at one instant, and how it came about."""

    t_ns: int
    angles_deg: tuple[float, ...]
    """True blade angles, blade 1 first."""
    theta_deg: float
    moved: tuple[Move, ...]
    shifts: tuple[Shift, ...]
    past: tuple[tuple[tuple[int, float], ...], ...]
    """A blade: its angle from each instant (t_ns) on, oldest first; changes under 0.002 are
    not listed one by one."""
    stuck: str = ""
    """Why the person gave up, or empty."""

    def angle_at(self, blade: int, t_ns: int) -> float:
        """Return a blade's true angle at an instant."""
        angle = self.past[blade - 1][0][1]
        for since, value in self.past[blade - 1]:
            if since > t_ns:
                break
            angle = value
        return angle

    def moved_blades(self) -> list[int]:
        """Return the blades that were moved by mishap, each once, in order."""
        return sorted({move.blade for move in self.moved})
