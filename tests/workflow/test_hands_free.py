"""A job without a press: entry by proof, and what a level turned over in the hand does."""

from typing import Any

import pytest

from daemon.core.rules import RULES
from daemon.workflow.hands_free import CLIENT
from shared.events import Alarm, Captured, Cleared, Noted, Withdrawn
from shared.inputs import NS, Link
from tests.daemon.bench import LEVEL, header
from tests.workflow.jobs import Crew

PLAN = {"rounds": ["check", "snug", "final"], "reference_placements": 1, "baseline_placements": 1}


def crew_of(
    capture: str = "by itself", *, proof: bool = True, rules: int = RULES, **plan: Any
) -> Crew:
    """Return a crew before the first reference."""
    today = header(plan={**PLAN, **plan}, setup={"capture": capture})
    crew = Crew(today.model_copy(update={"rules": rules}))
    crew.press("done")
    if proof:
        crew.turn_over()
    return crew


def lay(crew: Crew, angle: float, away_s: float = 10.0, samples: int = 60) -> bool:
    """Lift, be away, lay down; return whether it was taken."""
    before = len(crew.said(Captured))
    crew.carry(round(away_s * 10))
    crew.lay(angle, samples)
    return len(crew.said(Captured)) > before


def to_the_check(*, rules: int = RULES, **plan: Any) -> Crew:
    """Return a crew that has set both blades without a press since the aircraft was made safe."""
    crew = crew_of(rules=rules, **plan)
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0, 2.0)
    for _ in "12":
        assert lay(crew, 17.0)
        assert lay(crew, 17.0, 2.0)
    assert crew.step() in {("check", 1), ("tighten", None)}
    return crew


def in_the_last_round(*, rules: int = RULES) -> Crew:
    crew = to_the_check(rules=rules, rounds=["check", "final"])
    for angle in (17.0, 17.0):
        assert lay(crew, angle)
    assert crew.step()[0] == "final"
    return crew


def turn_and_lay(crew: Crew, angle: float, away_s: float = 10.0) -> bool:
    """Lift, be away, turn the level over, lay it down."""
    before = len(crew.said(Captured))
    crew.carry(round(away_s * 10))
    crew.turn_over()
    crew.lay(angle, 60)
    return len(crew.said(Captured)) > before


def test_before_anybody_turned_the_level_over_nothing_is_taken_by_itself() -> None:
    crew = crew_of(proof=False)
    assert crew.engine.view().turnover == "proof"
    assert not lay(crew, -3.0)
    assert not lay(crew, -3.0)
    assert crew.engine.view().live.words == "ready: press"
    crew.turn_over()
    assert any("turned over" in note.say for note in crew.said(Noted))
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0)


@pytest.mark.parametrize("lifted", [(0.0, 4.0, 10.0, 20.0), (20.0,)])
def test_where_it_lay_is_the_first_of_the_three_poses_of_turning_it_over(
    lifted: tuple[float, ...],
) -> None:
    """Where it lay, and not where it is when it is seen to move."""
    crew = crew_of(proof=False)
    crew.carry(5)
    crew.lay(-3.0, 30)
    poses = [*((angle, 1) for angle in lifted), (110.0, 2), (177.0, 6), (110.0, 2), (-3.0, 6)]
    for angle, samples in poses:
        for _ in range(samples):
            crew.send(angle, 1.0)
    assert any("was turned over: from here on" in note.say for note in crew.said(Noted))


def test_by_press_turning_it_over_is_nothing() -> None:
    crew = crew_of("by press")
    assert crew.engine.view().turnover == ""
    assert not lay(crew, -3.0)
    assert not lay(crew, -3.0)


def test_under_older_rules_a_job_by_itself_wants_no_proof() -> None:
    new = header(plan=PLAN, setup={"capture": "by itself"})
    old = new.model_copy(update={"rules": 6})
    crew = Crew(old)
    crew.press("done")
    crew.on_hub_face()
    assert lay(crew, 17.0)
    assert crew.engine.view().turnover == ""


def test_two_landings_that_agree_are_the_first_reference() -> None:
    crew = crew_of()
    assert not lay(crew, -3.0)
    assert crew.engine.view().live.words == "lay it once more: two must agree, or press"
    assert not lay(crew, -3.4)
    assert lay(crew, -3.4)
    assert crew.said(Captured)[-1].by == "landing"


