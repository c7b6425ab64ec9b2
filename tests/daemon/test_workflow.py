"""What a person may do at the blades, and what the program makes of it."""

import itertools
import struct
from pathlib import Path

import pytest

from shared.events import (
    Alarm,
    Asked,
    Assigned,
    Captured,
    Cleared,
    Held,
    Noted,
    StepChanged,
    Summary,
    Verdict,
    Withdrawn,
)
from shared.inputs import NS, Bytes, Link
from tests.daemon.bench import Person, header, job

DATA = Path(__file__).parents[1] / "data"


def ready() -> Person:
    person = Person(header())
    person.up_to_round()
    return person


def test_the_plan_in_order() -> None:
    person = Person(header())
    steps = [person.step()]
    person.press("done")
    for angle in (-3.0, -3.0, 17.0, 17.0, 17.0, 17.0, 17.0, 17.0, -3.0, 17.0, 17.0):
        steps.append(person.step())
        person.read(angle)
    steps.append(person.step())
    assert steps == [
        ("prepare", None),
        ("reference", "reference"),
        ("reference", "reference"),
        ("set", 1),
        ("baseline", 1),
        ("baseline", 1),
        ("set", 2),
        ("baseline", 2),
        ("baseline", 2),
        ("check", "reference"),
        ("check", 1),
        ("check", 2),
        ("finished", None),
    ]


def test_the_shafts_tilt_goes_into_the_blade_angle() -> None:
    person = ready()
    held = person.said(Held)
    assert held[0].angle_deg == pytest.approx(20.0, abs=0.03)
    assert held[1].angle_deg == pytest.approx(20.05, abs=0.03)
    assert all(h.u95_deg < 0.15 for h in held)


def test_a_level_on_the_bench_is_not_taken_without_a_press() -> None:
    person = ready()
    person.carry()
    person.lay(17.0, 120)
    assert person.said(Captured)[-1].stage == "baseline"


def test_nothing_is_taken_twice_without_a_lift() -> None:
    person = ready()
    person.read(-3.0)
    count = len(person.said(Captured))
    answer = person.press("take")
    assert answer.result == "refused"
    assert "lift" in answer.say
    person.lay(-3.0, 40)
    assert len(person.said(Captured)) == count


def test_a_press_while_the_level_comes_down_stands() -> None:
    person = ready()
    person.carry()
    person.press("take")
    person.lay(-3.0, 5)
    person.carry(4)
    person.lay(-3.0, 25)
    assert person.said(Captured)[-1].stage == "check"


def test_a_press_long_before_the_level_rests_does_not_stand() -> None:
    person = ready()
    person.press("take")
    person.carry(60)
    person.lay(-3.0, 30)
    assert person.said(Captured)[-1].stage == "baseline"


def test_a_blade_that_turned_under_the_level_is_taken_by_itself_when_right() -> None:
    person = Person(header())
    person.press("done")
    person.read(-3.0)
    person.read(-3.0)
    person.carry()
    person.lay(12.0, 20)
    for step in range(25):
        person.send(12.0 + 0.1 * step, 0.02)
    person.lay(14.5, 30)
    assert person.said(Captured)[-1].stage == "reference", "out of tolerance: shown, not taken"
    for step in range(25):
        person.send(14.5 + 0.1 * step, 0.02)
    person.lay(17.0, 30)
    taken = person.said(Captured)[-1]
    assert (taken.stage, taken.by) == ("set", "turn")
    assert taken.angle_deg == pytest.approx(20.0, abs=0.05)


def test_a_wrong_sign_is_asked_about_and_never_corrected() -> None:
    person = ready()
    person.read(-3.0)
    person.read(-17.2)
    asked = person.said(Asked)[-1]
    assert "sign" in asked.say
    assert len(person.said(Captured)) == 9
    person.read(17.0)
    assert person.said(Captured)[-1].angle_deg == pytest.approx(20.0, abs=0.05)


