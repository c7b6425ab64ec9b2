"""A first session with a level whose noise nobody knows: how it gets faster as it learns.

    python -m benchmarks.first_session

The profile only assumes a noise (0.03, white); what the placements of the session teach is
used from one to the next. Printed: time from the first sample at rest to the reading, over
the least time as in benchmarks.capture_time, by placement; and the share of averages that
are within their own 95 %.
"""

import math
import random

from benchmarks.capture_time import least
from benchmarks.levels import noise, profile
from daemon.core.pipe import Pipe
from daemon.measure.quantiles import t95
from daemon.measure.stream.facts import Ready
from daemon.measure.stream.reading import Reading
from shared.inputs import NS
from shared.job import LevelEntry

PLACEMENTS, SESSIONS = 8, 60
LIES_ON_S = 1.2
"""So long the level lies on after the reading before a hand takes it off."""
GRID = [
    (rate, sd, lag1)
    for rate in (5.0, 10.0, 50.0)
    for sd in (0.01, 0.03, 0.06)
    for lag1 in (0.0, 0.5, 0.9)
]


class Bench:
    """A level of unknown noise that is carried and laid down."""

    def __init__(self, rng: random.Random, rate: float, sd: float, lag1: float) -> None:
        level = profile(0.03, 0.0, 0, reporting={"rate_hz": rate})
        self._pipe = Pipe(LevelEntry(name="bench", profile="bench-level"), level, 8.0)
        self._rng, self._rate, self._t_ns = rng, rate, 0
        self._shake = noise(rng, sd, lag1)

    def _send(self, angle_deg: float) -> bool:
        self._t_ns += round(NS / self._rate)
        facts = self._pipe.feed(self._t_ns, 0, b"%.2f\n" % angle_deg)
        return any(isinstance(fact, Ready) for fact in facts)

    def place(self) -> tuple[int, float, Reading]:
        """Return the samples it took, how far off the average is, and the reading."""
        for _ in range(math.ceil(1.5 * self._rate)):
            self._send(60.0 + self._rng.gauss(0, 10))
        rest, n = 18.0 + self._rng.uniform(-0.05, 0.05), 1
        while not self._send(rest + next(self._shake)):
            n += 1
            if n > 60 * self._rate:
                raise RuntimeError("never ready")
        reading = self._pipe.reading
        assert reading is not None
        for _ in range(math.ceil(LIES_ON_S * self._rate)):
            self._send(rest + next(self._shake))
        return n, reading.mean_deg - rest, reading


def within(off: float, reading: Reading) -> bool:
    """Whether an average is within what it states."""
    u = math.hypot(reading.u_deg, reading.u_rounding_deg or 0.0)
    return abs(off) <= t95(reading.dof) * u


def main(seed: int = 2) -> None:
    """Print the table."""
    rng, rows = random.Random(seed), []
    target = max(profile(0.03).seating.u_deg / 3, profile(0.03).resolution_deg)
    print("rate    sd    r   least s  placement 1      2      3 ...                  inside")
    for rate, sd, lag1 in GRID:
        need = least(sd, lag1, rate, target)
        if need > 10 * rate:
            continue
        found = []
        for _ in range(SESSIONS):
            bench = Bench(rng, rate, sd, lag1)
            found.append([bench.place() for _ in range(PLACEMENTS)])
        row = [math.fsum(one[k][0] for one in found) / SESSIONS / need for k in range(PLACEMENTS)]
        inside = [within(off, reading) for one in found for _, off, reading in one]
        rows.append(row)
        shown = " ".join(f"{ratio:6.2f}" for ratio in row)
        share = sum(inside) / len(inside)
        print(f"{rate:4.0f}  {sd:4.2f}  {lag1:3.1f}  {need / rate:8.2f}  {shown}  {share:.3f}")
    columns = list(zip(*rows, strict=True))
    print("mean of the rows        ", " ".join(f"{math.fsum(c) / len(c):6.2f}" for c in columns))
    print("worst row               ", " ".join(f"{max(c):6.2f}" for c in columns))


if __name__ == "__main__":
    main()