@pytest.mark.parametrize(("wanted", "placed"), [(1, [1]), (2, [1, 2]), (3, [1, 2])])
def test_of_two_landings_that_agree_both_are_placements_of_the_first_reference(
    wanted: int, placed: list[int]
) -> None:
    """Each was a placement of its own, good enough and lifted in between: a third tells no more."""
    crew = crew_of(reference_placements=wanted)
    assert not lay(crew, -3.0)
    assert lay(crew, -3.06)
    took = crew.said(Captured)
    assert [one.placement for one in took] == placed
    assert took[-1].angle_deg == pytest.approx(3.06, abs=0.012)
    assert took[0].angle_deg == pytest.approx(3.06 if wanted == 1 else 3.0, abs=0.012)
    assert [one.by for one in took] == ["landing"] * len(placed)
    assert crew.step() == (("reference", "reference") if wanted == 3 else ("set", 1))


def test_only_the_landing_that_is_agreed_with_is_a_placement_too() -> None:
    crew = crew_of(reference_placements=2)
    assert not lay(crew, -5.0)
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0)
    assert [one.angle_deg for one in crew.said(Captured)] == [pytest.approx(3.0, abs=0.012)] * 2


def test_a_press_takes_what_lies_there_and_no_landing_before_it() -> None:
    crew = crew_of(reference_placements=2)
    assert not lay(crew, -3.0)
    crew.read(-3.0)
    assert len(crew.said(Captured)) == 1


def test_under_older_rules_the_first_of_two_landings_was_no_placement() -> None:
    crew = crew_of(rules=9, reference_placements=2)
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0)
    assert crew.step() == ("reference", "reference")
    assert len(crew.said(Captured)) == 1


def test_a_bench_that_leans_as_no_shaft_does_is_no_reference() -> None:
    crew = crew_of()
    assert not lay(crew, 18.0)
    assert not lay(crew, 18.0)


def test_the_last_round_is_taken_by_itself_too() -> None:
    crew = in_the_last_round()
    for angle in (-3.0, 17.0, 17.0):
        assert lay(crew, angle)
    assert [one.by for one in crew.said(Captured)[-3:]] == ["landing"] * 3
    assert crew.step()[0] == "finished"


@pytest.mark.parametrize(("rules", "booked"), [(10, True), (11, False)])
def test_back_on_the_same_blade_in_the_last_round_turning_the_level_over_gave_it_the_time_it_lacked(
    rules: int, booked: bool
) -> None:
    """Under rules 10 the gesture took 2.6 of the 7 s in which no propeller is turned; now nobody makes it."""
    crew = in_the_last_round(rules=rules)
    assert lay(crew, -3.0)
    back = turn_and_lay if rules == 10 else lay
    assert back(crew, 17.0)
    assert back(crew, 17.0, 4.6) == booked


def test_under_older_rules_the_last_round_wanted_the_level_turned_over_for_every_blade() -> None:
    crew = in_the_last_round(rules=10)
    assert lay(crew, -3.0)  # the reference: nothing is mistaken for it
    assert crew.step() == ("final", 1)
    assert not lay(crew, 17.0)
    assert crew.engine.view().live.lacks == "a press"
    assert turn_and_lay(crew, 17.0)
    assert turn_and_lay(crew, 17.0)
    assert [one.by for one in crew.said(Captured)[-2:]] == ["gesture"] * 2
    assert crew.step()[0] == "finished"


def test_turned_over_it_counts_for_the_next_landing_and_not_for_long() -> None:
    crew = in_the_last_round(rules=10)
    assert lay(crew, -3.0)
    crew.carry(100)
    crew.turn_over()
    crew.carry(120)
    crew.lay(17.0, 60)
    assert crew.step() == ("final", 1)


def test_the_same_blade_again_is_the_next_one_once_the_level_was_turned_over() -> None:
    crew = to_the_check()
    assert lay(crew, 17.0)
    assert not lay(crew, 17.0, 2.0)
    assert crew.engine.view().live.lacks == "a turn"
    assert turn_and_lay(crew, 17.0, 1.0)
    assert crew.said(Captured)[-1].by == "gesture"


def test_what_is_not_expected_in_a_round_is_said_so() -> None:
    crew = to_the_check()
    assert not lay(crew, 18.5)
    assert crew.engine.view().live.words == "not as expected: lay it again, or press"


@pytest.mark.parametrize(("away_s", "taken"), [(2.0, False), (8.0, True)])
def test_time_at_the_bolts_is_no_time_in_which_the_propeller_was_turned(
    away_s: float, taken: bool
) -> None:
    """Blade 2 was read last; a level that lies there again after the snugging looks like blade 1."""
    crew = to_the_check(rounds=["snug", "final"])
    assert crew.step()[0] == "tighten"
    crew.carry(150)
    crew.press("done")
    assert crew.step() == ("snug", 1)
    assert lay(crew, 17.0, away_s) == taken


