"""A member by itself: what it is held to follows from the readings that are left, whatever was done to it."""

from dataclasses import dataclass

import pytest

from daemon.measure.angle.budget import Budget, Line
from daemon.measure.angle.means import BladeAngle
from daemon.measure.stream.reading import Reading
from daemon.workflow.ledger import Entry, Ledger
from daemon.workflow.members import Accepted, Apart, Carried, Member, Members, Placed
from shared.events import REFERENCE, BladeId, Verdict
from shared.job import Setup
from shared.profile import Seating

READING = Reading(0.0, 0.01, 99.0, 100, 0.02, 0.0, True, None, None, 0.01)


def angle(deg: float) -> BladeAngle:
    return BladeAngle(deg, Budget((Line("averaging", "A", 0.02),)))


@dataclass
class Job:
    """A ledger with measured seating, and one member of it."""

    ledger: Ledger
    member: Member

    def read(self, deg: float, stage: str = "baseline", passed: int | None = None) -> Entry:
        number = len(self.ledger.entries) + 1
        of = self.member.attempt if passed is None else passed
        blade = self.member.blade
        self.ledger.book(
            Entry(number, blade, stage, of, "chord", READING, "normal", angle(deg), number)
        )
        return self.ledger.entries[-1]

    def withdraw(self, number: int) -> None:
        self.ledger.withdraw(self.ledger.entries[number - 1])

    @property
    def held_deg(self) -> float | None:
        now = self.member.baseline
        return None if now is None else round(now.angle_deg, 6)


def job(blade: BladeId = 1) -> Job:
    ledger = Ledger(Setup(), {"chord": Seating(u_deg=0.02, n=40)})
    return Job(ledger, Member(blade, ledger))


def verdict(state: str) -> Verdict:
    return Verdict(1, state, 0.0, 0.1, 0.9, "check", 1, "")  # type: ignore[arg-type]


def held_at(deg: float = 20.0) -> Job:
    """Placed twice, and held."""
    it = job()
    it.read(deg)
    it.read(deg)
    it.member.place("baseline", 2)
    it.member.hold()
    return it


def test_of_a_new_member_nothing_is_known_and_nothing_is_asked() -> None:
    member = job().member
    assert (member.attempt, member.state, member.wanted) == (1, "not set", 0)
    assert (member.based_on, member.confirmed_by) == (0, 0)
    assert (member.called_moved, member.mistaken, member.loosened) == (False, False, False)
    assert not member.news
    assert (member.baseline, member.basis, member.as_set, member.standing) == (None,) * 4
    assert not member.rebased


# --- what it is compared with ---------------------------------------------------------------------


def test_it_is_held_to_the_newest_basis_of_which_readings_are_left() -> None:
    it = held_at(20.0)
    first = it.read(20.8, "check")
    it.member.accept("check", 1)
    assert (it.held_deg, it.member.rebased) == (20.8, True)
    it.withdraw(first.id)
    assert (it.held_deg, it.member.rebased) == (20.0, False)
    it.withdraw(1)
    assert it.member.baseline is None


@pytest.mark.parametrize("left", [2, 1])
def test_placements_hold_it_only_all_together(left: int) -> None:
    """As many as were planned, or as many as disagreed and were taken as they are."""
    planned, apart = held_at(), job()
    apart.read(20.0)
    apart.read(20.6)
    apart.member.accept_apart("baseline")
    assert apart.member.basis == Apart("baseline", 1, 2)
    for it in (planned, apart):
        if left < 2:
            it.withdraw(2)
        assert (it.member.baseline is not None) == (left == 2)
        assert it.member.standing is not None, "its mean is there, it only holds nothing"


def test_one_more_placement_than_planned_or_than_disagreed_holds_it_too() -> None:
    planned, apart = held_at(), job()
    apart.read(20.0)
    apart.read(20.6)
    apart.member.accept_apart("baseline")
    for it in (planned, apart):
        it.read(20.3)
        assert it.member.baseline is not None


