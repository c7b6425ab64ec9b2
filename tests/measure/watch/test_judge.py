"""What a lasting change means, at and about every limit."""

import math

import pytest

from daemon.measure.watch.judge import Judge, WatchOutcome, unmeasured
from daemon.measure.watch.track import Drift, Place, Stand

NONE = Drift(0.0, 0.0, 0.0)
JUDGE = Judge("blade 2", 0.05, 0.04, NONE)
U = 0.02
"""Standard uncertainty of a change where both means have half of its variance."""


def at(own: float, against: float | None = None, t: float = 0.0, u: float = U) -> Place:
    variance = u * u / 2.0
    pair = None if against is None else Stand(t, against, variance)
    return Place(Stand(t, own, variance), pair)


def outcome(
    block: Place, *, anchor: Place | None = None, anew: bool = False, back: bool = False
) -> tuple[WatchOutcome, bool]:
    return JUDGE.outcome(block, anchor or at(0.0, 0.0), anew=anew, back=back)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("units", "state", "open_still"),
    [
        (5.01, "changed", False),
        (4.99, "shaken", True),
        (2.01, "shaken", True),
        (1.99, "shaken", False),
        (0.0, "shaken", False),
    ],
)
def test_a_change_is_plain_open_or_none(
    units: float, state: str, open_still: bool, sign: float
) -> None:
    """Plain at five standard uncertainties, none under two, looked at for longer in between."""
    found, still = outcome(at(sign * units * U))
    assert (found.state, still) == (state, open_still)
    assert found.change_deg == pytest.approx(sign * units * U, abs=1e-6)
    assert found.u95_deg == pytest.approx(1.96 * U, abs=1e-6)


@pytest.mark.parametrize(("change", "state"), [(0.0501, "changed"), (0.0499, "shaken")])
def test_no_change_below_the_least_is_called(change: float, state: str) -> None:
    found, _ = outcome(at(change, u=0.001), anchor=at(0.0, u=0.001))
    assert found.state == state


def test_without_a_witness_one_level_cannot_say_which() -> None:
    found, _ = outcome(at(0.3))
    assert found.state == "changed"
    assert found.say == (
        "blade 2 or the aircraft changed: 0.30 ± 0.04 coarser; one level cannot say which"
    )


@pytest.mark.parametrize(("own", "followed"), [(0.05, False), (0.0501, True), (-0.0501, True)])
def test_a_witness_that_went_with_the_blade_is_told_from_the_least_change_on(
    own: float, followed: bool
) -> None:
    found, _ = outcome(at(own, 0.0, u=0.001), anchor=at(0.0, 0.0, u=0.001))
    assert found.state == "shaken"
    assert ("witness" in found.say) == followed


def test_a_blade_moved_where_the_witness_did_not_follow() -> None:
    found, _ = outcome(at(-0.3, -0.3))
    assert found == WatchOutcome("moved", -0.3, 0.0392, found.say)
    assert found.say == (
        "blade 2 moved 0.30 ± 0.04 finer while watched; the witness did not follow"
    )


@pytest.mark.parametrize(("own", "state"), [(0.099, "changed"), (0.101, "moved")])
def test_a_witness_changed_where_the_blade_shows_less_than_a_third(own: float, state: str) -> None:
    wide = Judge("blade 2", 0.5, 0.04, NONE)
    anchor = at(0.0, 0.0)
    found, _ = wide.outcome(at(2 * own, 2 * 0.3), anchor, anew=False, back=False)
    assert found.state == state, "0.5 is called, so a third of the change is what decides"
    if state == "changed":
        assert found.change_deg == pytest.approx(2 * own)
        assert found.say == (
            "the witness changed: 0.60 ± 0.04 finer; blade 2 did not: look at the witness"
        )


def test_a_blade_that_shows_a_change_of_its_own_moved_however_large_the_difference() -> None:
    assert outcome(at(0.099, 3.0))[0].state == "changed"
    assert outcome(at(0.101, 3.0))[0].state == "moved", "its own change is plain"


def test_the_own_level_counts_in_full_where_it_is_what_decides() -> None:
    anchor = Place(Stand(0.0, 0.0, 2e-4), Stand(0.0, 0.0, 0.02))
    block = Place(Stand(0.0, 0.12, 2e-4), Stand(0.0, 0.0, 0.02))
    found, _ = JUDGE.outcome(block, anchor, anew=False, back=False)
    assert found.state == "shaken"
    assert (
        found.say
        == "the aircraft shifted 0.12 ± 0.04 coarser, the witness with it; blade 2 did not move"
    )
    nearer = Place(Stand(0.0, 0.099, 2e-4), Stand(0.0, 0.0, 0.02))
    found, _ = JUDGE.outcome(nearer, anchor, anew=False, back=False)
    assert found.say == "blade 2 was shaken and came back: 0.00 ± 0.39 finer"


def test_a_witness_heard_at_one_time_only_says_nothing() -> None:
    assert outcome(at(0.3, 0.3), anchor=at(0.0))[0].state == "changed"
    assert outcome(at(0.3), anchor=at(0.0, 0.0))[0].state == "changed"


