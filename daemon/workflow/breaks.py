"""Whether the work stood still so long that nobody knows what was touched meanwhile.

Session time stands still while the program does not run, and may while the machine sleeps; what the
wall clock says beside it tells how long that was. A wall clock that was only put right is no break.
"""

from datetime import datetime, timedelta

from shared.inputs import NS

BREAK_S = 1800.0
"""Half an hour: common practice, no source."""


class Breaks:
    """Times at which somebody did something.

    started: wall time at session time 0, ISO 8601; "" where nobody knows.
    """

    def __init__(self, started: str) -> None:
        self._wall = _time(started)
        self._wall_ns = 0
        self._acted_ns = 0

    def act(self, now_ns: int) -> float:
        """Somebody does something now; return after how many seconds of a break, 0 for none."""
        still_s = (now_ns - self._acted_ns) / NS
        self._acted_ns = now_ns
        return still_s if still_s >= BREAK_S else 0.0

    def clock(self, wall: str, now_ns: int, *, stood: bool) -> None:
        """The wall clock was read. stood: machine or program stood still before it."""
        now = _time(wall)
        if stood and now is not None and self._wall is not None:
            ran = timedelta(seconds=(now_ns - self._wall_ns) / NS)
            away_s = _seconds(self._wall + ran, now)
            self._acted_ns -= round(max(0.0, away_s) * NS)
        self._wall, self._wall_ns = now, now_ns


def _seconds(earlier: datetime, later: datetime) -> float:
    """Return the time between; times without a zone are of the same one."""
    if (earlier.tzinfo is None) != (later.tzinfo is None):
        earlier, later = earlier.replace(tzinfo=None), later.replace(tzinfo=None)
    return (later - earlier).total_seconds()


def _time(wall: str) -> datetime | None:
    try:
        return datetime.fromisoformat(wall)
    except ValueError:
        return None
