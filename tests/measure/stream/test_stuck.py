"""A level that went on talking without measuring."""

import math
import random
from typing import Any

import pytest
from scipy.stats import norm

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


def longest(lag1: float, **changes: Any) -> int:
    """Equal values that a level shows before it is called stuck."""
    noise = {"sd_deg": 0.03, "lag1": lag1, "n": 600}
    told: dict[str, Any] = {"resolution_deg": 0.01, "noise": noise}
    stuck = Stuck(profile(**(told | changes)))
    count = 1
    while stuck.push({"angle": 18.0}) is None and count < 5000:
        count += 1
    return count


@pytest.mark.parametrize("lag1", [0.8, 0.9, 0.95])
def test_a_run_is_too_long_when_its_chance_is_one_in_a_billion(lag1: float) -> None:
    # scipy's normal distribution gives the share of the most likely step
    share = norm.cdf(0.005 / 0.03) - norm.cdf(-0.005 / 0.03)
    repeat = 1.0 - (1.0 - share) * (1.0 - lag1)
    assert longest(lag1) == math.ceil(math.log(1e-9) / math.log(repeat)) + 2


def test_no_short_run_makes_a_level_stuck() -> None:
    assert longest(0.0) == 22
    assert longest(0.0, resolution_deg=0.0) == 22


def test_only_noise_that_is_known_and_dithers_can_be_missed() -> None:
    assert longest(0.0, noise={"sd_deg": 0.03, "n": 30}) == 22
    assert longest(0.0, noise={"sd_deg": 0.03, "n": 29}) == 5000
    assert longest(0.0, resolution_deg=0.06) == 5000
    assert longest(0.0, resolution_deg=0.0599) < 5000


def test_what_hangs_together_most_is_still_found_out() -> None:
    share = norm.cdf(0.005 / 0.03) - norm.cdf(-0.005 / 0.03)
    repeat = 1.0 - (1.0 - share) * 0.03
    assert longest(0.999) == math.ceil(math.log(1e-9) / math.log(repeat)) + 2


def test_the_run_ends_with_another_value_and_with_a_gap() -> None:
    stuck = Stuck(KNOWN)
    for _ in range(15):
        said = [stuck.push({"angle": 18.0}) for _ in range(21)]
        said.append(stuck.push({"angle": 18.1}))
        assert said == [None] * 22
    for _ in range(15):
        assert [stuck.push({"angle": 18.0}) for _ in range(21)] == [None] * 21
        stuck.restart()
    said = [stuck.push({"angle": 18.0}) for _ in range(22)]
    assert said[-1] == "22 equal values from a level whose noise was known"


def test_every_angle_counts_and_nothing_else() -> None:
    for role in ("sequence", "battery", "signal", "temperature", "button", "mode"):
        stuck = Stuck(KNOWN)
        said = [stuck.push({"angle": 18.0, role: float(i)}) for i in range(40)]
        assert said[-1] is not None
    stuck = Stuck(KNOWN)
    said = [stuck.push({"roll": 18.0, "pitch": float(i)}) for i in range(40)]
    assert said == [None] * 40


def test_the_first_run_is_as_long_as_every_later_one() -> None:
    fresh = Stuck(KNOWN)
    assert [fresh.push({"angle": 18.0}) for _ in range(21)] == [None] * 21
    assert fresh.push({"angle": 18.0}) is not None
