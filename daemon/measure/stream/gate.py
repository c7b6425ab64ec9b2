"""What may not enter: samples that are out of range, repeated, out of order or implausible."""

from daemon.measure.stream.tilts import Tilt
from shared.angles import difference_deg
from shared.profile import LevelProfile

BACKWARDS = 8
"""A sequence number at most this much lower is an old sample; more is a counter begun anew."""
PATIENCE = 3
"""So many neighbours refused in a row for the same cause are the new truth, not an error."""


class Gate:
    """Refuses samples by reason. It never locks: after PATIENCE refusals it follows.

    A change of the level's own mode is the exception: it stays refused until the mode is
    what it was, because a held or relative angle must not enter a job.
    """

    def __init__(self, profile: LevelProfile) -> None:
        self._limits = profile.limits
        self._circular = profile.convention != "projection"
        self._mode: float | None = None
        self.restart()

    def restart(self) -> None:
        """Forget the neighbours, after a gap; the mode is kept."""
        self._order = Order()
        self._steps = Steps(self._limits.step_deg, self._circular)

    def refuse(self, values: dict[str, float], tilt: Tilt) -> str | None:
        """Return why this sample must not be used, or None."""
        return (
            self._wrong_mode(values)
            or self._order.refuse(values.get("sequence"))
            or self._out_of_range(tilt)
            or self._steps.refuse(tilt.angle_deg)
        )

    def _wrong_mode(self, values: dict[str, float]) -> str | None:
        mode = values.get("mode")
        if mode is None:
            return None
        if self._mode is None:
            self._mode = mode
        return None if mode == self._mode else "mode changed"

    def _out_of_range(self, tilt: Tilt) -> str | None:
        inside = self._limits.low_deg <= tilt.angle_deg <= self._limits.high_deg
        return None if inside else "out of range"


class Order:
    """The sender's own counter: what comes again, or late."""

    def __init__(self) -> None:
        self._newest: float | None = None
        self._refused = 0

    def refuse(self, number: float | None) -> str | None:
        """Return why a sample with this number must not be used, or None."""
        if number is None or self._newest is None:
            self._newest = number
            return None
        step = number - self._newest
        if -BACKWARDS <= step <= 0 and self._refused < PATIENCE:
            self._refused += 1
            return "repeated" if step == 0 else "out of order"
        self._newest, self._refused = number, 0
        return None


class Steps:
    """The way from one angle to the next.

    Args:
        most_deg: the largest credible one.
        circular: the angle counts the full circle.
    """

    def __init__(self, most_deg: float, circular: bool) -> None:
        self._most_deg = most_deg
        self._circular = circular
        self._newest_deg: float | None = None
        self._refused = 0

    def refuse(self, angle_deg: float) -> str | None:
        """Return why a sample with this angle must not be used, or None."""
        before = self._newest_deg
        if before is not None and self._refused < PATIENCE:
            way = difference_deg(angle_deg, before) if self._circular else angle_deg - before
            if abs(way) > self._most_deg:
                self._refused += 1
                return "implausible step"
        self._newest_deg, self._refused = angle_deg, 0
        return None