def test_a_level_laid_on_anew_may_have_its_seating_beside() -> None:
    u = math.hypot(U, 0.04)
    found, still = outcome(at(5.0 * u + 0.001, 5.0 * u + 0.001), anew=True, back=True)
    assert (found.state, still) == ("changed", False)
    assert found.u95_deg == pytest.approx(1.96 * u, abs=1e-6)
    assert "since its level was lifted or silent: read it again" in found.say
    found, still = outcome(at(5.0 * u - 0.001), anew=True, back=True)
    assert (found.state, still) == ("quiet", True)
    assert found.say == f"blade 2 is watched: a move over {5.0 * u:.2f} will be called"


def test_what_was_silent_for_a_moment_is_watched_again() -> None:
    assert outcome(at(0.03), back=True)[0].state == "quiet"
    assert outcome(at(0.11), back=True)[0].state == "changed", "no seating in it"


def test_a_drift_since_then_counts() -> None:
    drifting = Judge("blade 2", 0.05, 0.04, Drift(0.01, 0.0, 0.0))
    block, anchor = at(0.3, 0.3, t=100.0), at(0.0, 0.0)
    assert drifting.own(block, anchor).u == pytest.approx(math.sqrt(U * U + 0.01))
    assert drifting.difference(block, anchor).u == pytest.approx(math.sqrt(U * U + 0.02))
    assert not drifting.own(block, anchor).pair
    assert drifting.difference(block, anchor).pair


@pytest.mark.parametrize(("units", "parted"), [(6.01, True), (5.99, False)])
def test_blade_and_witness_part_at_six_standard_uncertainties(units: float, parted: bool) -> None:
    for sign in (1.0, -1.0):
        assert JUDGE.apart(at(0.0, sign * units * U), at(0.0, 0.0)) is parted
    assert not JUDGE.apart(at(units * U), at(0.0)), "one level cannot part from itself"
    assert not JUDGE.apart(at(0.0, 0.049, u=0.001), at(0.0, 0.0, u=0.001)), "under the least"
    assert JUDGE.apart(at(0.0, 0.051, u=0.001), at(0.0, 0.0, u=0.001))


def test_a_creep_tells_the_larger_of_what_it_came_and_what_is_between() -> None:
    found = JUDGE.creeping(at(0.1, 0.2), at(0.0, 0.0), -0.004, -0.3)
    assert (found.state, found.change_deg) == ("creeping", -0.3)
    assert found.say == "blade 2 is creeping finer by 0.004 a second, 0.30 so far"
    found = JUDGE.creeping(at(0.1), at(0.0), 0.02, 0.05)
    assert found.change_deg == 0.1
    assert found.u95_deg == pytest.approx(1.96 * U, abs=1e-6)
    assert found.say == (
        "blade 2 or the aircraft is creeping coarser by 0.020 a second, 0.10 so far"
    )


@pytest.mark.parametrize(("change", "told"), [(0.1001, True), (-0.1001, True), (0.0999, False)])
def test_many_small_steps_make_a_large_one(change: float, told: bool) -> None:
    for now in (at(change), at(0.0, change)):
        found = JUDGE.wandered(now, at(0.0, 0.0))
        assert (found is not None) is told
        if found is not None:
            assert found.state == "creeping"
            assert found.change_deg == pytest.approx(change)
            assert "little by little, since it is watched" in found.say


def test_a_difference_that_is_old_is_not_compared() -> None:
    old = Place(Stand(9.0, 0.0, U * U / 2.0), Stand(8.0, 0.5, U * U / 2.0))
    assert JUDGE.wandered(old, at(0.0, 0.0)) is None
    fresh = Place(old.own, Stand(9.0, 0.5, U * U / 2.0))
    assert JUDGE.wandered(fresh, at(0.0, 0.0)) is not None


def test_where_it_changed_the_place_is_taken_anew() -> None:
    block, anchor, home = at(0.3, 0.4, t=1.0), at(0.0, 0.1), at(-1.0, -1.0)
    for state in ("moved", "changed"):
        assert JUDGE.new_place(block, anchor, home, state) == (block, block, True)
    place, first, anew = JUDGE.new_place(at(0.3, t=1.0), anchor, home, "changed")
    assert place == first == Place(at(0.3, t=1.0).own, anchor.against)
    assert anew


def test_where_nothing_changed_the_place_is_merged_and_home_stays() -> None:
    block, anchor, home = at(0.05, 0.0, t=1.0), at(0.0, 0.0), at(-1.0, -1.0)
    for state in ("shaken", "quiet"):
        assert JUDGE.new_place(block, anchor, home, state) == (
            anchor.merged(block, NONE),
            home,
            False,
        )


def test_where_the_aircraft_shifted_only_the_difference_is_kept() -> None:
    block, anchor, home = at(-0.101, 0.0, t=1.0), at(0.0, 0.0), at(-1.0, -1.0)
    place, first, anew = JUDGE.new_place(block, anchor, home, "shaken")
    assert place == Place(block.own, anchor.merged(block, NONE).against)
    assert first == Place(block.own, home.against)
    assert anew
    assert not JUDGE.new_place(at(-0.099, 0.0), anchor, home, "shaken")[2]


def test_watching_names_the_move_that_will_be_called() -> None:
    found = JUDGE.watching(0.02)
    assert found == WatchOutcome(
        "quiet", 0.0, 0.1, "blade 2 is watched: a move over 0.10 will be called"
    )
    assert JUDGE.watching(0.001).u95_deg == 0.05
    assert unmeasured("lifted", "so") == WatchOutcome("lifted", 0.0, 0.0, "so")
