"""How good the robust average is: efficiency, and what outliers cost.

    python -m benchmarks.averaging

Averages of 40 values, standard deviation 0.03, noise learned and only assumed.
"""

import math
import random

from daemon.measure.stream.average import Prior, average

SD, N, RUNS = 0.03, 40, 20_000


def errors(rng: random.Random, learned: int, share: float) -> list[float]:
    """Return the errors of many averages with this share of values 5 degrees high."""
    prior = Prior(SD, 0.0, learned, 0.0, SD)
    found = []
    for _ in range(RUNS):
        values = [rng.gauss(0, SD) + (5.0 if rng.random() < share else 0.0) for _ in range(N)]
        found.append(average(values, prior).mean)
    return found


def main(seed: int = 1) -> None:
    """Print the table."""
    rng = random.Random(seed)
    print(
        f"{'noise':8} {'outliers':>8} {'standard error / (sigma / sqrt n)':>34} {'bias / sigma':>13}"
    )
    for learned in (600, 0):
        for share in (0.0, 0.1, 0.2):
            found = errors(rng, learned, share)
            bias = math.fsum(found) / RUNS
            spread = math.sqrt(math.fsum((x - bias) ** 2 for x in found) / RUNS)
            ratio = spread / (SD / math.sqrt(N))
            name = "learned" if learned else "assumed"
            print(f"{name:8} {share:8.0%} {ratio:34.4f} {bias / SD:13.4f}")


if __name__ == "__main__":
    main()
