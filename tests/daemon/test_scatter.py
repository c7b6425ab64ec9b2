"""How well a level seats, as a session's own placements show it."""

import math
import random
import statistics
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.angle.placement import ASSUMED_DOF
from daemon.measure.quantiles import t_over_z
from daemon.measure.stream.reading import Reading
from daemon.workflow.agreement import widened_mean
from daemon.workflow.ledger import Entry, Ledger
from daemon.workflow.scatter import KEPT, MOST_KNOWN, Seat, Taken, in_force, reseated
from shared.job import Setup
from shared.profile import Seating

ASSUMED = Seating(u_deg=0.03, n=0)
MEASURED = Seating(u_deg=0.03, n=40)


def taken(
    angle_deg: float, prior: Seating = ASSUMED, other_deg: float = 0.0, blade: int = 1
) -> Taken:
    lines = [Line("seating", "B", prior.u_deg), Line("averaging", "A", other_deg)]
    angle = BladeAngle(angle_deg, Budget(tuple(lines)))
    return Taken("a", blade, angle, apart=False, loose=False)


def seat(groups: list[list[float]], prior: Seating = ASSUMED, other_deg: float = 0.0) -> Seat:
    placed = [
        [taken(angle, prior, other_deg, blade) for angle in group]
        for blade, group in enumerate(groups)
    ]
    return in_force(placed, {"a": prior}, 0.0)["a"]


def approx(value: float) -> Any:
    """About this number, whatever type it stands for."""
    return pytest.approx(value)


def pairs(count: int, true_deg: float, seed: int) -> list[list[float]]:
    draw = random.Random(seed)
    return [[20.0 + draw.gauss(0.0, true_deg) for _ in range(2)] for _ in range(count)]


def test_without_a_second_placement_the_profile_stands() -> None:
    assert seat([[20.0], [21.0]]) == Seat(approx(0.03), ASSUMED_DOF)
    assert seat([], MEASURED) == Seat(approx(0.03), MOST_KNOWN)


@given(st.lists(st.floats(-0.02, 0.02), min_size=2, max_size=6))
def test_contrasts_pool_to_the_sample_variance(off: list[float]) -> None:
    """Helmert's contrasts add up to (n - 1) s^2, here small enough that none is cut."""
    found = seat([[20.0 + x for x in off]])
    squares = (len(off) - 1) * statistics.variance(off) / KEPT
    wanted = (ASSUMED_DOF * 0.03**2 + squares) / (ASSUMED_DOF + len(off) - 1)
    assert found.u_deg**2 == pytest.approx(wanted, rel=1e-6)
    assert found.dof == pytest.approx(ASSUMED_DOF + len(off) - 1)


@pytest.mark.parametrize("true_deg", [0.05, 0.08, 0.15])
def test_an_assumption_gives_way_to_what_is_seen(true_deg: float) -> None:
    """Wholly: an assumption that is contradicted does not go on pulling."""
    found = [seat(pairs(12, true_deg, seed)).u_deg for seed in range(200)]
    assert statistics.median(found) == pytest.approx(true_deg, rel=0.08)


def test_an_assumption_that_holds_keeps_its_weight() -> None:
    found = [seat(pairs(12, 0.03, seed)) for seed in range(200)]
    assert statistics.median(one.u_deg for one in found) == pytest.approx(0.03, rel=0.03)
    assert statistics.median(one.dof for one in found) > 12.0 + 0.8 * ASSUMED_DOF


def test_a_right_measurement_stays_what_it_was() -> None:
    found = [seat(pairs(8, 0.03, seed), MEASURED).u_deg for seed in range(100)]
    assert math.sqrt(statistics.mean(u * u for u in found)) == pytest.approx(0.03, rel=0.02)


def test_what_averages_explain_is_not_seating() -> None:
    draw = random.Random(1)
    groups = [[20.0 + draw.gauss(0.0, math.hypot(0.03, 0.06)) for _ in range(2)] for _ in range(40)]
    assert seat(groups, other_deg=0.06).u_deg == pytest.approx(0.03, rel=0.35)


@pytest.mark.parametrize("placements", [2, 3])
def test_what_averages_explain_half_of_counts_a_quarter_of_a_degree_of_freedom(
    placements: int,
) -> None:
    """Variance of a seat and of an average alike: the seat is half of what is seen, its square a quarter.

    Placed so that each of Helmert's contrasts, squared, is the sum of both variances.
    """
    u = MEASURED.u_deg
    group = [20.0, 20.0 + 2.0 * u, 20.0 + (1.0 + math.sqrt(3.0)) * u][:placements]
    found = seat([group] * 8, MEASURED, u)
    assert found.u_deg == pytest.approx(u, rel=0.1)
    assert found.dof - MOST_KNOWN == pytest.approx(8 * (placements - 1) * 0.25, rel=0.15)


def test_one_blade_that_was_knocked_says_little_of_the_level() -> None:
    groups = pairs(10, 0.03, 2)
    assert seat([*groups, [20.0, 21.0]]).u_deg < 2.0 * seat(groups).u_deg