def test_a_level_turned_end_for_end_is_taken_once_a_person_says_so() -> None:
    person = ready()
    person.read(-3.0)
    person.read(-17.0)
    question = person.said(Asked)[-1]
    person.press("confirm", id=question.id, sense="reversed")
    person.lay(-17.0, 5)
    taken = person.said(Captured)[-1]
    assert taken.sense == "reversed"
    assert taken.angle_deg == pytest.approx(20.0, abs=0.05)


def test_a_question_is_void_once_the_level_is_lifted() -> None:
    person = ready()
    person.read(-3.0)
    person.read(-17.0)
    question = person.said(Asked)[-1]
    person.carry()
    assert person.press("confirm", id=question.id).result == "refused"


def test_blade_two_before_blade_one() -> None:
    person = Person(header())
    person.press("done")
    person.read(-3.0)
    person.read(-3.0)
    person.press("name", blade=2)
    assert person.step() == ("set", 2)
    for _ in range(3):
        person.read(17.0)
    assert person.said(Held)[0].blade == 2
    assert person.step() == ("set", 1)
    answer = person.press("name", blade=2)
    assert (answer.result, "held" in answer.say) == ("refused", True)


def test_back_withdraws_and_the_step_comes_again() -> None:
    person = ready()
    person.read(-3.0)
    person.read(17.0)
    assert person.step() == ("check", 2)
    person.press("back")
    assert person.said(Withdrawn)[-1].id == 10
    assert person.step() == ("check", 1)


def test_a_reading_given_to_the_other_blade_keeps_both_entries() -> None:
    person = ready()
    person.read(-3.0)
    person.read(17.05)
    person.press("assign", id=10, blade=2)
    assert person.said(Assigned)[-1] == Assigned(10, 2, 1)
    assert person.step() == ("check", 1)
    person.read(17.0)
    assert [v.state for v in person.said(Verdict)] == ["steady"] * 3
    assert person.step()[0] == "finished"


def test_withdrawing_a_baseline_reading_lets_the_blade_go() -> None:
    person = ready()
    before = person.step()
    person.press("withdraw", id=4, reason="the level was on the spinner")
    assert before == ("check", "reference")
    assert person.step() == ("baseline", 1)
    person.read(17.0)
    assert person.step() == ("check", "reference")


def test_placements_that_disagree_are_not_averaged() -> None:
    person = Person(header(plan={"rounds": ["check"], "max_placements": 3}))
    person.press("done")
    person.read(-3.0)
    person.read(-0.8)
    assert "disagree" in person.said(Noted)[-1].say
    assert person.step() == ("reference", "reference")
    person.read(-3.0)
    assert person.said(Alarm)[-1].kind == "not known"
    person.press("withdraw", id=2, reason="on the bench")
    assert person.said(Cleared)[-1].how == "re-reading"
    assert person.step() == ("set", 1)


def wandering_blade() -> Person:
    person = Person(header(plan={"rounds": ["check"], "max_placements": 3}))
    person.press("done")
    person.read(-3.0)
    person.read(-3.0)
    for angle in (17.0, 16.2, 16.6, 17.0):
        person.read(angle)
    return person


@pytest.mark.parametrize("rounds", [["check", "final"], ["check", "torque"]])
def test_there_is_no_way_back_into_a_round_that_was_judged(rounds: list[str]) -> None:
    person = Person(header(plan={"rounds": rounds}))
    person.up_to_round()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.step()[0] in {"final", "tighten"}
    answer = person.press("back")
    assert answer.result == "refused"
    assert "the round before was judged" in answer.say
    assert "back" not in person.engine.view().offers


