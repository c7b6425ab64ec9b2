"""A creep is a slope, in both halves alike, with nothing left about it but the noise."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.measure.watch.creep import ENDED, SPANS, Creeping, creep, slope
from daemon.measure.watch.track import Place, Stand


def block(t: float, value: float, variance: float = 1e-4) -> Place:
    return Place(Stand(t, value, variance), None)


def ramp(step: float, n: int = 20, variance: float = 1e-4) -> list[Place]:
    return [block(k, step * k, variance) for k in range(n)]


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=30))
def test_slope_is_least_squares(values: list[float]) -> None:
    expected = np.polyfit(np.arange(len(values)), values, 1)[0]
    assert slope(values) == pytest.approx(expected, abs=1e-9)


def test_slope_of_a_line_and_of_a_bump() -> None:
    assert slope([1.0, 3.0, 5.0, 7.0]) == pytest.approx(2.0)
    assert slope([0.0, 1.0, 0.0]) == pytest.approx(0.0)


def test_creep_is_not_a_step_and_not_a_bump() -> None:
    assert creep(ramp(0.02), 0.003, 0.05) == pytest.approx(0.02)
    assert creep(ramp(-0.02), 0.003, 0.05) == pytest.approx(-0.02)
    stairs = [block(k, 0.0 if k < 10 else 0.3) for k in range(20)]
    assert creep(stairs, 0.003, 0.05) == 0.0
    bump = [block(k, 0.1 * math.sin(math.pi * k / 19)) for k in range(20)]
    assert creep(bump, 0.003, 0.05) == 0.0
    assert creep(ramp(0.0005), 0.003, 0.05) == 0.0


@pytest.mark.parametrize(
    ("least_step", "least", "found"),
    [(0.0199, 0.0, True), (0.0201, 0.0, False), (0.0, 0.399, True), (0.0, 0.401, False)],
)
def test_a_creep_is_as_steep_and_as_far_as_it_is_asked_to_be(
    least_step: float, least: float, found: bool
) -> None:
    assert bool(creep(ramp(0.02), least_step, least)) is found


def error(n: int) -> float:
    """Standard error of a least-squares slope over n values of standard deviation 1."""
    return math.sqrt(12.0 / (n * (n * n - 1.0)))


def saw(n: int, half: float, whole: float) -> list[Place]:
    """Two halves of one slope with a step back between them, so that the whole has another."""
    upper = math.fsum(k - 0.5 * (n - 1) for k in range(n // 2, n))
    back = (half - whole) / (12.0 / (n * (n * n - 1.0)) * upper)
    return [block(k, half * k - back * (k >= n // 2)) for k in range(n)]


@pytest.mark.parametrize(("part", "found"), [(1.01, True), (0.99, False)])
@pytest.mark.parametrize(("n", "half", "bar"), [(10, 0.0085, 5.0 * error(10)), (20, 0.003, 4 / 20)])
def test_a_slope_is_plain_over_the_whole(
    n: int, half: float, bar: float, part: float, found: bool
) -> None:
    """Five standard errors, which is the harder over ten; four deviations, over twenty."""
    whole = part * bar * 0.01
    blocks = saw(n, half, whole)
    assert slope([one.own.mean for one in blocks]) == pytest.approx(whole)
    assert bool(creep(blocks, 0.0, 0.0)) is found


@pytest.mark.parametrize(("part", "found"), [(1.01, True), (0.99, False)])
@pytest.mark.parametrize("n", [6, 10, 20])
def test_a_slope_is_plain_in_its_halves(n: int, part: float, found: bool) -> None:
    """Two and a half standard errors, of half as many values."""
    step = part * 2.5 * error(n // 2) * 0.01
    assert bool(creep(ramp(step, n), 0.0, 0.0)) is found


@pytest.mark.parametrize(("kept", "found"), [(0.0, True), (0.5, True), (0.55, False)])
def test_correlated_blocks_need_a_steeper_slope(kept: float, found: bool) -> None:
    """First-order correlation r leaves (1 - r) / (1 + r) of the blocks' worth."""
    step = 2.5 * error(10) * 0.01 * math.sqrt(1.5 / 0.5) * 1.01
    assert bool(creep(ramp(step), 0.0, 0.0, kept)) is found


def test_the_noisiest_block_counts() -> None:
    blocks = ramp(0.003)
    assert creep(blocks, 0.0, 0.0)
    blocks[3] = block(3, 0.009, 4e-4)
    assert not creep(blocks, 0.0, 0.0)