def test_a_surprise_counts_once_the_level_was_turned_over() -> None:
    crew = to_the_check()
    assert not lay(crew, 17.9)
    assert turn_and_lay(crew, 18.3, 1.0)


def test_within_twenty_seconds_it_takes_the_reading_back() -> None:
    crew = to_the_check()
    assert lay(crew, 17.0)
    number = crew.said(Captured)[-1].id
    crew.turn_over()
    assert [one.id for one in crew.said(Withdrawn)] == [number]
    assert crew.step() == ("check", 1)
    assert lay(crew, 17.0)


def test_the_picture_says_for_how_long_it_takes_a_reading_back() -> None:
    crew = to_the_check()
    assert lay(crew, 17.0)
    taken_ns = next(e.t_ns for e in reversed(crew.events) if isinstance(e.body, Captured))
    crew.carry(20)
    assert crew.engine.view(taken_ns + 20 * NS).turnover == "back"
    assert crew.engine.view(taken_ns + 20 * NS + 1).turnover == ""


def test_later_it_takes_nothing_back() -> None:
    crew = to_the_check()
    assert lay(crew, 17.0)
    crew.carry(200)
    assert crew.engine.view().turnover == ""
    crew.turn_over()
    assert not crew.said(Withdrawn)


def test_while_a_blade_is_set_it_lets_no_landing_count() -> None:
    crew = crew_of()
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0)
    assert not lay(crew, 15.0)
    assert not turn_and_lay(crew, 15.0, 20.0)


def test_it_says_that_the_bolts_are_done_and_never_that_it_is_safe_or_over() -> None:
    crew = Crew(header(plan=PLAN, setup={"capture": "by itself"}))
    crew.turn_over()
    crew.turn_over()
    assert crew.step()[0] == "prepare"
    crew = to_the_check()
    for angle in (17.0, 17.0):
        assert lay(crew, angle)
    assert crew.step()[0] == "tighten"
    assert crew.engine.view().turnover == "done"
    crew.turn_over()
    assert crew.step() == ("snug", 1)


def test_the_record_is_not_closed_by_it() -> None:
    crew = in_the_last_round()
    for angle in (-3.0, 17.0, 17.0):
        assert lay(crew, angle)
    crew.carry(300)
    crew.turn_over()
    assert crew.step()[0] == "finished"
    assert not crew.engine.finished


def alarmed(rules: int = RULES) -> Crew:
    """Return a crew whose blade 2 was found moved, with the level still on it."""
    crew = to_the_check(rules=rules)
    assert lay(crew, 17.0)
    assert not lay(crew, 18.5)
    assert lay(crew, 18.5, 2.0)
    for _ in range(8):
        if crew.step()[0] == "answer":
            return crew
        angle = {"reference": -3.0, 1: 17.0, 2: 18.5}[crew.step()[1]]
        lay(crew, angle, 8.0)
    raise AssertionError(crew.step())


def test_an_alarm_is_set_again_with_the_level_in_the_hand_for_a_moment() -> None:
    crew = alarmed()
    assert [one.blade for one in crew.said(Alarm)] == [2]
    crew.carry(5)
    assert crew.engine.view().turnover == ""
    crew.carry(15)
    assert crew.engine.view().turnover == "set again"
    crew.carry(8)
    crew.turn_over()
    assert crew.said(Noted)[-1].say.startswith(
        "the level was turned over: blade 2 to be set again, in 5 s"
    )
    assert crew.said(Cleared) == []
    assert crew.engine.view().turnover == "leave"
    crew.carry(60)
    assert [(one.how, one.by) for one in crew.said(Cleared)] == [("set-again", CLIENT)]
    assert crew.said(Noted)[-1].say == "nobody took it back: alarm 1 answered: set-again."
    assert crew.step() == ("set", 2)
    assert crew.engine.view().turnover != "leave"


def answering() -> Crew:
    """Return a crew whose level was just turned over for an alarm."""
    crew = alarmed()
    crew.carry(28)
    crew.turn_over()
    assert crew.engine.view().turnover == "leave"
    return crew


def test_turned_over_once_more_within_5_s_the_alarm_stands() -> None:
    crew = answering()
    crew.turn_over()
    assert crew.said(Noted)[-1].say.endswith("the alarm stands, nothing is set again.")
    crew.carry(100)
    assert crew.said(Cleared) == []
    assert crew.step()[0] == "answer"
    crew.turn_over()
    crew.carry(60)
    assert [one.how for one in crew.said(Cleared)] == ["set-again"]