@pytest.mark.parametrize(("counts", "ids"), [(True, [3, 4]), (False, [4])])
def test_only_the_last_reading_while_it_was_set_counts_beside_its_placement(
    counts: bool, ids: list[int]
) -> None:
    it = job()
    for deg, stage in ((17.0, "set"), (18.0, "set"), (20.0, "set"), (20.2, "baseline")):
        it.read(deg, stage)
    if counts:
        it.member.place("baseline", 1, from_setting=True)
    else:
        it.member.place("baseline", 1)
    assert [one.id for one in it.member.entries(it.member.basis)] == ids
    assert it.held_deg == (20.1 if counts else 20.2)
    assert it.member.baseline is it.member.baseline, "worked out once for each change of a reading"


def test_what_the_session_before_held_rests_on_no_reading() -> None:
    it = job()
    it.member.carry(angle(19.5))
    assert (it.member.state, it.held_deg, it.member.news) == ("held", 19.5, False)
    assert it.member.basis == Carried(angle(19.5))
    assert it.member.entries(it.member.basis) == []
    assert it.member.rebased


def test_what_it_was_set_to_is_of_its_own_placements_and_stays_through_what_is_accepted() -> None:
    it = held_at(20.0)
    it.read(20.8, "check")
    it.member.accept("check", 1)
    assert it.member.as_set is not None
    assert it.member.as_set.angle_deg == pytest.approx(20.0)


def test_news_is_another_angle_than_was_said() -> None:
    it = job()
    it.read(20.0)
    it.member.place("baseline", 1)
    assert it.member.news, "held, and nothing was said"
    it.member.hold()
    assert not it.member.news
    it.read(20.1)
    assert it.member.news, "another mean"
    it.withdraw(2)
    assert not it.member.news
    it.withdraw(1)
    assert it.member.news, "held no more, and it was said to be"


# --- what is done to it -----------------------------------------------------------------------------

STARTS_OVER = {
    "set again": lambda it: it.member.set_again(),
    "referred anew": lambda it: it.member.refer_anew(),
    "placed again": lambda it: it.member.place_again(2),
}


@pytest.mark.parametrize("how", STARTS_OVER)
def test_who_starts_over_is_held_to_nothing_from_then_on(how: str) -> None:
    it = job()
    it.read(20.0)
    it.member.place("baseline", 1)
    it.member.hold()
    assert it.held_deg == 20.0
    STARTS_OVER[how](it)
    assert it.member.baseline is None
    assert it.member.standing is not None, "the tilt of the shaft may still hang on it"


def test_what_is_held_is_wanted_no_more() -> None:
    it = held_at()
    it.member.ask_for(3)
    it.member.hold()
    assert (it.member.state, it.member.wanted) == ("held", 0)


def test_placed_again_it_keeps_its_attempt_and_is_wanted_so_many_times() -> None:
    it = held_at()
    it.member.place_again(4)
    assert (it.member.state, it.member.wanted, it.member.attempt) == ("place again", 4, 1)


def test_set_again_is_another_attempt_of_which_nothing_is_known() -> None:
    it = held_at()
    it.member.judge(verdict("moved"), "moved", 3)
    it.member.loosen()
    it.member.set_again()
    assert (it.member.attempt, it.member.state, it.member.wanted) == (2, "not set", 0)
    assert (it.member.verdict, it.member.announced, it.member.loosened) == (None, None, False)
    assert it.member.called_moved, "that stays said"
    it.member.begin()
    assert it.member.state == "not set"
    it.read(20.0, "set")
    it.member.begin()
    assert it.member.state == "provisional"


@pytest.mark.parametrize("mistaken", [False, True])
def test_a_reference_that_is_read_anew_is_mistaken_only_where_that_is_said_and_until_it_is_held(
    mistaken: bool,
) -> None:
    it = job(REFERENCE)
    if mistaken:
        it.member.refer_anew(mistaken=True)
    else:
        it.member.refer_anew()
    assert (it.member.state, it.member.mistaken) == ("place again", mistaken)
    it.read(-3.0, "reference")
    it.member.place("reference", 1)
    it.member.hold()
    assert (it.member.state, it.member.mistaken) == ("held", False)


def test_a_reference_of_which_a_reading_was_false_is_mistaken() -> None:
    it = job(REFERENCE)
    it.member.mistake()
    assert it.member.mistaken


