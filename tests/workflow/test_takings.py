"""One level for blades: one placement gives one reading, and a press counts for one of them."""

from dataclasses import replace

import pytest

from daemon.measure.stream.reading import Reading
from daemon.workflow.takings import PRESS_LASTS_NS, Taking, Takings
from shared.events import Asked
from shared.inputs import NS

READING = Reading(17.0, 0.01, 30.0, 20, 0.03, 0.0, True, None, None, 0.01)
WORSE = replace(READING, u_deg=0.1, reached=False)
QUESTION = Asked(1, 1, 17.0, "which way?")


def test_a_press_counts_for_a_level_that_comes_to_rest_within_five_seconds() -> None:
    for late_ns, armed in ((0, "press"), (1, None)):
        taking = Taking("chord")
        taking.press("press", 3 * NS)
        taking.rest(1, 3 * NS + PRESS_LASTS_NS + late_ns)
        assert taking.armed == armed
    assert PRESS_LASTS_NS == 5 * NS


def test_a_press_before_the_level_lay_stands_though_it_looks_lifted_and_one_after_does_not() -> (
    None
):
    taking = Taking("chord")
    taking.press("press", 0)
    taking.lift(NS)
    assert taking.armed == "press"
    taking.rest(1, 2 * NS)
    taking.lift(3 * NS)
    assert taking.armed is None


def test_a_placement_gives_one_reading_and_the_next_is_free_again() -> None:
    taking = Taking("chord")
    assert not taking.free
    taking.rest(1, 0)
    assert taking.free
    assert taking.lies_on == 0
    taking.take(7)
    assert not taking.free
    assert taking.lies_on == 7
    taking.lift(NS)
    assert not taking.free
    assert taking.lies_on == 0
    taking.rest(2, 2 * NS)
    assert taking.free


def test_what_was_turned_after_its_reading_lies_on_no_reading_that_counts() -> None:
    taking = Taking("chord")
    taking.rest(1, 0)
    taking.take(7)
    taking.turn()
    assert taking.lies_on == 0
    assert not taking.free


def test_over_a_gap_it_is_remembered_on_which_reading_it_lay_until_it_is_seen_in_a_hand() -> None:
    taking = Taking("chord")
    taking.rest(1, 0)
    taking.take(7)
    taking.lift(NS, unseen=True)
    assert taking.unseen == 7
    taking.lift(2 * NS, unseen=True)
    assert taking.unseen == 7
    taking.rest(2, 3 * NS)
    taking.still_there()
    assert not taking.free
    assert taking.lies_on == 0
    taking.lift(4 * NS)
    assert taking.unseen == 0


def test_whoever_looked_may_say_that_the_level_was_turned_round_and_round_again() -> None:
    taking = Taking("chord")
    taking.rest(1, 0)
    taking.ask(QUESTION)
    taking.confirm(reversed_level=True)
    assert (taking.sense, taking.confirmed, taking.asked) == ("reversed", True, None)
    taking.confirm(reversed_level=False)
    assert taking.sense == "reversed"
    taking.lift(NS)
    assert not taking.confirmed


def test_turned_round_again_it_points_as_agreed() -> None:
    taking = Taking("chord", sense="reversed")
    taking.confirm(reversed_level=True)
    assert taking.sense == "normal"


def test_of_a_level_that_nobody_touched_nothing_is_known() -> None:
    taking = Taking("chord")
    assert not (taking.heard)
    assert not (taking.ready)
    assert not (taking.turned)
    assert not (taking.confirmed)
    numbers = (taking.placement, taking.taken, taking.gave, taking.unseen, taking.crept)
    assert numbers == (0, 0, 0, 0, 0)
    assert (taking.refused, taking.armed_until_ns) == (0, 0)
    landing = taking.landing
    assert (landing.lifted_ns, landing.ready_ns, landing.rested_ns, landing.in_hand_ns) == (
        0, 0, 0, 0,
    )  # fmt: skip
    assert (landing.surprise, landing.held_back) == (0, 0)


def test_lifted_it_is_neither_ready_nor_turned_and_its_landing_knows_whether_it_was_read() -> None:
    taking = Taking("chord")
    taking.rest(1, NS)
    assert taking.landing.rested_ns == NS
    taking.settle(1, READING, 2 * NS, turned=True)
    assert (taking.ready, taking.turned, taking.landing.ready_ns) == (True, True, 2 * NS)
    taking.lift(3 * NS)
    assert (taking.placement, taking.ready, taking.turned) == (0, False, False)
    assert taking.reading is None
    assert (taking.landing.lifted_ns, taking.landing.in_hand_ns) == (0, 3 * NS)
    taking.rest(2, 4 * NS)
    taking.take(7)
    taking.lift(5 * NS)
    assert taking.landing.lifted_ns == 5 * NS