def test_while_a_blade_is_held_the_next_one_is_told() -> None:
    person = Person(header())
    person.press("done")
    told = []
    for angle in (-3.0, -3.0, 17.0, 17.0, 17.0, 17.05, 17.05, 17.05):
        if person.step()[0] in {"set", "baseline"}:
            told.append((*person.step(), person.engine.view().next_say))
        states = [row.state for row in person.engine.view().blades]
        assert ("provisional" in states) == (person.step()[0] == "baseline")
        person.read(angle)
    fresh = "hands off, lift, put back, press: 2 fresh placements"
    assert told == [
        *[("set", 1, fresh), ("baseline", 1, "once more"), ("baseline", 1, "blade 2")],
        *[
            ("set", 2, fresh),
            ("baseline", 2, "once more"),
            ("baseline", 2, "everything is read before tightening"),
        ],
    ]


def test_while_others_are_set_a_held_blade_is_placed_once_more_by_nobody() -> None:
    person = Person(header())
    person.press("done")
    for angle in (-3.0, -3.0, 17.0, 17.0, 17.0):
        person.read(angle)
    assert person.step() == ("set", 2)
    answer = person.press("again", blade=1)
    assert (answer.result, answer.say) == ("refused", "blade 1 is held")
    assert person.step() == ("set", 2)


def test_a_blade_whose_placements_never_agree_is_not_read_for_ever() -> None:
    person = wandering_blade()
    assert person.step()[0] == "answer"
    alarm = person.said(Alarm)[-1]
    assert (alarm.kind, alarm.blade) == ("not known", 1)
    person.press("acknowledge", id=alarm.id, then="set-again", by="Ada", reason="it crept")
    assert person.step() == ("set", 1)


def test_placements_that_disagree_may_be_accepted_and_widen_the_angle() -> None:
    person = wandering_blade()
    alarm = person.said(Alarm)[-1]
    person.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="it is a soft seat")
    held = person.said(Held)[-1]
    assert held.angle_deg == pytest.approx(19.6, abs=0.05)
    # either end may be the true one: 95 % are as wide, to either side, as they are apart
    assert held.u95_deg == pytest.approx(0.8, rel=0.05)


def test_one_more_placement_may_settle_a_disagreement() -> None:
    person = wandering_blade()
    person.press("again", blade=1)
    assert person.step() == ("baseline", 1)
    person.read(17.0)
    assert person.step()[0] == "answer"
    person.press("withdraw", id=4, reason="bumped")
    person.press("withdraw", id=5, reason="bumped")
    assert person.step() == ("set", 2)


def test_a_blade_is_called_only_after_a_second_look_at_it_and_at_the_reference() -> None:
    person = ready()
    asked = []
    for angle in (-3.0, 17.25, 17.05, 17.25, -3.0):
        asked.append(person.step()[1])
        assert not person.said(Alarm)
        person.read(angle)
    assert asked == ["reference", 1, 2, 1, "reference"]
    assert [a.blade for a in person.said(Alarm)] == [1]


def test_a_gross_change_wants_no_reference_once_another_was_found_as_it_was_since() -> None:
    person = ready()
    person.read(-3.0)
    for angle in (17.8, 17.05, 17.8):
        assert not person.said(Alarm)
        person.read(angle)
    assert [a.blade for a in person.said(Alarm)] == [1]
    other = ready()
    for angle in (-3.0, 17.0, 17.85, 17.85):
        other.read(angle)
    assert other.step() == ("check", "reference")
    assert not other.said(Alarm)


def test_a_shift_in_the_middle_of_a_round_voids_it_and_accuses_nobody() -> None:
    person = ready()
    person.read(-3.0)
    person.read(17.0)
    for angle in (16.45, 16.45, -3.6):
        person.read(angle)
    assert "read once more" in person.said(Noted)[-1].say
    person.round({"reference": -3.6, 1: 16.4, 2: 16.45})
    states = {v.blade: v.state for v in person.said(Verdict)}
    assert states == {"reference": "shifted", 1: "steady", 2: "steady"}


def test_someone_aboard_during_one_reading_accuses_nobody() -> None:
    person = ready()
    for angle in (-3.0, 16.6, 17.05, 17.0):
        person.read(angle)
    assert not person.said(Alarm)
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert [v.state for v in person.said(Verdict)] == ["steady"] * 3


