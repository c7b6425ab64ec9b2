"""How often a moved blade is called, and an innocent one is not. `python -m benchmarks.between`.

Seeded simulation of the whole procedure: a baseline of two placements for every blade and the
reference, one re-reading round, placements again until `daemon.measure.between` is sure.
"""

import random
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from daemon.measure.between import REFERENCE_READINGS, Change, Diagnosis, diagnose
from shared.events import REFERENCE, BladeId
from shared.job import Thresholds

U_PLACEMENT = 0.05
LOOSE = 10.0
"""A tolerance so wide that what could hide never asks for another placement."""


@dataclass(slots=True)
class Score:
    """Fractions over the trials of one truth."""

    called: float
    accused: float
    blamed: float
    placements: float


def play_round(
    rng: random.Random,
    moves: Sequence[float],
    shift: float,
    *,
    u: float = U_PLACEMENT,
    tightened: bool = False,
    most: int = 3,
    reference_placements: int = REFERENCE_READINGS,
    tolerance: float = LOOSE,
) -> tuple[Diagnosis, int]:
    """Draw one re-reading round of len(moves) blades and a reference, and diagnose it to the end."""
    names: list[BladeId] = [*range(1, len(moves) + 1), REFERENCE]
    truth = dict(zip(names, [*(move + shift for move in moves), shift], strict=True))
    old = {name: statistics.fmean(rng.gauss(0.0, u) for _ in range(2)) for name in names}
    new: dict[BladeId, list[float]] = {name: [] for name in names}
    again: tuple[BladeId, ...] = tuple(names)
    which = frozenset(range(1, len(moves) + 1)) if tightened else frozenset[int]()
    while True:
        for name in again:
            new[name].append(truth[name] + rng.gauss(0.0, u))
        diagnosis = diagnose(
            [
                Change(
                    name,
                    statistics.fmean(new[name]) - old[name],
                    u / 2**0.5,
                    u / len(new[name]) ** 0.5,
                    len(new[name]),
                )
                for name in names
            ],
            thresholds=Thresholds(),
            tolerance_deg=tolerance,
            tightened=which,
            stage="snug",
            max_placements=most,
            reference_placements=reference_placements,
        )
        again = diagnosis.again
        if not again:
            return diagnosis, sum(len(values) for values in new.values())


def score(
    seed: int,
    trials: int,
    moves: Sequence[float],
    shift: float = 0.0,
    *,
    tightened: bool = False,
    most: int = 3,
    reference_placements: int = REFERENCE_READINGS,
) -> Score:
    """Score `trials` rounds of one truth; `most` placements, the first included."""
    rng = random.Random(seed)
    called = accused = blamed = placements = 0
    for _ in range(trials):
        diagnosis, used = play_round(
            rng,
            moves,
            shift,
            tightened=tightened,
            most=most,
            reference_placements=reference_placements,
        )
        states = {one.blade: one.state for one in diagnosis.findings}
        hits = [states[k] in {"moved", "turned"} for k in range(1, len(moves) + 1)]
        called += all(hit for hit, move in zip(hits, moves, strict=True) if move)
        accused += any(hit for hit, move in zip(hits, moves, strict=True) if not move)
        blamed += diagnosis.shifted
        placements += used
    return Score(called / trials, accused / trials, blamed / trials, placements / trials)
