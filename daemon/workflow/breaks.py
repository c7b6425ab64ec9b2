"""Whether the work stood still so long that nobody knows what was touched meanwhile.

Session time stands still while the program does not run, and may while the machine sleeps; what the
wall clock says beside it tells how long that was. A wall clock that was only put right is no break.
"""

import re
from calendar import timegm

from shared.inputs import NS

BREAK_S = 1800.0
"""Half an hour: common practice, no source."""


class Breaks:
    """Times at which somebody did something.

    started: wall time at session time 0, ISO 8601; "" where nobody knows.
    """

    def __init__(self, started: str) -> None:
        self._wall_s = _seconds(started)
        self._wall_ns = 0
        self._acted_ns = 0
        self._away: list[tuple[int, int]] = []
        """When nobody was there without session time going on, and for how long, ns."""

    def act(self, now_ns: int) -> float:
        """Somebody does something now; return after how many seconds of a break, 0 for none."""
        still_s = (now_ns - self._acted_ns) / NS
        self._acted_ns = now_ns
        return still_s if still_s >= BREAK_S else 0.0

    def by_the_wall(self, t_ns: int) -> int:
        """Return when, on a session clock that had never stood still, something at `t_ns` would be."""
        return t_ns - sum(away_ns for at_ns, away_ns in self._away if at_ns >= t_ns)

    def clock(self, wall: str, now_ns: int, *, stood: bool) -> None:
        """The wall clock was read. stood: machine or program stood still before it."""
        now_s = _seconds(wall)
        if stood and now_s is not None and self._wall_s is not None:
            away_s = now_s - self._wall_s - (now_ns - self._wall_ns) / NS
            away_ns = round(max(0.0, away_s) * NS)
            self._acted_ns -= away_ns
            self._away.append((now_ns, away_ns))
        self._wall_s, self._wall_ns = now_s, now_ns


ISO = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d):(\d\d)(?:[.,]\d+)?(?:Z|([+-])(\d\d):?(\d\d))?"
)


def _seconds(wall: str) -> float | None:
    """Return a time of ISO 8601 as seconds since 1970; without a zone as of UTC. None: it is none."""
    found = ISO.fullmatch(wall)
    if found is None:
        return None
    year, month, day, hour, minute, second = map(int, found.groups()[:6])
    if not (1 <= month <= 12 and 1 <= day <= 31):
        return None
    east = 0
    if found[7]:
        east = (int(found[8]) * 60 + int(found[9])) * (60 if found[7] == "+" else -60)
    return float(timegm((year, month, day, hour, minute, second)) - east)