def test_a_blade_that_wanders_in_every_pass_says_little_of_a_measured_level() -> None:
    steady = [
        [taken(20.0, MEASURED, blade=blade), taken(20.03, MEASURED, blade=blade)]
        for blade in (2, 3)
    ]
    wandering = [[taken(20.0, MEASURED), taken(20.6, MEASURED)] for _ in range(3)]
    assert in_force([*steady, *wandering], {"a": MEASURED}, 0.0)["a"].u_deg < 0.06


def sweep_of(
    off: list[float], prior: Seating = MEASURED, other_deg: float = 0.0
) -> list[list[Taken]]:
    """Return two placements of every blade; the second sweep is off the first by so much."""
    return [
        [
            replace(taken(20.0 + deg, prior, other_deg, blade), sweep=("check", 1, number))
            for number, deg in ((1, 0.0), (2, by))
        ]
        for blade, by in enumerate(off, 1)
    ]


def of_sweep(off: list[float], prior: Seating = MEASURED, other_deg: float = 0.0) -> Seat:
    return in_force(sweep_of(off, prior, other_deg), {"a": prior}, 0.0)["a"]


@pytest.mark.parametrize("prior", [MEASURED, ASSUMED])
@pytest.mark.parametrize("off", [[0.5, 0.53, 0.47], [0.5, 0.52], [-0.5] * 6])
def test_what_all_blades_of_a_sweep_are_off_alike_says_nothing_of_the_level(
    off: list[float], prior: Seating
) -> None:
    """Somebody sat in the aircraft during the first."""
    assert of_sweep(off, prior).u_deg < 1.2 * prior.u_deg
    assert seat([[20.0, 20.0 + by] for by in off], prior).u_deg > 3.0 * prior.u_deg


def test_there_only_what_they_differ_by_counts() -> None:
    """Two differences of three blades, each of two placements: as their sample variance tells."""
    off = [0.5, 0.58, 0.46]
    squares = 2 * statistics.variance(off) / 2.0  # of one placement, two degrees of freedom
    expected = (MOST_KNOWN * MEASURED.u_deg**2 + squares / KEPT) / (MOST_KNOWN + 2.0)
    found = of_sweep(off)
    assert found.u_deg == pytest.approx(math.sqrt(expected))
    assert found.dof == pytest.approx(MOST_KNOWN + 2.0)


def test_a_sweep_that_is_off_differently_tells_as_any_placements_do() -> None:
    for off in ([0.1, -0.08, 0.03], [0.7, 0.0, 0.0], [0.3], [0.05, 0.06, 0.04]):
        assert of_sweep(off) == seat([[20.0, 20.0 + by] for by in off], MEASURED)


def test_seating_is_hardly_ever_taken_for_what_is_alike() -> None:
    draw, found = random.Random(7), 0
    for _ in range(4000):
        off = [draw.gauss(0.0, MEASURED.u_deg * math.sqrt(2.0)) for _ in range(3)]
        found += of_sweep(off).dof < MOST_KNOWN + 2.5
    # the prior is worth eight degrees of freedom though it is known here: rarer than 1 in 1,000
    assert found <= 12


def test_a_level_that_seats_worse_than_was_measured_is_not_excused_by_a_visit() -> None:
    draw, all_found = random.Random(8), []
    for _ in range(200):
        groups = []
        for n in range(4):
            off = [draw.gauss(0.5, 0.08 * math.sqrt(2.0)) for _ in range(4)]
            groups += [
                [replace(one, sweep=(f"round {n}", 1, one.sweep[2])) for one in group if one.sweep]
                for group in sweep_of(off)
            ]
        all_found.append(in_force(groups, {"a": MEASURED}, 0.0)["a"].u_deg)
    assert 0.055 < statistics.mean(all_found) < 0.08


KNOCKED = [20.0, 22.9]
GOOD = [[20.0, 20.03], [20.0, 19.98], [20.0, 20.01], [20.0, 20.04], [20.0, 19.97]]


@pytest.mark.parametrize("prior", [MEASURED, ASSUMED])
def test_a_blade_that_was_turned_between_two_placements_says_nothing_of_the_level(
    prior: Seating,
) -> None:
    """Held for the seating of one that nobody measured, it made every blade unsure by 3.8."""
    assert seat([*GOOD, KNOCKED], prior).u_deg < 1.4 * seat(GOOD, prior).u_deg
    assert seat([*GOOD, KNOCKED, [20.0, 18.2]], prior) == seat(GOOD, prior), "nor do two"


def test_a_level_that_seats_badly_is_no_row_of_knocks() -> None:
    bad = pairs(6, 0.3, 3)
    with_all = seat(bad)
    assert 0.2 < with_all.u_deg < 0.45
    assert with_all.dof > 5.0, "all of them count"


def test_where_the_others_tell_too_little_it_may_be_the_level() -> None:
    """One contrast alone, or beside one other."""
    assert seat([[20.0, 20.5]]).u_deg > 0.1
    assert seat([[20.0, 20.5], [20.0, 20.1]]).u_deg > 0.1
    assert seat([[20.0, 20.03], [20.0, 20.3], [20.0, 19.9]]).u_deg > 0.06


