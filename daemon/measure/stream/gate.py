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
        self._sequence: float | None = None
        self._angle_deg: float | None = None
        self._far = 0
        self._old = 0

    def restart(self) -> None:
        """Forget the neighbours, after a gap; the mode is kept."""
        self._sequence = None
        self._angle_deg = None
        self._far = self._old = 0

    def refuse(self, values: dict[str, float], tilt: Tilt) -> str | None:
        """Return why this sample must not be used, or None."""
        return (
            self._wrong_mode(values)
            or self._wrong_order(values)
            or self._out_of_range(tilt)
            or self._too_far(tilt)
        )

    def _wrong_mode(self, values: dict[str, float]) -> str | None:
        mode = values.get("mode")
        if mode is None:
            return None
        if self._mode is None:
            self._mode = mode
        return None if mode == self._mode else "mode changed"

    def _wrong_order(self, values: dict[str, float]) -> str | None:
        sequence, before = values.get("sequence"), self._sequence
        if sequence is None or before is None:
            self._sequence = sequence
            return None
        step = sequence - before
        if -BACKWARDS <= step <= 0 and self._old < PATIENCE:
            self._old += 1
            return "repeated" if step == 0 else "out of order"
        self._old = 0
        self._sequence = sequence
        return None

    def _out_of_range(self, tilt: Tilt) -> str | None:
        inside = self._limits.low_deg <= tilt.angle_deg <= self._limits.high_deg
        return None if inside else "out of range"

    def _too_far(self, tilt: Tilt) -> str | None:
        before, self._far = self._angle_deg, self._far + 1
        if before is not None and self._far <= PATIENCE:
            step = tilt.angle_deg - before
            if self._circular:
                step = difference_deg(tilt.angle_deg, before)
            if abs(step) > self._limits.step_deg:
                return "implausible step"
        self._angle_deg, self._far = tilt.angle_deg, 0
        return None