def test_a_round_that_never_agrees_ends_with_a_person_looking() -> None:
    person = ready()
    places = itertools.cycle((17.9, 16.1, 18.4, 15.7, 17.0))
    for _ in range(40):
        stage, blade = person.step()
        if stage != "check":
            break
        person.read(next(places) if blade == 1 else {"reference": -3.0, 2: 17.05}[blade])
    assert person.step()[0] == "answer"
    assert person.said(Alarm)[-1].kind == "not known"
    assert person.said(Alarm)[-1].blade == 1


def moved() -> Person:
    person = ready()
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    return person


def test_a_moved_blade_is_called_and_waits_for_an_answer() -> None:
    person = moved()
    alarm = person.said(Alarm)[-1]
    assert (alarm.blade, alarm.kind) == (1, "moved")
    assert alarm.last_good_deg == pytest.approx(20.0, abs=0.03)
    assert "coarser" in alarm.say
    assert person.step()[0] == "answer"
    person.carry()
    person.lay(17.0, 200)
    assert person.step()[0] == "answer", "nothing dismisses itself"


def test_accepting_needs_a_name_and_a_reason() -> None:
    person = moved()
    assert person.press("acknowledge", id=1, then="accept").result == "refused"
    unnamed = person.press("acknowledge", then="accept", by="R. Fell", reason="within limits")
    assert (unnamed.result, unnamed.say) == ("refused", "there is no such open alarm")
    answer = person.press("acknowledge", id=1, then="accept", by="R. Fell", reason="within limits")
    assert answer.result == "done"
    assert person.said(Cleared)[-1] == Cleared(1, "accept", "R. Fell", "within limits")
    assert person.step()[0] == "finished"


def test_a_re_reading_clears_an_alarm() -> None:
    person = moved()
    for number in (10, 12):
        person.press("withdraw", id=number, reason="the strap was under the level")
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.said(Cleared)[-1].how == "re-reading"
    assert person.step()[0] == "finished"


def test_an_aircraft_that_shifted_is_blamed_and_no_blade() -> None:
    person = ready()
    person.round({"reference": -3.6, 1: 16.4, 2: 16.45})
    states = {v.blade: v.state for v in person.said(Verdict)}
    assert states == {"reference": "shifted", 1: "steady", 2: "steady"}
    assert person.said(Alarm)[-1].kind == "shifted"
    person.press("acknowledge", id=1, then="accept", by="R. Fell", reason="tyre pumped up")
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.05, abs=0.06)
    assert person.step()[0] == "finished"


def test_turned_by_tightening_goes_back_to_before_the_tightening() -> None:
    person = Person(header(plan={"rounds": ["check", "snug", "final"]}))
    person.up_to_round()
    for angle in (17.0, 17.05):
        person.read(angle)
    assert person.step()[0] == "tighten"
    person.press("done")
    person.round({"reference": -3.0, 1: 17.7, 2: 17.05})
    verdict = next(v for v in person.said(Verdict) if v.state == "turned")
    assert (verdict.blade, "snug" in verdict.say) == (1, True)
    person.press("acknowledge", id=1, then="set-again")
    assert person.step() == ("slacken", 1)
    assert "until blade 1 just turns" in person.said(StepChanged)[-1].say
    person.press("done")
    for _ in range(3):
        person.read(17.0)
    assert person.step()[0] == "tighten"


def test_out_of_tolerance_when_held_is_an_alarm() -> None:
    person = Person(header())
    person.press("done")
    person.read(-3.0)
    person.read(-3.0)
    for _ in range(3):
        person.read(18.0)
    alarm = person.said(Alarm)[-1]
    assert (alarm.kind, alarm.blade, person.step()[0]) == ("out", 1, "answer")


