"""Does the stated 95 % interval hold the blade angle, and is it no wider than it must be?

    python -m benchmarks.coverage [readings a row] [part of a row's name]

Every reading is simulated from the distributions that its budget claims: true angle and
tilt, zero error, seating, skew, azimuth, face, noise and rounding; the reference from two
placements of its own. `inside` is the share of stated intervals that hold the true angle.
`width` is the mean stated width over the shortest interval that holds 95 % of the errors of
an observer who knows the true distributions and the noise of every average; that observer's
interval is computed apart, with numpy rotations, from 200,000 draws for each true pose.
"""

import math
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from benchmarks.levels import job, noise, profile, rounded
from daemon.measure.angle.blade import blade_reading
from daemon.measure.angle.geometry import planar_reading, projection_reading, seat
from daemon.measure.angle.means import BladeAngle, mean_of
from daemon.measure.angle.reference import Reference, reference_angle
from daemon.measure.stream.average import average, inflation, prior_of
from daemon.measure.stream.reading import Reading
from shared.job import Job
from shared.profile import LevelProfile

READINGS = 5_000
POSES = 10
ORACLE_DRAWS = 200_000
TOLD = 30
Array = npt.NDArray[np.float64]


@dataclass
class Row:
    """One line of the table."""

    name: str
    sd: float = 0.03
    lag1: float = 0.0
    learned: int = 600
    step: float = 0.01
    outliers: float = 0.0
    convention: str = "planar"
    theta: tuple[float, float] = (0.0, 4.0)
    beta: tuple[float, float] = (12.0, 30.0)
    witness: bool = False
    placements: int = 1
    propeller: dict[str, Any] = field(default_factory=dict)

    def level(self) -> LevelProfile:
        """Return the level of this row."""
        return profile(
            self.sd,
            self.lag1,
            self.learned,
            convention=self.convention,
            resolution_deg=self.step,
        )


WITNESS_U = 0.1
"""Standard uncertainty of an azimuth that a hub witness gives."""
TILTED = (0.0, 12.0)
ROWS = [
    Row("white"),
    Row("white, two placements", placements=2),
    Row("white, noise only assumed", learned=0),
    Row("AR(1) r = 0.9", lag1=0.9),
    Row("AR(1) r = 0.9, r not known", lag1=0.9, learned=0),
    Row("quantised 0.1", step=0.1),
    Row("quantised 0.05", step=0.05),
    Row("outliers 10 % of 5 degrees", outliers=0.1),
    Row("psi, planar", theta=TILTED),
    Row("psi, planar, hub witness", theta=TILTED, witness=True),
    Row("psi, projection", theta=TILTED, beta=(20.0, 35.0), convention="projection"),
    Row(
        "psi, projection, hub witness",
        theta=TILTED,
        beta=(20.0, 35.0),
        convention="projection",
        witness=True,
    ),
    Row("face 3, planar", theta=TILTED, propeller={"face_deg": 3.0, "face_u_deg": 0.3}),
    Row(
        "face 3, planar, hub witness",
        theta=TILTED,
        propeller={"face_deg": 3.0, "face_u_deg": 0.3},
        witness=True,
    ),
    Row(
        "face 3, projection, hub witness",
        theta=TILTED,
        beta=(20.0, 35.0),
        convention="projection",
        propeller={"face_deg": 3.0, "face_u_deg": 0.3},
        witness=True,
    ),
]


