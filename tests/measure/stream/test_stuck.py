"""A level that went on talking without measuring."""

import random

from daemon.measure.stream.stuck import Stuck
from tests.measure.levels import profile

KNOWN = profile(resolution_deg=0.01, noise={"sd_deg": 0.03, "lag1": 0.0, "n": 600})


def test_noise_that_stopped() -> None:
    stuck = Stuck(KNOWN)
    said = [stuck.push({"angle": 18.0, "sequence": float(i)}) for i in range(60)]
    assert said[0] is None
    assert "equal values" in (said[-1] or "")
    stuck.restart()
    assert stuck.push({"angle": 18.0}) is None


def test_a_live_level_is_never_accused() -> None:
    rng, stuck = random.Random(1), Stuck(KNOWN)
    shown = (round(18.0 + rng.gauss(0, 0.03), 2) for _ in range(20_000))
    assert all(stuck.push({"angle": value}) is None for value in shown)


def test_a_coarse_level_at_rest_may_show_the_same_for_ever() -> None:
    stuck = Stuck(profile(resolution_deg=0.1, noise={"sd_deg": 0.01, "n": 600}))
    assert all(stuck.push({"angle": 18.0}) is None for _ in range(1000))
    assert stuck.against(0.2, 50) is None
    assert "6.0 degrees were turned" in (stuck.against(6.0, 50) or "")
    stuck.push({"angle": 18.1})
    assert stuck.against(6.0, 50) is None
