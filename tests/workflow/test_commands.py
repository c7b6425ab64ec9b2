"""What people ask for: what it changes, and what is refused whatever is asked."""

from typing import Any

import pytest

from shared.events import Alarm, Assigned, Captured, Held, Withdrawn
from tests.daemon.bench import Person, header
from tests.workflow.jobs import ONE_EACH


def found_first(blades: int = 2) -> Person:
    """A person who reads everything as it was found, after the reference."""
    person = Person(header(plan=ONE_EACH))
    assert person.press("found").result == "done"
    person.press("done")
    person.read(-3.0)
    assert person.step() == ("found", 1)
    return person


def in_the_round() -> Person:
    person = Person(header(plan=ONE_EACH))
    person.up_to_round()
    assert person.step() == ("check", "reference")
    return person


def test_as_found_blades_are_named_in_any_order_each_once() -> None:
    person = found_first()
    assert person.press("name", blade=2).result == "done"
    person.read(17.05)
    assert [one.blade for one in person.said(Captured)] == ["reference", 2]
    refused = person.press("name", blade=2)
    assert (refused.result, "was read as it was found" in refused.say) == ("refused", True)
    assert person.press("name", blade=0).result == "refused"
    refused = person.press("again", blade=2)
    assert (refused.result, "read once" in refused.say) == ("refused", True)
    assert person.step() == ("found", 1)


def test_in_a_round_a_blade_that_was_read_may_be_named_once_more() -> None:
    person = in_the_round()
    person.read(-3.0)
    person.read(17.0)
    assert person.press("name", blade=1).result == "done"
    assert person.step() == ("check", 1)
    assert person.press("name", blade=0).result == "done"
    assert person.step() == ("check", "reference")


def first_blade_set(**plan: Any) -> Person:
    """A person who has set blade 1 of two, and holds it."""
    person = Person(header(plan={**ONE_EACH, **plan}))
    person.press("done")
    person.read(-3.0)
    for _ in range(1 + person.header.job.plan.baseline_placements):
        person.read(17.0)
    assert person.step() == ("set", 2)
    return person


def test_while_blades_are_set_a_loose_one_is_named_and_neither_a_held_one_nor_the_reference() -> (
    None
):
    person = first_blade_set()
    for blade in (1, 0):
        refused = person.press("name", blade=blade)
        assert (refused.result, "'set' sets it again" in refused.say) == ("refused", True)
        refused = person.press("again", blade=blade)
        assert (refused.result, refused.say.endswith("is held")) == ("refused", True)
    assert person.step() == ("set", 2)
    assert person.press("name", blade=2).result == "done"


def test_one_more_placement_is_one_more_than_is_wanted_or_there() -> None:
    person = first_blade_set(baseline_placements=2)
    person.read(17.05)
    view = person.engine.view()
    assert (view.stage, view.blade, view.placement, view.placements) == ("baseline", 2, 1, 2)
    for wanted in (3, 4):
        assert person.press("again", blade=2).result == "done"
        assert person.engine.view().placements == wanted
    for _ in range(4):
        assert person.step() == ("baseline", 2)
        person.read(17.05)
    assert person.step() == ("check", "reference")


def test_in_a_round_one_more_placement_is_one_more_than_were_made() -> None:
    person = in_the_round()
    person.read(-3.0)
    person.read(17.0)
    person.press("again", blade=1)
    person.read(17.0)
    assert person.step() == ("check", 2)


def test_a_reading_that_was_of_another_blade_counts_for_its_setting_now() -> None:
    """Blade 2 was read under the name of blade 1, which then has its placement of setting too much."""
    person = first_blade_set()
    assert person.press("set", blade=1).result == "done"
    person.press("name", blade=2)
    person.read(17.0)
    (last,) = [one for one in person.said(Captured) if one.blade == 2]
    assert person.press("assign", id=last.id, blade=1).result == "done"
    assert person.step() == ("baseline", 1)
    person.read(17.0)
    assert [one.blade for one in person.said(Held)] == [1, 1]
    assert person.step() == ("set", 2)


def test_a_blade_is_held_by_a_reading_that_it_is_given() -> None:
    person = first_blade_set(baseline_placements=2)
    person.read(17.05)
    person.read(17.05)
    spare = next(one for one in person.said(Captured) if one.stage == "baseline")
    assert spare.blade == 1
    assert person.press("assign", id=spare.id, blade=2).result == "done"
    assert [one.blade for one in person.said(Held)] == [1, 2]
    assert person.step() == ("baseline", 1)


@pytest.mark.parametrize("placements", [1, 2])
def test_what_laying_it_on_again_changed_is_the_fresh_placements_less_the_setting(
    placements: int,
) -> None:
    """Of one fresh placement too, though a blade is then held by its setting as well."""
    person = Person(header(plan={**ONE_EACH, "baseline_placements": placements}))
    person.press("done")
    person.read(-3.0)
    for angle in (17.0, *[17.06] * placements):
        person.read(angle)
    # half of it, were what it is held to taken for the fresh placements
    assert person.said(Held)[0].lift_effect_deg == pytest.approx(0.06, abs=0.025)


