"""A hand on the blade, an azimuth worse than stated: what disagrees in several blades is in all."""

from typing import Any

import pytest

from daemon.measure.moved.diagnose import diagnose
from daemon.measure.moved.model import Diagnosis
from daemon.workflow import judging
from daemon.workflow.ledger import Entry
from shared.events import REFERENCE, Alarm, Captured, Noted, Verdict
from shared.sentences import sentence
from tests.daemon.bench import Person, header

HAND_DEG = 0.2


def scatter(person: Person) -> list[float]:
    """Return the line of every reading of a blade."""
    lines = [
        sum(line.u_deg for line in entry.angle.budget.lines if line.name == "scatter")
        for entry in entries(person)
        if entry.blade != REFERENCE
    ]
    assert len(set(lines)) == 1
    return lines


def entries(person: Person) -> list[Entry]:
    return person.engine._case.ledger.entries


def setting(*blades: tuple[float, ...]) -> Person:
    """Set blades; given is what each of the placements shows, to the end of its baselines."""
    propeller = {"rotation": "clockwise", "layout": "tractor", "station": "75 % radius"}
    target = {"angle_deg": 20.0, "tolerance_deg": 1.0, "spread_deg": 1.0}
    person = Person(header(propeller={"blades": len(blades), **propeller}, target=target))
    person.press("done")
    for _ in range(2):
        person.read(-3.0)
    for angles in blades:
        for angle in angles:
            person.read(angle - 3.0)
    return person


def test_one_blade_that_disagrees_with_itself_says_nothing_of_the_others() -> None:
    person = setting((20.0, 20.0, 20.0 + HAND_DEG, 20.0), (20.0, 20.0, 20.0))
    assert scatter(person)[0] == 0.0


def test_two_blades_that_do_widen_every_reading_by_the_second() -> None:
    person = setting((20.0, 20.0, 20.0 + HAND_DEG), (20.0, 20.0, 20.0 + HAND_DEG))
    (found,) = set(scatter(person))
    assert found == pytest.approx(HAND_DEG / 2.0, abs=0.02)
    last = entries(person)[-1]
    assert last.angle.budget.u95_deg > HAND_DEG


def test_what_was_withdrawn_widens_nothing() -> None:
    person = setting((20.0, 20.0, 20.0 + HAND_DEG), (20.0, 20.0, 20.0 + HAND_DEG))
    assert scatter(person)[0] > 0.0
    for one in [one.id for one in person.said(Captured) if one.angle_deg > 20.0 + HAND_DEG / 2.0]:
        assert person.press("withdraw", id=one, reason="a hand was on it").result == "done"
    assert scatter(person)[0] == 0.0


def test_an_innocent_is_not_accused_of_what_a_hand_did() -> None:
    """Its baseline was read with the hand on it, the round without."""
    unlike = (20.0, 20.0, 20.0 + HAND_DEG)
    person = setting(unlike, unlike, (20.0, 20.0 + HAND_DEG, 20.0 + HAND_DEG))
    person.round({REFERENCE: -3.0, 1: 17.0 + HAND_DEG / 2, 2: 17.0 + HAND_DEG / 2, 3: 17.0})
    assert person.said(Verdict)
    assert not [alarm for alarm in person.said(Alarm) if alarm.kind == "moved"]


def test_a_knock_is_still_called_after_as_many_looks_as_the_plan_allows() -> None:
    person = setting((20.0, 20.0, 20.15), (20.0, 20.0, 20.0))
    person.round({REFERENCE: -3.0, 1: 17.075, 2: 18.5})
    called = next(alarm for alarm in person.said(Alarm) if alarm.kind == "moved")
    assert called.blade == 2
    looks = [one for one in entries(person) if one.blade == 2 and one.stage == "check"]
    assert {one.passed for one in looks} == {1}
    assert len(looks) == person.header.job.plan.max_placements


