"""Nothing is learned from a moving blade, and the next job is not blind because of it."""

from typing import Any

import pytest

from shared.events import REFERENCE, Alarm, Learned
from tests.daemon.bench import LEVEL, Person, header

NOISE_DEG = 0.03
UNKNOWN: dict[str, Any] = {"fields": {"angle": {"source": "BLADE"}}}
"""A level of which nobody has measured anything: the shipped assumptions."""


class Hasty(Person):
    """Turns a blade that is being set as soon as the level lies on it."""

    def still(self, angle_deg: float, samples: int) -> None:
        for _ in range(samples):
            self.send(angle_deg, NOISE_DEG)

    def turn(self, from_deg: float, to_deg: float) -> None:
        steps = max(1, round(10 * abs(to_deg - from_deg) / 3.0))
        for step in range(1, steps + 1):
            self.send(from_deg + (to_deg - from_deg) * step / steps, NOISE_DEG)

    def place(self, angle_deg: float) -> None:
        self.carry()
        self.still(angle_deg, 14)
        self.press()
        self.still(angle_deg, 6)

    def set_to(self, angle_deg: float) -> None:
        """A few turns at three degrees a second, each after 0.8 s of rest."""
        self.carry()
        draw, at = self._random, angle_deg + 5.0
        for _ in range(draw.randint(1, 4)):
            to = angle_deg + draw.uniform(-0.8, 0.8)
            self.still(at, 8)
            self.turn(at, to)
            at = to
        self.turn(at, angle_deg)
        self.still(angle_deg, 14)
        self.press()
        self.still(angle_deg, 6)


def job(settings: dict[str, Any], seed: int, knock_deg: float) -> Hasty:
    """Three blades set in haste; blade 2 is knocked before the first round."""
    propeller = {"rotation": "clockwise", "layout": "tractor", "station": "75 % radius"}
    person = Hasty(
        header(
            level=[LEVEL | {"settings": settings}],
            propeller={"blades": 3, **propeller},
            target={"angle_deg": 20.0, "tolerance_deg": 0.5, "spread_deg": 0.5},
        ),
        seed=seed,
    )
    person.press("done")
    at: dict[Any, float] = {REFERENCE: -3.0, 1: 17.0, 2: 17.05, 3: 16.95}
    for _ in range(40):
        stage, member = person.step()
        if stage == "set":
            person.set_to(at[member])
        elif stage in {"reference", "baseline"}:
            person.place(at[member])
        elif stage == "check":
            person.place(at[member] + knock_deg * (member == 2))
    person.end()
    return person


@pytest.mark.parametrize("seed", [6, 15, 27, 39])
def test_a_first_job_in_haste_leaves_the_next_one_seeing(seed: int) -> None:
    first = job(UNKNOWN, seed, 0.0)
    [noise] = [one for one in first.said(Learned) if one.what == "noise"]
    assert NOISE_DEG / 1.5 < noise.value < 1.5 * NOISE_DEG
    assert noise.lag1 < 0.5
    known = {"sd_deg": noise.value, "lag1": noise.lag1, "n": noise.samples}
    second = job(UNKNOWN | {"noise": known}, 100 + seed, 0.4)
    assert [(alarm.blade, alarm.kind) for alarm in second.said(Alarm)] == [(2, "moved")]
