"""What is in force follows from the record: withdraw what it rests on, and it falls back."""

import pytest

from daemon.workflow.carry import carried
from shared.events import Alarm, BladeId, Captured, Held, Summary, Verdict
from tests.daemon.bench import Person, header


def accepted() -> Person:
    """Blade 1, held at 20.0, is read at 20.9 in the check, called moved, and accepted so."""
    person = Person(header(plan={"rounds": ["check", "final"]}))
    person.up_to_round(angles=(20.0, 20.0))
    person.round({"reference": -3.0, 1: 17.9, 2: 17.0})
    [alarm] = person.said(Alarm)
    answer = person.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="as found")
    assert answer.result == "done"
    return person


def withdraw_the_check_of(person: Person, blade: BladeId) -> None:
    for one in [c for c in person.said(Captured) if c.stage == "check" and c.blade == blade]:
        assert person.press("withdraw", id=one.id, reason="not sure").result == "done"


def test_a_change_that_was_accepted_is_the_baseline() -> None:
    person = accepted()
    person.round({"reference": -3.0, 1: 17.9, 2: 17.0})
    last = [v for v in person.said(Verdict) if v.blade == 1][-1]
    assert (last.stage, last.state) == ("final", "steady")
    assert last.change_deg == pytest.approx(0.0, abs=0.05)


def test_without_the_readings_behind_it_an_acceptance_holds_no_more() -> None:
    """The baseline in force and the summary are one: both go back to what was set."""
    person = accepted()
    withdraw_the_check_of(person, 1)
    assert person.said(Held)[-1].blade == 1
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.0, abs=0.05)
    person.round({"reference": -3.0, 1: 17.9, 2: 17.0})
    last = [v for v in person.said(Verdict) if v.blade == 1][-1]
    assert last.state == "moved"
    assert last.change_deg == pytest.approx(0.9, abs=0.05)


def test_the_summary_says_what_is_in_force() -> None:
    person = accepted()
    withdraw_the_check_of(person, 1)
    person.end()
    [summary] = person.said(Summary)
    held = person.said(Held)[-1]
    assert held.blade == 1
    assert summary.blades[0]["angle_deg"] == held.angle_deg == pytest.approx(20.0, abs=0.05)


def test_without_the_readings_behind_it_a_shift_that_was_accepted_holds_no_more() -> None:
    """The tilt goes back to what was read first, and every blade to what it was set to under it."""
    person = Person(header(plan={"rounds": ["check", "final"]}))
    person.up_to_round(angles=(20.0, 20.0))
    person.round({"reference": -2.4, 1: 17.6, 2: 17.6})  # 0.6 nose-down, and no blade turned
    (alarm,) = person.said(Alarm)
    assert alarm.kind == "shifted"
    person.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="a soft tyre")
    before = len(person.said(Held))
    withdraw_the_check_of(person, "reference")
    held = {held.blade: held.angle_deg for held in person.said(Held)[before:]}
    assert held == {1: pytest.approx(20.0, abs=0.02), 2: pytest.approx(20.0, abs=0.02)}
    now = {row.blade: row.angle_deg for row in person.engine.view().blades}
    assert now["reference"] == pytest.approx(3.0, abs=0.05)
    assert now[1] == pytest.approx(20.6, abs=0.05), "17.6 as it is read under the tilt of before"


def test_without_a_false_reading_of_the_reference_every_blade_is_worked_out_anew() -> None:
    """A washer lay under the level once: blade 1 was set with the mean, and is not where it read."""
    person = Person(header(target={"angle_deg": 20.0, "tolerance_deg": 0.5, "spread_deg": 0.5}))
    person.press("done")
    for angle in (-3.0, -3.16, 17.0, 17.0, 17.0):
        person.read(angle)
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.08, abs=0.02)
    person.press("withdraw", id=2, reason="on a washer")
    person.read(-3.0)
    assert person.step() == ("set", 2)
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.0, abs=0.02)
    now = {row.blade: row.angle_deg for row in person.engine.view().blades}
    assert now[1] == pytest.approx(20.0, abs=0.02)


def test_one_reversed_placement_gives_one_tilt_and_loses_the_zero() -> None:
    """Three placements normal and one end for end, of a level that shows 0.06 too much.

    However many there are in each sense, the mean over both senses is the tilt: normal reads
    theta - 0.06, reversed theta + 0.06 (reversal, as any level is checked).
    """
    zero = 0.06
    person = Person(header(plan={"rounds": ["check"], "reference_placements": 4}))
    person.press("done")
    for _ in range(4):
        person.read(-3.0 + zero)
    person.press("withdraw", id=4, reason="turned round")
    person.carry()
    person.lay(3.0 + zero, 14)
    person.press()
    person.lay(3.0 + zero, 14)
    question = person.engine.view().question
    assert question is not None
    person.press("confirm", id=question.id, sense="reversed")
    person.lay(3.0 + zero, 14)
    [reference, *_] = person.engine.view().blades
    assert reference.angle_deg == pytest.approx(3.0, abs=0.012)
    person.read(3.0 - 20.0 + zero)  # reversed on the blade: -(20 - 3) + zero
    blade = person.engine.view().blades[1]
    assert blade.angle_deg == pytest.approx(20.0 - zero, abs=0.02)


def test_a_session_that_continues_starts_from_what_was_accepted() -> None:
    found = carried(accepted().events, "hub-face")["blades"]
    assert found["1"]["angle_deg"] == pytest.approx(20.9, abs=0.05)
    assert found["2"]["angle_deg"] == pytest.approx(20.0, abs=0.05)
