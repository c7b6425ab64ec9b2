"""What the tail of a movement leaves in a reading, and creeps that must not pass as still.

    python -m benchmarks.stillness [placements a seed] [seeds]

Twice 10,000 placements: the level is carried, put on the blade and comes to rest (an exponential
tail, a rocking that dies out, or a blade turned and stopped). U is the 95 % half-width of
the blade angle of one placement under the job's defaults, station at 0.62 m. The least time counts from the
first sample of the earliest stretch that an all-knowing observer could have averaged.
"""

import math
import random
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.levels import job, noise, profile, rounded
from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.reference import reference_angle
from daemon.measure.stream.average import inflation, inliers, prior_of
from daemon.measure.stream.reading import Reading
from daemon.measure.stream.settling import Settling
from daemon.measure.stream.tilts import Tilt
from shared.profile import LevelProfile

PLACEMENTS, SEEDS = 10_000, 2
Row = tuple[float, float, str]
"""Bias over U, time over the least, and the way of coming to rest."""
CREEPS = (0.005, 0.01, 0.02, 0.03, 0.05)
REST = 18.0
Path = Callable[[float], float]
"""Deviation from rest at a time after the level touches the blade."""


@dataclass
class Case:
    """One kind of level, with the U of a blade angle read with it."""

    level: LevelProfile
    rate: float
    u95: float


def case(sd: float, lag1: float, rate: float) -> Case:
    """Return a level with its U: one placement, reference from two, job's defaults."""
    level = profile(sd, lag1, reporting={"rate_hz": rate})
    u = max(level.seating.u_deg / 3.0, level.resolution_deg)
    read = Reading(REST, u, 100.0, 10, sd, lag1, True, None, None, level.resolution_deg)
    surface = replace(read, mean_deg=-3.0)
    reference = reference_angle([surface, surface], level, "normal")
    at = job(propeller={"radius_m": 0.62})
    return Case(level, rate, blade_reading(read, level, at, "normal", reference).budget.u95_deg)


def tail(rng: random.Random) -> Path:
    """Settling as a soft strap or a hand that lets go: exponential, 0.3 to 10 degrees."""
    size, tau = rng.choice((-1, 1)) * 0.3 * 33.0 ** rng.random(), rng.uniform(0.05, 0.5)
    return lambda t: size * math.exp(-t / tau)


def rocking(rng: random.Random) -> Path:
    """A blade that rocks on its root and comes to rest."""
    size, tau = 0.1 * 20.0 ** rng.random(), rng.uniform(0.1, 0.4)
    turns, phase = 2 * math.pi * rng.uniform(1.5, 5.0), rng.uniform(0, 2 * math.pi)
    return lambda t: size * math.exp(-t / tau) * math.cos(turns * t + phase)


def turning(rng: random.Random) -> Path:
    """A blade turned at 1 to 10 degrees a second for a second and stopped softly."""
    speed, tau = rng.choice((-1, 1)) * rng.uniform(1, 10), rng.uniform(0.02, 0.25)
    return lambda t: speed * (tau + 1.0 - t) if t < 1.0 else speed * tau * math.exp((1.0 - t) / tau)


def captured(
    case: Case,
    rng: random.Random,
    path: Path,
    before: list[float],
    longest_s: float = 20.0,
    *,
    fresh: bool = True,
) -> tuple[int, int, float, list[float]] | None:
    """Run until ready: samples since touching, averaged, the path's part in it, the path."""
    settling = Settling(case.level, 8.0)
    settling.set_rate(case.rate)
    shake = noise(rng, case.level.noise.sd_deg, case.level.noise.lag1)
    step = case.level.resolution_deg
    for angle in before:
        settling.push(Tilt(rounded(angle + next(shake), step), None, None))
    start, phase, offs, shown = settling.placement, rng.random(), [], []
    for i in range(math.ceil(longest_s * case.rate)):
        offs.append(path((i + phase) / case.rate))
        shown.append(rounded(REST + offs[-1] + next(shake), step))
        settling.push(Tilt(shown[-1], None, None))
        if settling.doing == "ready" and (settling.placement > start or not fresh):
            assert settling.reading is not None
            got = settling.reading
            return i + 1, got.n, left_by(offs, shown, got, case), offs
    return None


def left_by(offs: list[float], shown: list[float], reading: Reading, case: Case) -> float:
    """Mean of the path's own values over the very samples that were averaged.

    The reading does not tell which samples it left out; the stretch is found by its mean.
    """
    floor = prior_of(case.level).sd
    for run in range(reading.n, len(shown) + 1):
        kept = inliers(shown[-run:], floor)
        mean = math.fsum([shown[-run:][i] for i in kept]) / len(kept)
        if len(kept) == reading.n and abs(mean - reading.mean_deg) < 1e-9:
            return math.fsum([offs[-run:][i] for i in kept]) / len(kept)
    # the stretch began before the level touched the blade
    return math.fsum(offs[-reading.n :]) / len(offs[-reading.n :])


