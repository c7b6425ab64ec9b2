"""The Bayesian lines against scipy, and what any line must do."""

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from daemon.trial.line import DOF, Lines, Prior, Reading, fit, framed, own_slope, student_cdf
from daemon.trial.points import RUNS, Run

PRIORS: dict[Run, Prior] = {
    "static": Prior((0.0, 0.0), (-4.0, 1.2), (0.0, 0.25), (-0.2, 0.15)),
    "level": Prior((11.0, 5.0), (-4.5, 1.5), (0.0, 0.25), (-0.3, 0.2)),
}
SETS = 100


def data(seed: int) -> list[Reading]:
    """Three to six points at drawn angles, both runs, two instruments."""
    source = random.Random(seed)
    found = []
    for point in range(source.randint(3, 6)):
        angle, air = source.uniform(14, 18), source.uniform(0, 6)
        for run, slope in (("static", -3.7), ("level", -4.2)):
            percent = slope * (angle - 16) + source.gauss(0, 0.7)
            found.append(
                Reading(
                    point=point,
                    run=run,  # type: ignore[arg-type]
                    rpm=2400 * math.exp(percent / 100),
                    angle_deg=angle,
                    air_kft=air,
                    sd_percent=source.uniform(0.3, 0.8),
                    angle_sd_deg=0.05,
                    instrument=point % 2,
                    instrument_sd_percent=0.5,
                )
            )
    return found


@pytest.mark.parametrize("seed", range(SETS))
def test_the_lines_are_what_scipy_makes_of_them(seed: int) -> None:
    """Mean: a least-squares problem. Range: Bayes' rule on a grid of scipy's multivariate t."""
    readings = data(seed)
    lines, frame = fit(readings, PRIORS), framed(readings, PRIORS)
    white = np.linalg.inv(np.linalg.cholesky(frame.noise))
    weight = np.linalg.inv(np.linalg.cholesky(frame.believed))

    def off(theta: np.ndarray) -> np.ndarray:
        return np.concatenate(
            [white @ (frame.read - frame.design @ theta), weight @ (theta - frame.mean)]
        )

    best = optimize.least_squares(off, frame.mean, x_scale=np.sqrt(np.diag(frame.believed)))
    assert lines.mean == pytest.approx(best.x, abs=2e-3)
    assert lines.runs == ("static", "level")
    for run in lines.runs:
        at = 4 * lines.runs.index(run) + 1
        low, high = between_scipy(frame, at)
        scale = math.sqrt(lines.scale[at, at])
        assert lines.mean[at] + scale * stats.t.ppf(0.05, lines.dof) == pytest.approx(low, abs=4e-3)
        assert lines.mean[at] + scale * stats.t.ppf(0.95, lines.dof) == pytest.approx(
            high, abs=4e-3
        )


def between_scipy(frame: object, at: int) -> tuple[float, float]:
    """5 % and 95 % of a coefficient: the joint density of it and all differences, normalised."""
    read, design = frame.read, frame.design  # type: ignore[attr-defined]
    believed, noise = frame.believed, frame.noise  # type: ignore[attr-defined]
    free = np.linalg.svd(np.ones((1, len(read))))[2][1:]
    seen = free @ (design @ believed @ design.T + noise) @ free.T
    cross = free @ design @ believed[:, at]
    shape = np.block([[believed[at : at + 1, at : at + 1], cross[None, :]], [cross[:, None], seen]])
    loc = np.concatenate([frame.mean[at : at + 1], free @ design @ frame.mean])  # type: ignore[attr-defined]
    joint = stats.multivariate_t(loc=loc, shape=shape, df=DOF)
    grid = np.linspace(loc[0] - 8, loc[0] + 8, 8001)
    rest = np.broadcast_to(free @ read, (len(grid), len(loc) - 1))
    chance = np.cumsum(joint.pdf(np.column_stack([grid, rest])))
    return tuple(np.interp([0.05, 0.95], chance / chance[-1], grid))  # type: ignore[return-value]


