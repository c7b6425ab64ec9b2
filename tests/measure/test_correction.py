"""Which blades to set again: by hand, and against a search of another kind."""

import random
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.angle.correction import Correction, Limits, correction

LIMITS = Limits(20.0, 0.3, 0.2)


@pytest.mark.parametrize(
    ("angles", "blades", "aim_deg"),
    [
        ([20.0, 20.05, 19.98], (), 20.0),
        ([20.0, 20.5, 20.05], (2,), 20.0),  # out of tolerance
        ([20.0, 20.25, 20.03], (2,), 20.0),  # in tolerance, and the spread is out
        ([19.85, 20.1, 20.1], (1,), 20.0),  # the one that stands out, not the two
        ([20.28, 20.25, 20.0], (3,), 20.135),  # the others are held: the aim is beside them
        ([19.6, 20.4, 20.0], (1, 2), 20.0),
        ([19.75, 20.25], (1,), 20.1125),
        ([21.0, 21.1, 21.05], (1, 2, 3), 20.0),
    ],
)
def test_the_fewest_blades_and_their_aim(
    angles: list[float], blades: tuple[int, ...], aim_deg: float
) -> None:
    found = correction(dict(enumerate(angles, 1)), LIMITS)
    assert found.blades == blades
    assert found.aim_deg == pytest.approx(aim_deg)


def met(angles: list[float], limits: Limits) -> bool:
    inside = all(abs(angle - limits.target_deg) <= limits.tolerance_deg + 1e-9 for angle in angles)
    return inside and max(angles) - min(angles) <= limits.spread_deg + 1e-9


def put_right(angles: list[float], found: Correction) -> list[float]:
    return [found.aim_deg if n in found.blades else a for n, a in enumerate(angles, 1)]


ANGLES = st.lists(st.floats(19.0, 21.0), min_size=2, max_size=6)


@given(ANGLES, st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_whoever_does_as_told_meets_every_limit(
    angles: list[float], tolerance: float, spread: float
) -> None:
    limits = Limits(20.0, tolerance, spread)
    found = correction(dict(enumerate(angles, 1)), limits)
    assert met(put_right(angles, found), limits)
    assert found.blades or met(angles, limits)


def fewest_by_search(angles: list[float], limits: Limits) -> int:
    """Try to put any blades on any of many angles within tolerance."""
    ways = [limits.target_deg + limits.tolerance_deg * (step / 20.0 - 1.0) for step in range(41)]
    counts = [
        sum(chosen)
        for chosen in product((False, True), repeat=len(angles))
        for aim in ways
        if met([aim if turned else a for a, turned in zip(angles, chosen, strict=True)], limits)
    ]
    return min(counts)


def test_no_more_blades_than_a_search_finds_over_2000_sets() -> None:
    rng = random.Random(14)
    for _ in range(2000):
        count = rng.randint(2, 6)
        angles = [20.0 + rng.gauss(0.0, 0.25) for _ in range(count)]
        limits = Limits(20.0, rng.uniform(0.1, 0.5), rng.uniform(0.05, 0.5))
        assert len(correction(dict(enumerate(angles, 1)), limits).blades) <= fewest_by_search(
            angles, limits
        )
