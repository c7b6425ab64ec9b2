"""A level that has stopped measuring though it goes on talking."""

import math

from shared.profile import LevelProfile

SURELY = 1e-9
"""Chance of a run of equal values below which the level is stuck, not still."""
MOVED = 4.0
"""Resolutions that something else must have moved for a frozen level to give itself away."""


class Stuck:
    """Counts how long a level has shown exactly the same.

    A quantised level at rest may rightly do so for ever; it is stuck when its own learned
    noise could not have, or when it did not follow something that surely moved.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._step = profile.resolution_deg
        self._least_move = MOVED * max(profile.resolution_deg, profile.noise.sd_deg)
        self._most_equal = _longest_run(profile)
        self._last: tuple[float, ...] | None = None
        self.equal = 0

    def restart(self) -> None:
        """Forget, after a gap."""
        self._last = None
        self.equal = 0

    def push(self, values: dict[str, float]) -> str | None:
        """Take one sample's numbers; return why the level seems stuck, or None."""
        now = tuple(value for role, value in sorted(values.items()) if role not in NOT_ANGLES)
        self.equal = self.equal + 1 if now == self._last else 0
        self._last = now
        if self._most_equal is not None and self.equal > self._most_equal:
            return f"{self.equal + 1} equal values from a level whose noise was known"
        return None

    def against(self, moved_deg: float, samples: int) -> str | None:
        """Judge against something else that moved so far during the last `samples`."""
        if abs(moved_deg) > self._least_move and samples > 3 and self.equal >= samples:
            return f"it showed the same while {abs(moved_deg):.1f} degrees were turned"
        return None


NOT_ANGLES = frozenset({"sequence", "battery", "signal", "temperature", "button", "mode"})


def _longest_run(profile: LevelProfile) -> int | None:
    """Samples that a level at rest may show the same; None: as long as it likes."""
    noise, step = profile.noise, profile.resolution_deg
    if noise.n < 30 or noise.sd_deg <= 0.5 * step:
        return None
    # the most likely step holds this share of the samples
    share = math.erf(step / (2.0 * math.sqrt(2.0) * noise.sd_deg)) if step > 0.0 else 0.0
    fresh = max(1.0 - noise.lag1, 0.03)
    repeat = 1.0 - (1.0 - min(share, 0.999)) * fresh
    return max(20, math.ceil(math.log(SURELY) / math.log(max(repeat, 1e-3))))
