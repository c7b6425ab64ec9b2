"""The clocks of this machine, read nowhere else in the daemon."""

import time
from datetime import UTC, datetime
from pathlib import Path


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
    """Notices steps of the wall clock and sleeps of the machine."""

    def __init__(self) -> None:
        self._offset_s = time.time() - time.monotonic()
        self._asleep_s = self._sleep()

    def changed(self) -> tuple[str, float] | None:
        """Return ("suspend" or "step", seconds) if one happened since the last call."""
        offset_s, asleep_s = time.time() - time.monotonic(), self._sleep()
        slept, stepped = asleep_s - self._asleep_s, offset_s - self._offset_s
        self._offset_s, self._asleep_s = offset_s, asleep_s
        if slept > 0.5:
            return "suspend", slept
        return ("step", stepped) if abs(stepped) > 0.5 else None

    @staticmethod
    def _sleep() -> float:
        boottime = getattr(time, "CLOCK_BOOTTIME", None)
        if boottime is None:
            return 0.0
        return time.clock_gettime(boottime) - time.monotonic()
