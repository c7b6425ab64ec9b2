"""A level that has stopped measuring though it goes on talking."""

import math

from daemon.measure.stream.average import LEARNED
from shared.profile import LevelProfile

SURELY = 1e-9
"""Chance of a run of equal values below which the level is stuck, not still."""
DITHERS = 0.5
"""Steps of resolution that the noise must exceed for a level at rest to show more than one."""
FRESHEST = 0.03
"""The least new in a sample beside its neighbour that is counted with: what was learned of a level
may have changed a little."""
SHORTEST = 20
"""No shorter run makes a level stuck, however noisy it is."""
NOT_ANGLES = frozenset({"sequence", "battery", "signal", "temperature", "button", "mode"})


class Stuck:
    """Counts how long a level has shown exactly the same.

    A quantised level at rest may rightly do so for ever; it is stuck when its own learned
    noise could not have.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._most_equal = _longest_run(profile)
        self._newest: list[float] = []
        self._equal = 0

    def restart(self) -> None:
        """Forget, after a gap."""
        self._newest, self._equal = [], 0

    def push(self, values: dict[str, float]) -> str | None:
        """Take one sample's numbers; return why the level seems stuck, or None."""
        now = [value for role, value in sorted(values.items()) if role not in NOT_ANGLES]
        self._equal = self._equal + 1 if now == self._newest else 0
        self._newest = now
        if self._equal > self._most_equal:
            return f"{self._equal + 1} equal values from a level whose noise was known"
        return None


def _longest_run(profile: LevelProfile) -> float:
    """Samples after the first that a level at rest may show the same; inf: as many as it likes."""
    noise, step = profile.noise, profile.resolution_deg
    if noise.n < LEARNED or noise.sd_deg <= DITHERS * step:
        return math.inf
    # the most likely step holds this share of the samples
    share = math.erf(step / (2.0 * math.sqrt(2.0) * noise.sd_deg))
    fresh = max(1.0 - noise.lag1, FRESHEST)
    repeat = 1.0 - (1.0 - share) * fresh
    return max(SHORTEST, math.ceil(math.log(SURELY) / math.log(max(repeat, SURELY))))
