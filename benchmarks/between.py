"""How often a moved blade is called, and an innocent one is not. `python -m benchmarks.between`.

Seeded simulation of the whole procedure: a baseline of two placements for every blade and the
reference, one re-reading round, placements again until `daemon.measure.moved` is sure.
"""

import random
import statistics
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from daemon.measure.moved.diagnose import REFERENCE_READINGS, diagnose
from daemon.measure.moved.model import Change, Diagnosis
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


STATED: tuple[tuple[str, list[float], float, bool, float, float], ...] = (
    ("1 of 3 moved 0.15", [0.15, 0.0, 0.0], 0.0, False, 0.22, 0.0),
    ("1 of 3 moved 0.2", [0.2, 0.0, 0.0], 0.0, False, 0.60, 0.0),
    ("1 of 3 moved 0.25", [0.25, 0.0, 0.0], 0.0, False, 0.89, 0.0),
    ("1 of 3 moved 0.3", [0.3, 0.0, 0.0], 0.0, False, 0.98, 0.0),
    ("1 of 3 moved 0.4", [0.4, 0.0, 0.0], 0.0, False, 1.0, 0.0),
    ("2 of 3 moved 0.4", [0.4, 0.4, 0.0], 0.0, False, 1.0, 0.005),
    ("3 of 4 moved 0.4", [0.4, 0.4, 0.4, 0.0], 0.0, False, 0.995, 0.005),
    ("3 of 3 moved 0.4", [0.4] * 3, 0.0, False, 0.94, 0.06),
    ("4 of 4 moved 0.4", [0.4] * 4, 0.0, False, 0.79, 0.21),
    ("3 of 3 turned 0.4 by tightening", [0.4] * 3, 0.0, True, 0.995, 0.005),
    ("4 of 4 turned 0.4 by tightening", [0.4] * 4, 0.0, True, 0.995, 0.005),
    ("6 of 6 turned 0.4 by tightening", [0.4] * 6, 0.0, True, 0.91, 0.09),
    ("shift of 0.4, 3 blades", [0.0] * 3, 0.4, False, 0.0, 1.0),
    ("nothing, 3 blades", [0.0] * 3, 0.0, False, 0.0, 0.0),
)
"""Truth, moves, shift, tightened, and what is stated: all called, reference blamed.

The stated figures come from a simulation of the same rules elsewhere, with three placements
beyond the first and the reference blamed at once.
"""


def _table(trials: int) -> None:
    print("truth; all called: stated, same rules, shipped; accused; blamed: stated, same, shipped")
    for truth, moves, shift, tightened, called, blamed in STATED:
        same = score(3, trials, moves, shift, tightened=tightened, most=4, reference_placements=1)
        ours = score(3, trials, moves, shift, tightened=tightened)
        first = f"{called:.3f}, {same.called:.3f}, {ours.called:.3f}" if any(moves) else "-"
        print(
            f"{truth}; {first}; {max(same.accused, ours.accused):.4f}; "
            f"{blamed:.3f}, {same.blamed:.3f}, {ours.blamed:.3f}; "
            f"{ours.placements:.1f} placements",
            flush=True,
        )


def plain_changes(
    rng: random.Random, moves: Sequence[float], shift: float, placements: int, *, referred: bool
) -> list[float]:
    """Draw the changes a plain threshold looks at: baselines of two, a mean of `placements`."""
    sd = U_PLACEMENT * (1.0 / 2 + 1.0 / placements) ** 0.5
    reference = (shift + rng.gauss(0.0, sd)) if referred else 0.0
    return [abs(move + shift + rng.gauss(0.0, sd) - reference) for move in moves]


def plain_limit(rate: float, placements: int, blades: int, *, referred: bool) -> float:
    """Return the threshold at which nothing moved is called moved at this rate."""
    rng = random.Random(8)
    worst = sorted(
        max(plain_changes(rng, [0.0] * blades, 0.0, placements, referred=referred))
        for _ in range(40_000)
    )
    return worst[min(int((1.0 - rate) * len(worst)), len(worst) - 1)]


def _curves(trials: int) -> None:
    quiet = score(4, 20 * trials, [0.0] * 3)
    rate = max(quiet.accused, 0.5 / (20 * trials))
    print(f"false calls with nothing moved: {quiet.accused:.5f}; thresholds set for {rate:.5f}")
    kinds = [(placements, referred) for referred in (True, False) for placements in (1, 2)]
    limits = {kind: plain_limit(rate, kind[0], 3, referred=kind[1]) for kind in kinds}
    words = {
        kind: f"{'to the reference' if kind[1] else 'as read'}, {kind[0]} placements"
        for kind in kinds
    }
    print("limits: " + ", ".join(f"{words[kind]} {limits[kind]:.3f}" for kind in kinds))
    for name, several, shifted in (
        ("one of three moved", 1, 0),
        ("all three moved alike", 3, 0),
        ("a shift: any blade accused", 0, 1),
    ):
        print(f"{name}: size; this project; plain threshold " + "; ".join(words.values()))
        for size in (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5):
            moves = [size] * several + [0.0] * (3 - several)
            ours = score(5, trials, moves, size * shifted)
            cells = [ours.accused if shifted else ours.called]
            for kind in kinds:
                rng, hits = random.Random(6), 0
                for _ in range(4 * trials):
                    seen = plain_changes(rng, moves, size * shifted, kind[0], referred=kind[1])
                    over = [one > limits[kind] for one in seen]
                    hits += any(over) if shifted else all(over[:several])
                cells.append(hits / (4 * trials))
            print(f"  {size:.2f}; " + "; ".join(f"{cell:.3f}" for cell in cells), flush=True)


def main() -> None:
    """Print the table and the curves; --quick for fewer trials."""
    trials = 200 if "--quick" in sys.argv else 2000
    _table(trials)
    _curves(trials)


if __name__ == "__main__":
    main()