def carried(rng: random.Random, rate: float) -> list[float]:
    """A second and a half in a hand."""
    return [REST + 30.0 + rng.gauss(0, 8) for _ in range(math.ceil(1.5 * rate))]


def least(case: Case) -> int:
    """Fewest samples with which the target can be reached at all."""
    sd, lag1 = case.level.noise.sd_deg, case.level.noise.lag1
    target = max(case.level.seating.u_deg / 3.0, case.level.resolution_deg)
    need = (sd / target) ** 2 * (1 + lag1) / (1 - lag1)
    return max(math.ceil(case.rate), 8, math.ceil(need))


def first_start(offs: list[float], n: int, allowed: float) -> int:
    """First sample of the earliest stretch of n whose mean an observer would accept."""
    sums = np.concatenate([[0.0], np.cumsum(offs)])
    means = np.abs(sums[n:] - sums[:-n]) / n
    good = np.nonzero(means < allowed)[0]
    return int(good[0]) if good.size else len(offs) - n


def placements(seed: int, count: int) -> tuple[list[Row], int]:
    """Return what became of `count` placements, and how many were never captured."""
    rng = random.Random(seed)
    cases = [
        case(sd, lag1, rate)
        for sd in (0.01, 0.03, 0.05)
        for lag1 in (0.0, 0.5)
        for rate in (10.0, 25.0)
        if sd * sd / 1e-4 * inflation(lag1, 1000) < 10 * rate
    ]
    rows: list[Row] = []
    missed = 0
    for i in range(count):
        at = cases[i % len(cases)]
        kind = (tail, rocking, turning)[i // len(cases) % 3]
        path = kind(rng)
        got = captured(at, rng, path, carried(rng, at.rate))
        if got is None:
            missed += 1
            continue
        taken, _, left, offs = got
        need, allowed = least(at), 0.2 * at.u95
        longer = offs + [path((j + 0.5) / at.rate) for j in range(len(offs), len(offs) + need)]
        start = first_start(longer, need, allowed)
        bias = abs(left) / at.u95
        rows.append((bias, (taken - start) / need, kind.__name__))
    return rows, missed


def shown(rows: list[Row], missed: int) -> None:
    """Print the bias of the tail and the time to a capture."""
    for name in ("tail", "rocking", "turning", ""):
        some = [(b, t) for b, t, kind in rows if not name or kind == name]
        biases, times = np.array(some).T
        print(
            f"{name or 'all':8} n {len(some):6} bias < 0.2 U {np.mean(biases < 0.2):.4%}"
            f" worst {biases.max():.2f} U; time over least: mean {times.mean():.3f}"
            f" median {np.median(times):.3f} 95 % {np.quantile(times, 0.95):.2f}"
        )
    print(f"never captured: {missed}", flush=True)


def wrongly_taken(rng: random.Random, at: Case, creep: float, *, lasting: bool) -> bool:
    """Whether a creep was averaged, in 12 s of looking, that moves the average by over 0.2 U."""
    before = carried(rng, at.rate)
    if lasting:
        before += [REST - creep * (30 - i) / 10 for i in range(30)]
    got = captured(at, rng, lambda t: creep * t, before, 12.0, fresh=not lasting)
    return got is not None and creep * got[1] / at.rate / 2 > 0.2 * at.u95


def creeps(seed: int = 2, runs: int = 400) -> None:
    """Print how often a creep was taken although it moved the average by over 0.2 U."""
    rng = random.Random(seed)
    print("creep deg/s: taken though it moves the average by more than 0.2 U, of", runs)
    for sd in (0.01, 0.02, 0.03):
        at = case(sd, 0.0, 10.0)
        for lasting in (True, False):
            wrong = {
                creep: sum(wrongly_taken(rng, at, creep, lasting=lasting) for _ in range(runs))
                for creep in CREEPS
            }
            words = "creeping for 3 s already" if lasting else "creeping from the first touch"
            line = "  ".join(f"{creep}: {count}" for creep, count in wrong.items())
            print(f"  sd {sd} U {at.u95:.3f} {words:30} {line}", flush=True)


def main(count: int = PLACEMENTS, seeds: int = SEEDS) -> None:
    """Print every seed, all of them together, and the creeps."""
    everything: list[Row] = []
    missed = 0
    for seed in range(1, seeds + 1):
        rows, never = placements(seed, count)
        print(f"seed {seed}")
        shown(rows, never)
        everything, missed = everything + rows, missed + never
    print("all seeds")
    shown(everything, missed)
    creeps()


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