def test_an_angle_is_given_the_seating_in_force_by_its_own_slope() -> None:
    lines = (Line("seating", "B", 0.06, 4.0), Line("zero", "B", 0.1, common="zero"))
    angles = {1: ("a", BladeAngle(20.0, Budget(lines))), 2: ("b", BladeAngle(21.0, Budget(lines)))}
    found = reseated(angles, {"a": ASSUMED, "b": ASSUMED}, {"a": Seat(0.09, 7.0)})
    assert found[2] == angles[2][1], "a level without a seat of its own keeps its profile's"
    now = found[1]
    assert now.budget.lines == (Line("seating", "A", approx(0.18), 7.0), lines[1])


@pytest.mark.parametrize("dof", [5.0, 8.0, 15.0, 40.0, 400.0])
def test_the_tail_of_students_t_against_scipy(dof: float) -> None:
    z = 3.9
    chance = stats.norm.sf(z)
    assert t_over_z(z, dof) * z == pytest.approx(stats.t.isf(chance, dof), rel=0.07)


def angle(angle_deg: float) -> BladeAngle:
    return BladeAngle(angle_deg, Budget((Line("seating", "A", 0.03),)))


def test_a_mean_of_two_that_do_not_agree_holds_both() -> None:
    mean = widened_mean([angle(20.0), angle(20.6)])
    assert mean.angle_deg == pytest.approx(20.3)
    assert mean.budget.u95_deg == pytest.approx(0.6, rel=0.02)


def test_a_mean_of_two_that_agree_is_not_widened() -> None:
    assert widened_mean([angle(20.0), angle(20.1)]).budget.u_deg == pytest.approx(0.03 / 2**0.5)


def booked(*readings: tuple[str, float], tells: bool = True) -> Ledger:
    """Return a ledger of one blade's readings, of a level whose seating nobody measured."""
    ledger = Ledger(Setup(lift_u_deg=0.0), {"a": ASSUMED}, tells)
    for number, (stage, deg) in enumerate(readings, 1):
        reading = Reading(deg, 0.0, math.inf, 8, 0.02, 0.0, True, None, None, 0.01)
        at = BladeAngle(deg, Budget((Line("seating", "B", ASSUMED.u_deg),)))
        ledger.book(Entry(number, 1, stage, 1, "a", reading, "normal", at, number))
    return ledger


def in_sweeps(*sweeps: list[float], told: bool) -> Ledger:
    """Return a ledger of a round in which all blades were read several times over."""
    ledger = Ledger(Setup(lift_u_deg=0.0), {"a": ASSUMED}, mishaps_tell=told)
    for off in sweeps:
        for blade, deg in enumerate(off, 1):
            reading = Reading(deg, 0.0, math.inf, 8, 0.02, 0.0, True, None, None, 0.01)
            at = BladeAngle(20.0 + deg, Budget((Line("seating", "B", ASSUMED.u_deg),)))
            number = len(ledger.entries) + 1
            ledger.book(Entry(number, blade, "check", 1, "a", reading, "normal", at, number))
    return ledger


@pytest.mark.parametrize(
    "sweeps",
    [
        ([-0.5, -0.51, -0.49], [0.0, 0.01, 0.01]),  # somebody was aboard
        ([0.0] * 6, [0.01, 2.9, -0.02, 0.01, 0.02, -0.01]),  # blade 2 was knocked in between
    ],
)
def test_what_happens_in_a_round_is_no_seating_since_rules_11(sweeps: list[list[float]]) -> None:
    assert seat_of(in_sweeps(*sweeps, told=True)) < 2.0 * ASSUMED.u_deg
    assert seat_of(in_sweeps(*sweeps, told=False)) > 5.0 * ASSUMED.u_deg


def seat_of(ledger: Ledger) -> float:
    """Return the seating that its newest reading carries."""
    return ledger.entries[-1].angle.budget.u_deg


def test_where_a_blade_was_set_and_where_it_is_read_then_tell_of_the_seating() -> None:
    """Nobody turned it in between, but for lifting the level: two placements on one seat."""
    apart = booked(("set", 20.0), ("baseline", 20.1))
    assert seat_of(apart) == approx(seat([[20.0, 20.1]]).u_deg)
    before = booked(("set", 20.0), ("baseline", 20.1), tells=False)
    assert seat_of(before) == approx(ASSUMED.u_deg)


def test_only_the_last_reading_of_a_setting_tells_and_of_the_same_one() -> None:
    """It was turned on after the others; and set again it is another setting."""
    turned_on = booked(("set", 18.0), ("set", 20.0), ("baseline", 20.1))
    assert seat_of(turned_on) == approx(seat([[20.0, 20.1]]).u_deg)
    turned_on.withdraw(turned_on.entries[1])
    assert seat_of(turned_on) > 10.0 * seat([[20.0, 20.1]]).u_deg, "now it is the first that counts"
    again = booked(("set", 20.0), ("baseline", 20.1))
    again.book(replace(again.taken[1], id=3, stage="set", passed=2, angle=angle(24.0)))
    assert seat_of(again) == approx(seat_of(booked(("set", 20.0), ("baseline", 20.1))))