@pytest.mark.parametrize(("second", "found"), [(0.5, True), (0.25, False), (-0.2, False)])
def test_both_halves_creep(second: float, found: bool) -> None:
    """The second half goes on at so much of the first; under 0.4 of the whole it does not."""
    values = [0.02 * k if k < 10 else 0.18 + second * 0.02 * (k - 9) for k in range(20)]
    for mirrored in (1.0, -1.0):
        blocks = [block(k, mirrored * v) for k, v in enumerate(values)]
        assert bool(creep(blocks, 0.0, 0.0)) is found
        blocks = [block(k, mirrored * v) for k, v in enumerate(reversed(values))]
        assert bool(creep(blocks, 0.0, 0.0)) is found


@pytest.mark.parametrize(("size", "found"), [(1.9, True), (2.1, False)])
def test_what_is_left_about_the_line_is_noise(size: float, found: bool) -> None:
    """A zigzag of two standard deviations has four times the variance."""
    u = 0.01
    values = [0.02 * k + size * u * (-1) ** k for k in range(20)]
    assert bool(creep([block(k, v, u * u) for k, v in enumerate(values)], 0.0, 0.0)) is found


# --- looked at block by block ----------------------------------------------------------------


def looked(creeping: Creeping, values: list[float]) -> list[int]:
    found = []
    for k, value in enumerate(values):
        creeping.take(block(k, value))
        if creeping.look(0.0) is not None:
            found.append(k)
    return found


@pytest.mark.parametrize(("step", "span"), [(0.1, 6), (0.0083, 10), (0.0032, 20)])
def test_the_slower_the_longer_it_takes(step: float, span: int) -> None:
    creeping = Creeping(1.0, 0.05)
    assert looked(creeping, [step * k for k in range(30)]) == [span - 1]
    assert creeping.going is not None
    assert creeping.going.span == span
    assert creeping.going.step == pytest.approx(step)
    assert span in SPANS


def test_what_creeps_slower_than_the_least_is_none() -> None:
    assert not looked(Creeping(1.0, 0.05), [0.0029 * k for k in range(60)])
    assert looked(Creeping(1.0, 0.05), [0.0031 * k for k in range(60)])
    assert not looked(Creeping(2.0, 0.05), [0.0055 * k for k in range(60)]), "a longer block"


def test_it_is_found_once_and_ends_when_it_has_stopped() -> None:
    creeping = Creeping(1.0, 0.05)
    values = [0.05 * k for k in range(30)]
    looked(creeping, values)
    assert creeping.going is not None
    rests = 0
    while creeping.going is not None:
        creeping.take(block(30 + rests, values[-1]))
        assert creeping.look(0.0) is None
        rests += 1
    assert rests in {ENDED // 2, ENDED // 2 + 1}, "half the blocks flat leave half the slope"
    with pytest.raises(IndexError):
        _ = creeping.newest
    again = looked(creeping, [values[-1] + 0.05 * k for k in range(20)])
    assert len(again) == 1, "and another is found after it"


def test_after_a_shaking_it_goes_on_while_enough_blocks_are_there() -> None:
    creeping = Creeping(1.0, 0.05)
    looked(creeping, [0.05 * k for k in range(30)])
    creeping.shaken()
    assert creeping.look(0.0) is None
    assert creeping.going is None, "too few blocks to say that it does"
    looked(creeping, [0.05 * k for k in range(6)])
    assert creeping.going is not None
    creeping.take(block(6, 0.3))
    creeping.look(0.0)
    assert creeping.going is not None, "with six and more it does until twelve say no"


def test_blocks_with_and_without_the_witness_are_not_one_line() -> None:
    creeping = Creeping(1.0, 0.05)
    for k in range(20):
        one = block(k, 0.05 * k)
        creeping.take(Place(one.own, one.own) if k % 2 else one)
        assert creeping.look(0.0) is None


def test_with_a_witness_its_difference_creeps() -> None:
    both, own_only = Creeping(1.0, 0.05), Creeping(1.0, 0.05)
    found = []
    for k in range(12):
        both.take(Place(Stand(k, 0.0, 1e-4), Stand(k, 0.05 * k, 1e-4)))
        found.append(both.look(0.0))
        own_only.take(Place(Stand(k, 0.05 * k, 1e-4), Stand(k, 0.0, 1e-4)))
        assert own_only.look(0.0) is None
    assert [one.span for one in found if one] == [6]
    assert both.newest.best.mean == pytest.approx(0.55)


def test_noise_alone_does_not_creep() -> None:
    rng = random.Random(4)
    creeping = Creeping(1.0, 0.05)
    assert not looked(creeping, [rng.gauss(0.0, 0.01) for _ in range(5000)])
