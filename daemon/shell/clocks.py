"""The clocks of this machine, read nowhere else in the daemon."""

import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

STOOD_STILL_S = 2.0
"""Who looks several times a second and did not for so long was stopped, or got no processor."""


class SessionClock:
    """Session time from the monotonic clock.

    Args:
        from_ns: session time at this moment (a resumed session goes on where it was).
        pace: session seconds a real second; 1 except in a demo that is hurried along.
    """

    def __init__(self, from_ns: int = 0, pace: float = 1.0) -> None:
        self._from_ns = from_ns
        self._pace = pace
        self._start = time.monotonic_ns()

    def __call__(self) -> int:
        """Return session time now, in ns."""
        return self._from_ns + round((time.monotonic_ns() - self._start) * self._pace)


def wall() -> str:
    """Return the wall time, ISO 8601 in UTC, for people."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def boot_id() -> str:
    """Return which boot of the machine this is; empty where the system does not say."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        return ""


class WallWatch:
    """Notices steps of the wall clock, and that machine or program stood still.

    It is to be asked several times a second.
    """

    def __init__(self) -> None:
        self._looked_s = time.monotonic()
        self._offset_s = time.time() - self._looked_s
        self._asleep_s = self._sleep()

    def changed(self) -> tuple[Literal["suspend", "step"], float] | None:
        """Return what happened since the last call, and the seconds of it."""
        now_s, asleep_s = time.monotonic(), self._sleep()
        offset_s = time.time() - now_s
        stood_s, stepped = now_s - self._looked_s, offset_s - self._offset_s
        slept = asleep_s - self._asleep_s
        self._looked_s, self._offset_s, self._asleep_s = now_s, offset_s, asleep_s
        if slept > 0.5 or stood_s > STOOD_STILL_S:
            return "suspend", slept + stood_s
        return ("step", stepped) if abs(stepped) > 0.5 else None

    @staticmethod
    def _sleep() -> float:
        boottime = getattr(time, "CLOCK_BOOTTIME", None)
        if boottime is None:
            return 0.0
        return time.clock_gettime(boottime) - time.monotonic()
