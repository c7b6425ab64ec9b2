"""Play: a loose blade rests anywhere between two stops, and nothing was touched."""

import math
from dataclasses import dataclass

from daemon.measure.angle.budget import Budget, Line, difference
from daemon.measure.angle.means import BladeAngle
from shared.angles import difference_deg


@dataclass(frozen=True, slots=True)
class Play:
    """What a light finger towards coarse and towards fine found.

    Attributes:
        full_deg: from stop to stop, never negative.
        u_deg: standard uncertainty of `full_deg`.
        found: whether it stands out of that uncertainty.
    """

    full_deg: float
    u_deg: float
    found: bool

    def line(self) -> Line:
        """Return the line it puts into every reading before the nip."""
        half = max(self.full_deg, 0.0) / 2.0
        return Line("play", "B", half / math.sqrt(3.0), common="blade", shape="rectangular")

    def within(self, change_deg: float, u95_deg: float) -> bool:
        """Whether a change can be the blade resting elsewhere in its play."""
        return self.found and abs(change_deg) <= self.full_deg + u95_deg


def play_test(coarse: BladeAngle, fine: BladeAngle) -> Play:
    """Return the play from one reading at each stop, the level not lifted between.

    A coarse reading below the fine one by no more than noise is no play; the level stayed
    put, so only what a placement shares with itself cancels.
    """
    full = difference_deg(coarse.angle_deg, fine.angle_deg)
    left = difference(coarse.budget, fine.budget).lines
    moving = Budget(tuple(line for line in left if line.name in {"averaging", "resolution"}))
    return Play(max(full, 0.0), moving.u_deg, full > 2.0 * moving.u_deg)


def advice(play: Play, tolerance_deg: float) -> str:
    """Say what to do about the play, or "" when it does not matter."""
    if not play.found:
        return ""
    if play.full_deg > tolerance_deg:
        return (
            f"The blade has {play.full_deg:.2f} of play, more than the tolerance: approach the "
            "angle from the same side each time and settle it after the nip."
        )
    return f"The blade has {play.full_deg:.2f} of play: approach it from the same side each time."
