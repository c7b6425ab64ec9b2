"""How a level lies: which part of the upward vertical is along each of its own directions."""

import math
from typing import NamedTuple


class Pose(NamedTuple):
    """A level with a marked end.

    Attributes:
        end_deg: how much the marked end is raised above the other.
        side_deg: how far it is rolled about its long axis, its right side down (seen with the
            marked end pointing away).
        heading_deg: where the marked end points, for a compass.
    """

    end_deg: float
    side_deg: float
    heading_deg: float = 0.0

    def up(self) -> tuple[float, float, float]:
        """Return the vertical's parts along marked end, left side, top; of length 1."""
        end, side = math.radians(self.end_deg), math.radians(self.side_deg)
        return (
            math.sin(end),
            math.cos(end) * math.sin(side),
            math.cos(end) * math.cos(side),
        )


def in_its_plane_deg(along: float, top: float) -> float:
    """Return the angle in the plane of one direction and the top."""
    return math.degrees(math.atan2(along, top))


def arc_sine_deg(along: float) -> float:
    """Return the elevation of one direction."""
    return math.degrees(math.asin(max(-1.0, min(1.0, along))))