@given(st.floats(-30, 30), st.floats(2, 60))
def test_student_is_scipys(t: float, dof: float) -> None:
    assert student_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), abs=1e-7)


def reading(point: int, angle: float, rpm: float, run: Run = "static", **more: float) -> Reading:
    return Reading(point, run, rpm, angle, 0.0, 0.5, **more)  # type: ignore[arg-type]


def test_one_point_leaves_the_prior_as_it_is() -> None:
    lines = fit([reading(1, 16.0, 2400.0)], PRIORS)
    assert lines.slope("static")[0] == pytest.approx(-4.0)
    assert lines.at("static", 16.0, 0.0)[0] == pytest.approx(100 * math.log(2400))
    assert own_slope([reading(1, 16.0, 2400.0)], "static") is None


def test_a_run_that_nobody_flew_lies_where_it_is_believed_and_as_unsure() -> None:
    lines = fit([reading(1, 16.0, 2400.0)], PRIORS)
    mean, scale = lines.at("level", 16.0, 0.0)
    assert mean == pytest.approx(100 * math.log(2400) + 11.0)
    assert scale == pytest.approx(math.hypot(5.0, 0.5), rel=1e-3)
    flown = fit([reading(1, 16.0, 2400.0), reading(1, 16.0, 2700.0, "level")], PRIORS)
    assert flown.at("level", 16.0, 0.0)[1] < 0.6


def test_what_one_run_says_of_its_slope_is_half_believed_of_the_other() -> None:
    steep = [reading(n, 15.0 + n, 2400 * math.exp(-0.065 * n)) for n in range(4)]
    lines = fit(steep, PRIORS)
    assert lines.slope("static")[0] < -6.0
    assert lines.slope("static")[0] < lines.slope("level")[0] < -5.2


def test_own_points_soon_overrule_the_prior() -> None:
    """A slope two and a half deviations off the prior: after five points two degrees wide it is the user's."""
    true = -7.0
    own = [reading(n, 15 + 0.5 * n, 2400 * math.exp(true * 0.5 * n / 100)) for n in range(5)]
    found, u95 = fit(own, PRIORS).slope("static")
    assert found == pytest.approx(true, abs=0.45)
    assert abs(found - true) < u95
    alone = own_slope(own, "static")
    assert alone is not None
    assert alone[0] == pytest.approx(true, abs=1e-6)


def test_an_error_that_all_share_leaves_the_slope_and_widens_the_level() -> None:
    points = [(0, 15.0, 2440.0), (1, 16.0, 2350.0), (2, 17.0, 2260.0)]
    sure = fit([reading(*one) for one in points], PRIORS)
    shared = fit([reading(*one, instrument_sd_percent=1.0) for one in points], PRIORS)
    assert shared.slope("static") == pytest.approx(sure.slope("static"), rel=1e-3)
    assert shared.at("static", 16.0, 0.0)[1] > 1.5 * sure.at("static", 16.0, 0.0)[1]


@settings(max_examples=30)
@given(st.floats(0.0, 3.0))
def test_it_is_surest_among_its_points(away: float) -> None:
    lines = fit([reading(0, 15.0, 2440.0), reading(1, 17.0, 2260.0)], PRIORS)
    assert lines.at("static", 16.0 + away, 0.0)[1] <= lines.at("static", 16.1 + away, 0.0)[1]


def test_points_that_scatter_widen_every_range() -> None:
    def lines(wrong: float) -> Lines:
        points = [(0, 15.0, 2440.0), (1, 16.0, 2350.0 * wrong), (2, 17.0, 2260.0)]
        return fit([reading(*one) for one in points], PRIORS)

    assert lines(1.05).factor > 1.5
    assert lines(1.0).factor < 1.1
    assert lines(1.05).slope("static")[1] > 1.5 * lines(1.0).slope("static")[1]


def test_nothing_read_is_no_line() -> None:
    with pytest.raises(ValueError, match="no readings"):
        fit([], PRIORS)
    assert len(RUNS) == 3
