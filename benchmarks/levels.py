"""Invented levels, jobs and noise for the measuring benchmarks."""

import math
import random
from collections.abc import Iterator
from typing import Any

from shared.job import Job
from shared.profile import LevelProfile

LEARNED = 600


def profile(sd: float, lag1: float = 0.0, learned: int = LEARNED, **changes: Any) -> LevelProfile:
    """Return a planar level, 10 a second, with this noise before rounding."""
    data: dict[str, Any] = {
        "stillblade_profile": 1,
        "kind": "bench-level",
        "title": "Benchmark level",
        "convention": "planar",
        "format": {"codec": "text-line"},
        "fields": {"angle": {"source": "1"}},
        "noise": {"sd_deg": sd, "lag1": lag1, "n": learned},
    }
    return LevelProfile.model_validate(data | changes)


def job(**changes: Any) -> Job:
    """Return a three-blade tractor job with the default set-up."""
    propeller = {"blades": 3, "rotation": "clockwise", "layout": "tractor", "station": "75 %"}
    data: dict[str, Any] = {
        "stillblade_job": 1,
        "name": "benchmark",
        "propeller": propeller | changes.pop("propeller", {}),
        "target": {"angle_deg": 18.0, "tolerance_deg": 0.3, "spread_deg": 0.3},
        "level": [{"name": "bench", "profile": "bench-level"}],
    }
    return Job.model_validate(data | changes)


def noise(rng: random.Random, sd: float, lag1: float) -> Iterator[float]:
    """Yield Gaussian AR(1) noise, stationary from the first value."""
    now = rng.gauss(0.0, sd)
    fresh = sd * math.sqrt(1.0 - lag1 * lag1)
    while True:
        yield now
        now = lag1 * now + rng.gauss(0.0, fresh)


def rounded(value: float, step: float) -> float:
    """Return the value as a level with this resolution shows it."""
    return round(value / step) * step if step > 0.0 else value