def test_an_abandoned_job_says_do_not_fly() -> None:
    person = ready()
    person.press("abandon", by="R. Fell", reason="hub cracked")
    summary = person.said(Summary)[-1]
    assert summary.state == "abandoned, do not fly"
    assert person.engine.finished


def test_two_levels_and_a_channel_that_is_no_serial_line_in_one_fold() -> None:
    """The second level sends counted structs on a channel of its own (as over the air)."""
    seats = {"seating": {"u_deg": 0.02, "n": 40}}
    second = {"name": "second", "profile": str(DATA / "odd-channel.toml"), "settings": seats}
    levels = [job().level[0].model_dump(), second]
    person = Person(header(level=levels))
    person.up_to_round()
    for angle in (-3.0, 17.0):
        person.read(angle)
    # blade 2 is read with the other level; the first lies in its box meanwhile
    person.carry()
    for count in range(40):
        wild = 6000 - 400 * count if count < 12 else 1705
        data = struct.pack("<Hh", count, wild + count % 2)
        person.t_ns += NS // 10
        person.put(Bytes("second", 7, data, person.t_ns))
        if count == 30:
            person.press()
    taken = person.said(Captured)[-1]
    assert (taken.level, taken.blade) == ("second", 2)
    assert taken.angle_deg == pytest.approx(20.05, abs=0.02)
    assert person.step()[0] == "finished"


def test_a_swapped_level_stops_the_job_until_someone_answers() -> None:
    person = ready()
    person.put(Link("chord", "down", "gone", t_ns=person.t_ns + 1))
    person.put(Link("chord", "up", "", "another", t_ns=person.t_ns + 1))
    alarm = person.said(Alarm)[-1]
    assert (alarm.kind, person.step()[0]) == ("level", "answer")
    person.read(-3.0)
    assert person.said(Captured)[-1].stage == "baseline"
    person.press("acknowledge", id=alarm.id, then="accept", by="R. Fell", reason="battery changed")
    assert person.step() == ("check", "reference")


def test_a_frozen_level_is_noticed_although_it_goes_on_talking() -> None:
    person = ready()
    for _ in range(300):
        person.send(17.0)
    assert person.said(Alarm)[-1].kind == "level"
    assert "stuck" in person.said(Alarm)[-1].say


def test_a_press_without_a_signal_says_so() -> None:
    person = Person(header())
    person.press("done")
    answer = person.press("take")
    assert (answer.result, "no signal" in answer.say) == ("refused", True)
    person.lay(-3.0, 20)
    person.t_ns += 3 * NS
    assert person.press("take").result == "refused"


def test_setting_an_alarmed_blade_again_answers_its_alarm() -> None:
    person = moved()
    assert person.press("again", blade=1, set=1).result == "done"
    assert person.said(Cleared)[-1].how == "set-again"
    assert person.step() == ("set", 1)


def test_a_creep_after_a_reading_is_said_once_and_takes_nothing_back() -> None:
    person = ready()
    person.read(-3.0)
    for step in range(40):
        person.send(-3.0 - 0.005 * step, 0.02)  # 0.05 degrees a second
    said = [n.say for n in person.said(Noted) if "creeps under" in n.say]
    assert len(said) == 1
    assert "reading 9" in said[0]
    assert not person.said(Withdrawn)


def test_a_level_that_lies_on_or_is_lifted_does_not_creep() -> None:
    person = ready()
    for angle in (-3.0, 17.0, 17.05):
        person.read(angle)
        person.lay(angle, 60)
    assert not [n for n in person.said(Noted) if "creeps under" in n.say]


@pytest.mark.parametrize("kind", ["withdraw", "assign"])
def test_a_reading_that_does_not_count_can_be_neither_withdrawn_nor_assigned(kind: str) -> None:
    person = ready()
    assert person.press("withdraw", id=8, reason="slipped").result == "done"
    for number in (8, 99):
        answer = person.press(kind, id=number, blade=1)
        assert answer.result == "refused"
        assert f"no reading {number}" in answer.say
