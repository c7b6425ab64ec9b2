"""How long a capture takes, against the least time in which it can be good enough.

    python -m benchmarks.capture_time

A level comes to rest sharply after it was carried. The least is max(1 s, 8 samples,
(sigma / target)^2 (1 + r) / (1 - r) samples), for levels that can reach it in 10 s; the time
counts from the first sample at rest to the sample with which the reading is ready.
"""

import math
import random

from benchmarks.levels import noise, profile, rounded
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.tilts import Tilt

RUNS = 400
GRID = [
    (sd, lag1, rate, learned)
    for learned in (600, 0)
    for rate in (5.0, 10.0, 50.0)
    for sd in (0.01, 0.03, 0.06)
    for lag1 in (0.0, 0.5, 0.9)
]


def least(sd: float, lag1: float, rate: float, target: float) -> float:
    """Fewest samples that can reach the target."""
    return max(rate, 8.0, (sd / target) ** 2 * (1 + lag1) / (1 - lag1))


def times(
    rng: random.Random, sd: float, lag1: float, rate: float, learned: int
) -> tuple[list[int], int]:
    """Samples that each capture took, and how many stopped short of the target."""
    level = profile(sd, lag1 if learned else 0.0, learned, reporting={"rate_hz": rate})
    found, short = [], 0
    for _ in range(RUNS):
        settling = Settling(level, 8.0)
        shake = noise(rng, sd, lag1)
        for _ in range(math.ceil(1.5 * rate)):
            settling.push(Tilt(60.0 + rng.gauss(0, 10), None, None))
        n = 0
        while settling.doing != "ready" and n < 40 * rate:
            n += 1
            settling.push(Tilt(rounded(18.0 + next(shake), level.resolution_deg), None, None))
        found.append(n)
        short += not (settling.reading and settling.reading.reached)
    return found, short


def main(seed: int = 1) -> None:
    """Print the table."""
    rng = random.Random(seed)
    print("noise    rate    sd    r   least s   mean s   ratio   95 %   stopped at 10 s")
    ratios = []
    for sd, lag1, rate, learned in GRID:
        target = max(profile(sd).seating.u_deg / 3, profile(sd).resolution_deg)
        need = least(sd, lag1, rate, target)
        if need > 10 * rate or (not learned and lag1 > 0.0):
            continue
        found, short = times(rng, sd, lag1, rate, learned)
        mean = math.fsum(found) / len(found)
        late = sorted(found)[math.ceil(0.95 * len(found)) - 1]
        if learned:
            ratios.append(mean / need)
        print(
            f"{'learned' if learned else 'assumed':8} {rate:4.0f}  {sd:4.2f}  {lag1:3.1f}"
            f"  {need / rate:8.2f} {mean / rate:8.2f} {mean / need:7.3f} {late / need:6.2f}"
            f"  {short:6}"
        )
    print(
        f"learned noise: mean ratio {math.fsum(ratios) / len(ratios):.3f}, worst {max(ratios):.3f}"
    )


if __name__ == "__main__":
    main()