def test_what_laying_it_on_again_changed_is_not_said_where_its_setting_does_not_count() -> None:
    """The effect of a lift is the fresh placements less the setting: without that there is none."""
    person = first_blade_set(baseline_placements=2)
    ids = {one.stage: one.id for one in person.said(Captured)}
    (held,) = person.said(Held)
    assert held.lift_effect_deg != 0.0
    assert person.press("withdraw", id=ids["set"]).result == "done"
    person.read(17.05)
    person.read(17.05)
    assert person.press("assign", id=len(person.said(Captured)), blade=1).result == "done"
    assert [one.blade for one in person.said(Held)] == [1, 1]
    assert person.said(Held)[-1].lift_effect_deg == 0.0


def moved() -> Person:
    """A person whose blade 2 was knocked: its alarm waits."""
    person = in_the_round()
    person.round({"reference": -3.0, 1: 17.0, 2: 18.0})
    assert person.step()[0] == "answer"
    assert [one.blade for one in person.said(Alarm)] == [2]
    return person


@pytest.mark.parametrize("asked", ["again", "name"])
def test_one_more_placement_opens_a_round_that_was_judged(asked: Any) -> None:
    person = moved()
    assert person.press(asked, blade=2).result == "done"
    assert person.step() == ("check", 2)


def test_a_blade_whose_reading_is_given_to_another_is_held_no_more() -> None:
    """Blade 1 has one placement to be held by: without it its fresh placement comes up again."""
    person = in_the_round()
    own = next(one for one in person.said(Captured) if (one.blade, one.stage) == (1, "baseline"))
    assert person.press("assign", id=own.id, blade=2).result == "done"
    assert person.said(Assigned) == [Assigned(own.id, 2, 1)]
    assert person.step() == ("baseline", 1)
    person.read(17.0)
    assert [one.blade for one in person.said(Held)][-1] == 1
    assert person.step()[0] == "check"


def test_a_reading_of_the_reference_becomes_none_of_a_blade_nor_back() -> None:
    person = in_the_round()
    ids = {one.blade: one.id for one in person.said(Captured)}
    for number, blade in ((ids["reference"], 1), (ids[1], 0)):
        assert person.press("assign", id=number, blade=blade).result == "refused"
    assert person.said(Assigned) == []


def test_one_step_back_after_the_hands_takes_back_what_they_did_and_no_reading() -> None:
    person = Person(header(plan={**ONE_EACH, "rounds": ["check", "snug"]}))
    person.up_to_round()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.step() == ("tighten", None)
    refused = person.press("back")
    assert (refused.result, "was judged" in refused.say) == ("refused", True)
    person.press("done")
    assert person.step() == ("snug", "reference")
    assert person.press("back").say == "one step back"
    assert person.step() == ("tighten", None)
    assert person.said(Withdrawn) == []


def test_one_step_back_before_anything_was_read_asks_again_whether_it_is_safe() -> None:
    person = Person(header(plan=ONE_EACH))
    assert person.press("back").result == "refused"
    person.press("done")
    assert person.step() == ("reference", "reference")
    assert person.press("back").result == "done"
    assert person.step() == ("prepare", None)


@pytest.mark.parametrize("kind", ["accept", "end", "abandon"])
@pytest.mark.parametrize(("by", "reason"), [("", "why"), ("Ada", ""), (" ", "why"), ("Ada", " ")])
def test_what_somebody_answers_for_wants_a_name_and_a_reason(
    kind: Any, by: str, reason: str
) -> None:
    person = moved()
    alarm = person.said(Alarm)[0].id
    words = {"id": alarm, "then": "accept"} if kind == "accept" else {}
    asked = "acknowledge" if kind == "accept" else kind
    answer = person.press(asked, by=by, reason=reason, **words)
    assert (answer.result, "needs a name" in answer.say) == ("refused", True)
    assert person.press(asked, by="Ada", reason="why", **words).result == "done"


def test_a_blade_that_was_accepted_out_of_tolerance_is_not_called_again_with_the_set() -> None:
    person = Person(header(plan={**ONE_EACH, "rounds": ["check", "final"]}))
    person.up_to_round((20.0, 20.0))
    assert person.press("set", blade=2).result == "done"
    person.read(17.5)
    person.read(17.5)
    (alarm,) = person.said(Alarm)
    assert (alarm.blade, alarm.kind) == (2, "out")
    person.press("acknowledge", id=alarm.id, then="accept", by="Ada", reason="as the manual says")
    for _ in range(2):
        person.round({"reference": -3.0, 1: 17.0, 2: 17.5})
    assert person.step()[0] == "finished"
    assert person.said(Alarm) == [alarm]


@pytest.mark.parametrize(("most", "step"), [(1, ("set", 2)), (2, ("baseline", 1))])
def test_one_fresh_placement_elsewhere_wants_another_where_the_plan_allows_two(
    most: int, step: tuple[str, int]
) -> None:
    person = Person(header(plan={**ONE_EACH, "max_placements": most}))
    person.press("done")
    for angle in (-3.0, 17.0, 17.2):
        person.read(angle)
    assert person.step() == step