def collected(rng: random.Random, row: Row, level: LevelProfile, truth: float) -> Reading:
    """Average a still stream until it is good enough, as the program does."""
    prior, shake = prior_of(level), noise(rng, row.sd, row.lag1)
    target = max(level.seating.u_deg / 3.0, level.resolution_deg)
    values: list[float] = []
    while True:
        for _ in range(10 if len(values) < 10 else max(1, len(values) // 10)):
            gross = 5.0 if rng.random() < row.outliers else 0.0
            values.append(rounded(truth + next(shake) + gross, row.step))
        got = average(values, prior)
        if got.u <= target or len(values) >= 100:
            return Reading(
                got.mean, got.u, got.dof, got.n, got.sd, got.lag1, got.u <= target,
                None, None, level.resolution_deg, got.u_rounding,
            )  # fmt: skip


def shown(row: Row, beta: float, theta: float, psi: float, skew: float, face: float) -> float:
    """What the row's level shows on this seat."""
    z = seat(beta, theta, psi, skew, face)
    return projection_reading(z) if row.convention == "projection" else planar_reading(z)


@dataclass
class Drawn:
    """One simulated reading: what was stated, what was wrong, and its averages' noise."""

    error: float
    half: float
    u_average: float
    u_reference: float
    n: int


def one(
    rng: random.Random, row: Row, level: LevelProfile, at: Job, pose: tuple[float, float]
) -> Drawn:
    """Simulate one blade angle from one or more placements."""
    beta, theta = pose
    zero = level.accuracy.zero_deg * (2 * rng.random() - 1)
    seating = level.seating.u_deg
    reference, u_reference = _reference(rng, row, level, theta, zero)
    psi = rng.gauss(0, at.setup.psi_u_deg)
    face = at.propeller.face_deg + rng.gauss(0, at.propeller.face_u_deg)
    told = (psi + rng.gauss(0, WITNESS_U), WITNESS_U) if row.witness else None
    placed: list[BladeAngle] = []
    reads = []
    for _ in range(row.placements):
        skew = rng.gauss(0, at.setup.skew_u_deg)
        truth = shown(row, beta, theta, psi, skew, face) + rng.gauss(0, seating)
        reads.append(collected(rng, row, level, truth + zero))
        placed.append(blade_reading(reads[-1], level, at, "normal", reference, told))
    blade = mean_of(placed)
    return Drawn(
        blade.angle_deg - beta,
        blade.budget.u95_deg,
        _true_u(row, reads),
        u_reference,
        reads[0].n,
    )


def _true_u(row: Row, reads: Sequence[Reading]) -> float:
    """What the averages of these lengths really scatter by, rounding noise included."""
    square = row.sd**2 + row.step**2 / 12 if row.sd > 0.3 * row.step else row.sd**2
    return math.sqrt(
        math.fsum(square * inflation(row.lag1, read.n) / read.n for read in reads)
    ) / len(reads)


def _reference(
    rng: random.Random, row: Row, level: LevelProfile, theta: float, zero: float
) -> tuple[Reference, float]:
    """Two placements on the surface; a projection level is given it by another way."""
    seating = level.seating.u_deg
    if row.convention == "projection":
        u = 0.025
        told = Reference(theta + rng.gauss(0, u), u, math.inf, "normal", zero=0.0)
        # that way the level's zero was found too
        return told, u
    reads = [collected(rng, row, level, -theta + rng.gauss(0, seating) + zero) for _ in range(2)]
    u = math.hypot(seating / math.sqrt(2), _true_u(row, reads))
    return reference_angle(reads, level, "normal"), u


def seat_z(
    beta: Array | float, theta: float, psi: Array, skew: Array, face: Array
) -> tuple[Array, Array]:
    """The forward model once more, for arrays: c.z and n.z."""
    b, t, p, e, d = (np.radians(x) for x in (beta, theta, psi, skew, face))
    level, nose = np.cos(t) * np.cos(p), np.sin(t)
    c, n, s = (
        np.cos(b) * level + np.sin(b) * nose,
        np.cos(b) * nose - np.sin(b) * level,
        np.cos(t) * np.sin(p),
    )
    s, n = s * np.cos(d) - n * np.sin(d), n * np.cos(d) + s * np.sin(d)
    return c * np.cos(e) + s * np.sin(e), n


def shortest(
    row: Row,
    level: LevelProfile,
    at: Job,
    pose: tuple[float, float],
    u: tuple[float, float],
    draws: int,
) -> float:
    """Half-length of the shortest 95 % interval an all-knowing observer could state.

    With a witness the observer knows the azimuth it tells, so that the length is a mean over
    what may be told.
    """
    rng = np.random.default_rng(7)
    if not row.witness:
        return _shortest(rng, row, level, at, pose, u, (0.0, at.setup.psi_u_deg, draws))
    told = rng.standard_normal(TOLD) * at.setup.psi_u_deg
    lengths = [
        _shortest(rng, row, level, at, pose, u, (float(psi), WITNESS_U, draws // 10))
        for psi in told
    ]
    return float(np.mean(lengths))


def _shortest(
    rng: np.random.Generator,
    row: Row,
    level: LevelProfile,
    at: Job,
    pose: tuple[float, float],
    u: tuple[float, float],
    azimuth: tuple[float, float, int],
) -> float:
    draw, (told, u_psi, n) = rng.standard_normal, azimuth
    psi = told + draw(n) * u_psi
    skew = draw(n) * at.setup.skew_u_deg / math.sqrt(row.placements)
    face = at.propeller.face_deg + draw(n) * at.propeller.face_u_deg
    chord, normal = seat_z(pose[0], pose[1], psi, skew, face)
    if row.convention == "projection":
        seen = np.degrees(np.arccos(np.clip(chord, -1, 1)))
        seen = seen + level.accuracy.zero_deg * rng.uniform(-1, 1, n)
    else:
        seen = np.degrees(np.arctan2(-normal, chord))
    for size in (level.seating.u_deg / math.sqrt(row.placements), *u):
        seen = seen + draw(n) * size
    errors = np.sort(seen)
    k = math.ceil(0.95 * n)
    return float(np.min(errors[k:] - errors[:-k])) / 2.0


def table(
    row: Row, readings: int, seed: int, draws: int = ORACLE_DRAWS
) -> tuple[float, float, float, float]:
    """Return coverage, mean half-width, the oracle's, and mean samples of an average."""
    rng, level = random.Random(seed), row.level()
    at = job(propeller=row.propeller)
    inside, halves, best, samples = 0, 0.0, 0.0, 0.0
    for _ in range(POSES):
        pose = (rng.uniform(*row.beta), rng.uniform(*row.theta))
        drawn = [one(rng, row, level, at, pose) for _ in range(readings // POSES)]
        inside += sum(abs(d.error) <= d.half for d in drawn)
        halves += math.fsum(d.half for d in drawn)
        samples += math.fsum(d.n for d in drawn)
        u = (
            math.sqrt(math.fsum(d.u_average**2 for d in drawn) / len(drawn)),
            math.sqrt(math.fsum(d.u_reference**2 for d in drawn) / len(drawn)),
        )
        best += shortest(row, level, at, pose, u, draws) / POSES
    n = readings // POSES * POSES
    return inside / n, halves / n, best, samples / n


def main() -> None:
    """Print the table."""
    readings = int(sys.argv[1]) if len(sys.argv) > 1 else READINGS
    print(f"{'row':34} {'inside':>7} {'U95':>7} {'least':>7} {'width':>6} {'samples':>7}")
    part = sys.argv[2] if len(sys.argv) > 2 else ""
    for seed, row in enumerate(ROWS):
        if part not in row.name:
            continue
        inside, half, best, samples = table(row, readings, seed + 1)
        print(
            f"{row.name:34} {inside:7.2%} {half:7.4f} {best:7.4f} {half / best:6.3f}"
            f" {samples:7.1f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
