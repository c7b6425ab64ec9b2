"""What moves a reading and is in no line of the budget: a hand on the blade, a careless azimuth.

    python -m benchmarks.hands [--jobs 40] [--first 1] [ROW ...]

Whole jobs as in `benchmarks.unmeasured`, by a simulated person, with a profile that was measured
and is right (seating 0.02, noise 0.03). Rows named "hand" have a hand rest on the blade in half of
the placements on it, and the blade give by so much, always the same way; rows named "psi" have each
blade brought to horizontal within 5 each time the propeller is turned, where the job states 1, on a face inclined by 3. Nobody turns a blade but for the knocks. A job takes about 2 s of one
core: 400 a row take about an hour, one row a quarter of an hour.
"""

import argparse
from dataclasses import dataclass

from benchmarks.unmeasured import HEAD, HONEST, HONEST_DEG, TILT_DEG, Tally, Worker, job
from daemon.measure.angle.geometry import planar_reading, seat
from shared.events import BladeId

FACE_DEG = 3.0
ROWS = {
    "hand 0.15": (0.15, 0.0),
    "hand 0.18": (0.18, 0.0),
    "hand 0.22": (0.22, 0.0),
    "hand 0.3": (0.3, 0.0),
    "psi 1": (0.0, 1.0),
    "psi 5": (0.0, 5.0),
}
"""How far a hand turns the blade, and how well it is brought to horizontal (standard deviation)."""


@dataclass
class Careless(Worker):
    """Rests a hand on the blade now and then, or brings it to horizontal carelessly."""

    hand_deg: float = 0.0
    psi_deg: float = 0.0

    def __post_init__(self) -> None:
        """Nothing was read yet."""
        self._at: tuple[str, BladeId] = ("", 0)
        self._psi = 0.0
        super().__post_init__()

    def read(self, stage: str, blade: BladeId) -> None:
        """One placement; the propeller is turned when another blade or another stage comes."""
        if self.psi_deg and self._at != (
            place := ("round" if stage != "baseline" else "set", blade)
        ):
            self._at, self._psi = place, self.random.gauss(0.0, self.psi_deg)
        super().read(stage, blade)

    def on_blade(self, blade: int) -> float:
        """What a perfect level shows."""
        hand = self.hand_deg * self.random.choice((0.0, 1.0)) if self.hand_deg else 0.0
        true = self.true[blade] + hand
        if not self.psi_deg:
            return true - TILT_DEG
        return planar_reading(seat(true, TILT_DEG, self._psi, face_deg=FACE_DEG))


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=40)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("rows", nargs="*", metavar="ROW")
    given = parser.parse_args()
    print("By a simulated person.")
    print(HEAD.format("carelessness"))
    for name in given.rows or ROWS:
        hand_deg, psi_deg = ROWS[name]
        tally, header = Tally(), job(HONEST, 0.5, FACE_DEG if psi_deg else 0.0)
        for seed in range(given.first, given.first + given.jobs):
            tally.add(Careless(header, HONEST_DEG, seed, hand_deg=hand_deg, psi_deg=psi_deg).work())
        print(tally.row(name), flush=True)


if __name__ == "__main__":
    main()