def test_placements_of_the_reference_give_no_blade_another_chance(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each blade gave the reference one more, and that the blades: the round went on for ever."""
    asked: list[int] = []

    def spied(*args: Any, **kwargs: Any) -> Diagnosis:
        asked.append(kwargs["max_placements"])
        return diagnose(*args, **kwargs)

    monkeypatch.setattr(judging, "diagnose", spied)
    person = Person(header())
    person.up_to_round()
    person.engine._case.members.reference.read_again(6)
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.05})
    assert sum(e.blade == REFERENCE and e.stage == "check" for e in entries(person)) == 6
    assert asked
    assert max(asked) == person.header.job.plan.max_placements


def test_a_reading_that_was_taken_early_is_not_said_to_have_lasted() -> None:
    """A press takes an average of 16 samples after the blade was turned under the level."""
    early = Captured(
        id=1,
        blade=1,
        stage="set",
        angle_deg=20.0,
        u95_deg=0.1,
        samples=16,
        level="chord",
        reading_deg=17.0,
        error_deg=0.0,
        tolerance="in",
        sense="normal",
        placement=1,
        by="press",
        reached=False,
    )
    assert "before its average was good enough" in sentence(early)
    assert "longest" not in sentence(early)


# --- an azimuth worse than was stated -----------------------------------------------------------

INCLINED = {
    "blades": 3,
    "rotation": "clockwise",
    "layout": "tractor",
    "station": "75 % radius",
    "face_deg": 3.0,
}
"""On a face inclined by 3 degrees a degree of azimuth is in the angle with 0.05."""
HALF = {"angle_deg": 20.0, "tolerance_deg": 0.5, "spread_deg": 0.5}
EACH_ITS_OWN = {REFERENCE: -3.0, 1: 17.36, 2: 16.72, 3: 17.1}


def round_of_three(angles: dict[Any, float], **propeller: Any) -> Person:
    person = Person(header(propeller=INCLINED | propeller, target=HALF))
    person.up_to_round(angles=(20.0, 20.0, 20.0))
    person.round(angles)
    return person


def called(person: Person) -> set[Any]:
    return {alarm.blade for alarm in person.said(Alarm) if alarm.kind in {"moved", "turned"}}


def test_blades_that_each_changed_by_their_own_were_not_brought_to_horizontal_alike() -> None:
    person = round_of_three(EACH_ITS_OWN)
    assert called(person) == set()
    [told] = [note.say for note in person.said(Noted) if "psi_u_deg" in note.say]
    assert "Within 1.0 is stated" in told
    assert "held for 5.0" in told
    for entry in entries(person):
        lines = {line.name: line.u_deg for line in entry.angle.budget.lines}
        if entry.blade == REFERENCE:
            assert "psi" not in lines
        else:
            assert lines["psi"] == pytest.approx(5.0 * 0.0524, rel=0.05), "tan 3 degrees of five"


def test_what_is_read_after_that_is_as_unsure() -> None:
    person = round_of_three(EACH_ITS_OWN)
    while person.step()[0] == "answer":
        alarm = person.engine.view().alarms[0]
        person.press("acknowledge", id=alarm.id, then="set-again")
    person.read(17.0)
    lines = {line.name: line.u_deg for line in entries(person)[-1].angle.budget.lines}
    assert lines["psi"] > 0.2


def test_blades_at_one_azimuth_whatever_it_is_are_called_each() -> None:
    """On a face that is not inclined the azimuth is in no planar angle."""
    person = round_of_three(EACH_ITS_OWN, face_deg=0.0)
    assert called(person) == {1, 2, 3}


def test_one_plain_knock_is_no_careless_azimuth() -> None:
    person = round_of_three({REFERENCE: -3.0, 1: 17.0, 2: 18.2, 3: 17.0})
    assert called(person) == {2}
    assert not [note for note in person.said(Noted) if "psi_u_deg" in note.say]


def test_what_one_round_shows_of_the_azimuth_the_next_one_knows() -> None:
    """Two blades that tightening may have turned, after one that had changed before it or not."""

    def careless(before: float) -> float:
        plan = {"rounds": ["check", "snug"]}
        person = Person(header(propeller=INCLINED, target=HALF, plan=plan))
        person.up_to_round(angles=(20.0, 20.0, 20.0))
        person.round({REFERENCE: -3.0, 1: before, 2: 17.0, 3: 17.0})
        while person.step()[0] == "answer":
            alarm = person.engine.view().alarms[0]
            person.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="as it is")
        person.press("done")
        person.round({REFERENCE: -3.0, 1: before, 2: 17.4, 3: 16.65})
        return float(person.engine._case.referred.careless)

    assert careless(17.3) > careless(17.0) + 0.05 > 0.2


def test_a_press_before_a_level_lies_says_for_how_long_it_counts() -> None:
    person = Person(header())
    person.press("done")
    person.carry()
    assert person.press().say == "pressed: it counts for a level laid down within 5 s"
    person.lay(-3.0, 40)
    assert len(person.said(Captured)) == 1
    person.carry()
    person.lay(-3.0, 14)
    assert person.press().say == "pressed"