def test_it_is_set_again_5_s_after_it_was_said_and_not_with_the_next_sample() -> None:
    crew = answering()
    told_ns = next(
        event.t_ns
        for event in reversed(crew.events)
        if isinstance(event.body, Noted) and "in 5 s" in event.body.say
    )
    crew.carry(100)
    cleared = next(event for event in crew.events if isinstance(event.body, Cleared))
    assert cleared.t_ns == told_ns + 5_000_000_000


def test_a_press_answers_meanwhile_and_nothing_is_set_again_after_it() -> None:
    crew = answering()
    alarm = crew.said(Alarm)[-1].id
    said = crew.press("acknowledge", id=alarm, then="accept", by="Crew", reason="meant")
    assert said.result == "done"
    crew.carry(100)
    assert [one.how for one in crew.said(Cleared)] == ["accept"]


def test_what_waits_is_shown_and_can_be_left_though_the_level_was_gone_meanwhile() -> None:
    crew = answering()
    crew.put(Link("chord", "down", "pulled", "", t_ns=crew.t_ns + 1))
    assert crew.engine.view().turnover == "leave"
    crew.put(Link("chord", "up", "", "bench", t_ns=crew.t_ns + 1))
    crew.turn_over()
    crew.carry(100)
    assert crew.said(Cleared) == []


def test_under_older_rules_it_was_set_again_at_once() -> None:
    crew = alarmed(rules=8)
    crew.carry(28)
    crew.turn_over()
    assert [one.how for one in crew.said(Cleared)] == ["set-again"]


def test_who_comes_back_to_a_level_that_was_gone_proves_it_again() -> None:
    crew = to_the_check()
    crew.put(Link("chord", "down", "pulled", "", t_ns=crew.t_ns + 1))
    crew.put(Link("chord", "up", "", "bench", t_ns=crew.t_ns + 1))
    assert not lay(crew, 17.0)
    told = [note.say for note in crew.said(Noted) if "one press a reading" in note.say]
    assert [one.partition(":")[0] for one in told] == ["level chord was gone"]
    crew.turn_over()
    assert lay(crew, 17.0)


def test_where_nothing_is_to_be_heard_every_reading_wants_a_press() -> None:
    crew = to_the_check()
    assert crew.press("unheard", reason="the sound device is gone").result == "done"
    assert crew.said(Noted)[-1].say.startswith("the sound device is gone: one press a reading")
    assert not lay(crew, 17.0)
    assert crew.press().result == "done"


def test_by_press_nobody_has_to_hear() -> None:
    assert crew_of("by press").press("unheard").result == "refused"


@pytest.mark.parametrize("settings", [{"limits": {"low_deg": -90.0, "high_deg": 90.0}}])
def test_a_level_that_folds_stays_with_a_press(settings: dict[str, Any]) -> None:
    folded = {**LEVEL, "settings": {**LEVEL["settings"], **settings}}
    crew = Crew(header(plan=PLAN, setup={"capture": "by itself"}, level=[folded]))
    crew.press("done")
    assert crew.engine.view().turnover == ""
    crew.turn_over()
    assert not lay(crew, -3.0)
    assert not lay(crew, -3.0)


def test_the_next_blade_to_be_set_is_asked_for_where_it_may_be_the_last_one_again() -> None:
    """Not silently left lying: the word, and turning the level over, are there while setting too."""
    crew = crew_of()
    assert not lay(crew, -3.0)
    assert lay(crew, -3.0)
    assert lay(crew, 17.0)
    assert lay(crew, 17.0, 2.0)
    assert crew.step() == ("set", 2)
    assert not lay(crew, 17.0, 2.0)
    assert crew.engine.view().live.lacks == "a turn"
    assert turn_and_lay(crew, 17.0, 1.0)


def test_turned_over_and_laid_down_too_soon_it_is_asked_of_once_more() -> None:
    """A habit says little: the level may have gone back on the blade that was just read."""
    crew = in_the_last_round(rules=10)
    assert lay(crew, -3.0)
    assert turn_and_lay(crew, 17.0)
    assert crew.step() == ("final", 2)
    assert not turn_and_lay(crew, 17.0, 0.5)
    assert crew.engine.view().live.lacks == "a turn"
    assert turn_and_lay(crew, 17.0, 0.5)
    assert crew.step()[0] == "finished"
