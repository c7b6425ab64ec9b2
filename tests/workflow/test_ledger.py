"""The ledger by itself: what comes next, whether a level was measured, and readings that scatter."""

import math
from typing import Any

import pytest

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.stream.reading import Reading
from daemon.workflow.ledger import Entry, Ledger
from shared.events import REFERENCE, BladeId, Half
from shared.job import Setup
from shared.profile import Seating

READING = Reading(0.0, 0.01, 99.0, 100, 0.02, 0.0, True, None, None, 0.01)
U_DEG = 0.02


def ledger(measured: int = 40, **setup: Any) -> Ledger:
    return Ledger(Setup(**setup), {"chord": Seating(u_deg=U_DEG, n=measured)})


def book(
    of: Ledger, blade: BladeId, stage: str, deg: float, passed: int = 1, half: Half = 0
) -> Entry:
    number = len(of.entries) + 1
    angle = BladeAngle(deg, Budget((Line("seating", "A", U_DEG, 39.0),)))
    entry = Entry(number, blade, stage, passed, "chord", READING, "normal", angle, number, half)
    of.book(entry)
    return of.entries[-1]


def test_placements_are_numbered_one_after_the_other() -> None:
    job = ledger()
    assert job.next_placement(1, "baseline", 1, 2) == (1, 0)
    first = book(job, 1, "baseline", 20.0)
    book(job, 1, "baseline", 20.0, passed=2)
    book(job, 2, "baseline", 20.0)
    assert job.next_placement(1, "baseline", 1, 2) == (2, 0)
    job.withdraw(first)
    assert job.next_placement(1, "baseline", 1, 2) == (1, 0)
    assert job.placements(1, "baseline", 1) == 0


def test_of_a_reference_in_halves_all_of_the_first_come_before_the_second() -> None:
    job, seen = ledger(reference="half-turn"), []
    for _ in range(4):
        number, half = job.next_placement(REFERENCE, "reference", 1, 2)
        seen.append((number, half, job.placements(REFERENCE, "reference", 1)))
        book(job, REFERENCE, "reference", 3.0, half=half)
    assert seen == [(1, 1, 0), (2, 1, 0), (1, 2, 0), (2, 2, 1)]
    assert job.placements(REFERENCE, "reference", 1) == 2
    assert job.next_placement(REFERENCE, "reference", 1, 2) == (3, 2)


@pytest.mark.parametrize(("placements", "assumes"), [(0, True), (8, True), (9, False)])
def test_a_level_was_measured_whose_seating_has_eight_degrees_of_freedom(
    placements: int, assumes: bool
) -> None:
    assert ledger(placements).assumes(["chord"]) is assumes
    assert not ledger(placements).assumes([])


def scatter(of: Ledger) -> float:
    """What the newest reading of a blade is wider by, as if either end were the true one."""
    lines = [line.u_deg for line in of.entries[-1].angle.budget.lines if line.name == "scatter"]
    return 2.0 * math.fsum(lines)


def apart(of: Ledger, blade: int, by: float, stage: str = "baseline", passed: int = 1) -> None:
    book(of, blade, stage, 20.0, passed)
    book(of, blade, stage, 20.0 + by, passed)


def test_what_one_blade_disagrees_with_itself_by_is_one_mishap_and_of_two_the_lesser_counts() -> (
    None
):
    job = ledger()
    apart(job, 1, 0.5)
    assert job.scattered
    assert scatter(job) == 0.0
    apart(job, 1, 0.8, passed=2)
    assert scatter(job) == 0.0, "the same blade again"
    apart(job, 2, 0.3)
    assert scatter(job) == pytest.approx(0.3)
    apart(job, 3, 0.6)
    assert scatter(job) == pytest.approx(0.6), "the second of three"
    book(job, REFERENCE, "reference", 3.0)
    assert scatter(job) == 0.0, "the reference is no blade"


def test_blades_that_disagree_in_one_pass_of_a_round_do_so_at_one_time() -> None:
    job = ledger()
    apart(job, 1, 0.5, "check")
    apart(job, 2, 0.5, "check")
    assert job.scattered
    assert scatter(job) == 0.0
    apart(job, 2, 0.4, "check", passed=2)
    assert scatter(job) == pytest.approx(0.5)


def test_placements_that_agree_or_do_not_count_scatter_nothing() -> None:
    job = ledger()
    apart(job, 1, 3.0 * math.sqrt(2.0) * U_DEG * 0.99)
    assert not job.scattered
    apart(job, 2, 0.5, "set")
    assert not job.scattered, "a blade that is being set is turned"
    book(job, 3, "baseline", 20.0)
    job.withdraw(book(job, 3, "baseline", 21.0))
    assert not job.scattered
    apart(job, 1, 3.0 * math.sqrt(2.0) * U_DEG * 1.01, passed=2)
    assert job.scattered


def test_what_was_said_to_disagree_is_wide_and_says_nothing_of_the_level() -> None:
    job = ledger(0)
    apart(job, 1, 0.4)
    wide = job.entries[-1].angle.budget.u_deg
    before = job.version
    job.doubt((1, "baseline", 1))
    assert job.version > before
    assert job.entries[-1].angle.budget.u_deg < 0.5 * wide, "as it was assumed"
    mean = job.angle_of(1, "baseline", 1)
    assert mean is not None
    widened = [line.u_deg for line in mean.budget.lines if line.name == "disagreement"]
    assert widened == [pytest.approx(0.2)]
    job.doubt((1, "baseline", 1))
    assert job.version == before + 1, "said once"


def test_what_a_sway_widens_is_asked_for_once_and_anew_where_it_is_larger() -> None:
    job = ledger()
    book(job, 1, "baseline", 20.0)
    book(job, 2, "baseline", 20.0)
    assert [entry.id for entry in job.swayed(0.1)] == [1, 2]
    job.sway({1: job.entries[0].angle}, 0.1)
    assert [entry.id for entry in job.swayed(0.1)] == [2]
    assert [entry.id for entry in job.swayed(0.2)] == [1, 2]


def test_a_reading_is_found_by_its_number_and_the_newest_that_counts_is_the_last() -> None:
    job = ledger()
    assert (job.entry(0), job.entry(1), job.last()) == (None, None, None)
    first, second = book(job, 1, "set", 20.0), book(job, 1, "baseline", 20.0)
    assert (job.entry(1), job.entry(2), job.entry(3)) == (job.entries[0], second, None)
    assert job.last() == second
    job.withdraw(second)
    last = job.last()
    assert last is not None
    assert last.id == first.id