def test_what_rests_on_too_few_readings_has_fallen_once() -> None:
    it = held_at()
    placed = it.member.basis
    one = it.read(20.8, "check")
    it.member.accept("check", 1)
    assert it.member.recount() == []
    it.withdraw(one.id)
    assert it.member.recount() == [Accepted("check", 1)]
    assert it.member.basis == placed == Placed("baseline", 1, 2)
    assert it.member.recount() == []
    it.read(20.8, "check")
    assert it.member.basis == placed, "what has fallen does not rise with another reading"


def test_based_on_is_the_last_reading_when_the_basis_was_made() -> None:
    it = held_at()
    assert it.member.based_on == 2
    it.read(20.8, "check")
    assert it.member.based_on == 2
    it.member.accept("check", 1)
    assert (it.member.based_on, it.member.state) == (3, "accepted")
    it.read(20.9, "nip")
    it.member.follow("nip", 1)
    assert (it.member.based_on, it.member.state) == (4, "accepted")
    assert (it.held_deg, it.member.news) == (20.9, False)


def test_what_is_held_to_nothing_keeps_what_it_was_based_on() -> None:
    it = job()
    it.member.hold()
    assert it.member.based_on == 0


def test_confirmed_is_up_to_the_last_reading() -> None:
    it = held_at()
    it.member.confirm()
    assert it.member.confirmed_by == 2


def test_a_round_says_what_became_of_it_and_how_often_it_is_wanted() -> None:
    it = held_at()
    for state, called in (("place again", False), ("moved", True), ("steady", True)):
        it.member.judge(verdict(state), state, 3)
        assert (it.member.state, it.member.wanted, it.member.called_moved) == (state, 3, called)
    other = held_at()
    other.member.judge(verdict("turned"), "turned", 0)
    assert other.member.called_moved


def test_read_again_is_as_planned_unless_a_number_is_given() -> None:
    it = held_at()
    it.member.ask_for(5)
    assert it.member.wanted == 5
    it.member.read_again()
    assert (it.member.state, it.member.wanted) == ("place again", 0)
    it.member.read_again(3)
    assert it.member.wanted == 3


def test_bolts_loosen_it_until_a_round_tells() -> None:
    it = held_at()
    it.member.loosen()
    assert (it.member.state, it.member.loosened) == ("may have turned", True)
    it.member.tell(turned=True)
    assert it.member.loosened
    it.member.tell()
    it.member.stay()
    assert (it.member.state, it.member.loosened) == ("held", False)
    it.member.leave()
    assert it.member.state == "accepted"


def test_only_what_was_accepted_with_a_shift_in_that_pass_is_dropped() -> None:
    it = held_at(20.0)
    it.read(20.5, "check")
    it.member.accept("check", 1)
    assert not it.member.unshift("check", 1), "it was accepted without one"
    assert it.held_deg == 20.5
    it.read(20.7, "final")
    it.member.accept("final", 1, shifted=True)
    assert it.held_deg == 20.7
    assert not it.member.unshift("final", 2)
    assert it.member.unshift("final", 1)
    assert it.held_deg == 20.5


# --- all of them ---------------------------------------------------------------------------------------


def test_the_newest_angle_is_of_the_pass_read_last_else_what_it_is_held_to() -> None:
    it = job(2)
    members = Members(it.ledger, 2)
    assert members.newest_angles() == {1: None, 2: None}
    members[1].carry(angle(20.0))
    it.read(20.0)
    it.read(20.4, "check")
    newest = members.newest_angles()
    assert newest[1] == angle(20.0)
    assert newest[2] is not None
    assert newest[2].angle_deg == pytest.approx(20.4)


def test_the_reference_comes_first_and_blades_by_number() -> None:
    members = Members(Ledger(Setup(), {}), 3)
    assert [member.blade for member in members] == [REFERENCE, 1, 2, 3]
    assert members.reference is members[REFERENCE]
    assert list(members.numbers()) == [1, 2, 3]
    assert members.loose() == [1, 2, 3]
    members[2].carry(angle(20.0))
    assert members.loose() == [1, 3]