def test_an_average_is_there_while_it_lies_still_and_good_enough_until_it_is_not() -> None:
    taking = Taking("chord")
    taking.rest(1, NS)
    taking.settle(1, READING, 2 * NS, turned=False)
    taking.lie(1, WORSE)
    assert taking.reading is WORSE
    assert taking.landing.ready_ns == 0
    taking.settle(1, READING, 3 * NS, turned=False)
    taking.stir()
    assert taking.reading is None
    assert taking.landing.ready_ns == 0
    taking.lie(2, READING)
    assert taking.placement == 2


def test_a_reading_ends_what_was_pressed_asked_and_held_back_for_it() -> None:
    taking = Taking("chord")
    taking.rest(1, NS)
    taking.keep_armed("gesture", 9 * NS)
    assert (taking.armed, taking.armed_until_ns) == ("gesture", 9 * NS)
    taking.landing.too_soon(1)
    taking.ask(QUESTION)
    taking.take(7)
    assert (taking.armed, taking.asked, taking.landing.same_again) == (None, None, False)
    taking.ask(QUESTION)
    taking.disarm()
    assert taking.asked is None
    taking.creep(1)
    assert taking.crept == 1
    taking.take()
    assert taking.lies_on == 0, "given up: it is to give no reading"


def test_that_a_level_cannot_tell_is_said_once_a_placement_and_at_every_press() -> None:
    taking = Taking("chord")
    taking.rest(1, 0)
    assert taking.refuse()
    assert not taking.refuse()
    taking.press("press", NS)
    assert taking.refuse()
    assert taking.armed is None
    taking.rest(2, 2 * NS)
    assert taking.refuse()


def test_a_press_is_for_what_lies_there_before_what_is_still_to_come() -> None:
    takings = Takings(["chord", "second", "third"])
    chord, second, third = takings
    chord.hear(heard=True)
    second.hear(heard=True)
    assert takings.for_a_press() == [chord, second]
    second.rest(1, 0)
    assert takings.for_a_press() == [second]
    second.take(1)
    assert takings.for_a_press() == [chord]
    third.rest(1, 0)
    assert takings.for_a_press() == [chord], "it is not heard"
    assert takings.get("second") is second
    assert takings.get("fourth") is None


def test_questions_are_numbered_from_one_and_the_first_that_waits_is_shown() -> None:
    takings = Takings(["chord", "second"])
    assert [takings.next_question() for _ in range(3)] == [1, 2, 3]
    chord, second = takings
    assert takings.question() is None
    second.ask(QUESTION)
    assert takings.question() is QUESTION
    chord.disarm()
    second.answer()
    assert takings.question() is None


def test_a_landing_remembers_since_when_it_lies_and_is_good_enough() -> None:
    landing = Taking("chord").landing
    landing.rest(2 * NS)
    landing.settle(3 * NS)
    landing.settle(4 * NS)
    assert (landing.rested_ns, landing.ready_ns) == (2 * NS, 3 * NS)
    landing.stir()
    landing.settle(5 * NS)
    assert landing.ready_ns == 5 * NS
    landing.rest(6 * NS)
    assert landing.ready_ns == 0
    landing.settle(7 * NS)
    landing.lift(8 * NS, read=True)
    assert (landing.lifted_ns, landing.in_hand_ns, landing.ready_ns) == (8 * NS, 8 * NS, 0)
    landing.lift(9 * NS, read=False)
    assert (landing.lifted_ns, landing.in_hand_ns) == (8 * NS, 9 * NS)


@pytest.mark.parametrize("why", ["surprise", "too soon"])
def test_only_a_person_knows_what_a_landing_was_until_it_is_taken(why: str) -> None:
    landing = Taking("chord").landing
    assert not landing.wants_a_word
    assert not landing.same_again
    if why == "surprise":
        landing.surprise_by(17.3, READING, 1)
        assert landing.surprised_deg == 17.3
    else:
        landing.too_soon(1)
    assert landing.wants_a_word
    assert landing.same_again is (why == "too soon")
    landing.take()
    assert not landing.wants_a_word
    assert (landing.surprised_deg, landing.surprised) == (None, None)
