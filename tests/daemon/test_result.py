"""What the job came to, by tolerance and spread, whatever moved and whatever was accepted."""

from typing import Any

import pytest

from daemon.cli.lines import exit_code, summary_of
from daemon.workflow import judging
from shared.events import Alarm, Judged, Noted, Summary, Unknown, Verdict
from shared.messages import body_from_dict, body_to_dict
from shared.sentences import sentence
from tests.daemon.bench import LEVEL, Person, header
from tests.daemon.test_watching import WATCH, Watcher

TORQUE: dict[str, Any] = {"rounds": ["torque"]}


def target(tolerance_deg: float = 0.3, spread_deg: float = 0.3) -> dict[str, float]:
    return {"angle_deg": 20.0, "tolerance_deg": tolerance_deg, "spread_deg": spread_deg}


def closed(person: Person, first: float = 17.0, second: float = 17.05) -> Summary:
    """Read the round with these readings, accept what is called, close; the summary."""
    if person.step()[0] == "tighten":
        person.press("done")
    person.round({"reference": -3.0, 1: first, 2: second})
    for alarm in person.said(Alarm):
        person.press("acknowledge", id=alarm.id, then="accept", by="R. Fell", reason="seen")
    assert person.step()[0] == "finished"
    person.press("done")
    summary = summary_of(person.events)
    assert summary is not None
    return summary


def ready(**changes: Any) -> Person:
    person = Person(header(**changes))
    person.up_to_round()
    return person


def test_a_set_in_tolerance_and_in_spread_is_within() -> None:
    summary = closed(ready())
    assert (summary.result, summary.spread, summary.state) == ("within", "in", "finished")
    assert [row["tolerance"] for row in summary.blades] == ["in", "in"]
    assert summary.spread_deg == pytest.approx(0.05, abs=0.03)
    assert summary.spread_u95_deg is not None
    assert sentence(summary).startswith("within: spread 0.0")
    assert exit_code(summary) == 0


def test_a_blade_out_after_torque_closes_out_though_it_was_accepted() -> None:
    summary = closed(ready(plan=TORQUE, target=target(spread_deg=3.0)), first=17.8)
    assert summary.result == "out"
    red, white = summary.blades
    assert (red["tolerance"], white["tolerance"], summary.spread) == ("out", "in", "in")
    assert red["state"] == "accepted"
    assert red["accepted"] == [{"kind": "out", "by": "R. Fell", "reason": "seen"}]
    assert white["accepted"] == []
    assert sentence(summary).startswith("OUT: blade 1 out: 0.8")
    assert exit_code(summary) == 1


def test_blades_that_are_each_in_close_out_where_their_spread_is() -> None:
    summary = closed(ready(target=target(2.0, 0.3)), first=17.8)
    assert [row["tolerance"] for row in summary.blades] == ["in", "in"]
    assert (summary.spread, summary.result) == ("out", "out")
    assert "of 0.30" in summary.say


def test_a_guard_band_that_leaves_it_open_is_too_close_to_say() -> None:
    summary = closed(ready(target=target(spread_deg=0.06)))
    assert (summary.spread, summary.result) == ("too close to say", "too close to say")
    assert exit_code(summary) == 1


def test_every_round_is_judged_by_tolerance_and_spread() -> None:
    person = ready(plan={"rounds": ["check", "torque"]}, target=target(2.0, 0.3))
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    closed(person, first=17.8)
    check, torque = person.said(Judged)
    assert (check.stage, check.together, torque.stage) == ("check", "in", "torque")
    assert [row["tolerance"] for row in torque.blades] == ["in", "in"]
    assert (torque.spread, torque.together) == ("out", "out")
    assert torque.blades[0]["error_deg"] == pytest.approx(0.8, abs=0.05)
    assert torque.say == "after torque: the spread out"
    assert check.say == "before tightening: every blade in tolerance, and the spread in"


def test_what_a_round_says_keeps_by_how_much_from_who_reads_the_next() -> None:
    person = ready(target=target(0.3, 3.0))
    closed(person, first=17.8)
    (judged,) = person.said(Judged)
    assert judged.say == "before tightening: blade 1 out"


def test_nothing_is_judged_while_a_placement_is_still_asked_for() -> None:
    person = ready()
    for angle in (-3.0, 17.8, 17.05):
        person.read(angle)
    assert person.step()[0] == "check"
    assert person.said(Judged) == []


def test_an_unanswered_alarm_leaves_it_open_and_that_is_worse_than_out() -> None:
    person = ready()
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    person.end()
    (summary,) = person.said(Summary)
    assert (summary.result, summary.blades[0]["tolerance"]) == ("open", "out")
    assert "blade 1: the alarm 'moved' is unanswered" in summary.say
    assert exit_code(summary) == 1


def test_a_blade_not_read_since_the_bolts_were_tightened_leaves_it_open() -> None:
    person = ready(plan=TORQUE)
    person.press("done")
    person.end()
    (summary,) = person.said(Summary)
    assert summary.result == "open"
    assert "blade 2 was not read since the bolts were tightened" in summary.say


def test_a_job_ended_before_its_plan_was_done_is_open_though_all_is_in() -> None:
    person = ready(plan={"rounds": ["check", "torque"]})
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.end()
    (summary,) = person.said(Summary)
    assert (summary.state, summary.result) == ("ended early", "open")
    assert [row["tolerance"] for row in summary.blades] == ["in", "in"]
    assert "the plan was not done" in summary.say


def test_who_ends_early_is_named_and_what_is_missing_is_said() -> None:
    person = ready(plan={"rounds": ["check", "torque"]})
    assert person.press("end").result == "refused"
    assert person.press("end", by="R. Fell", reason="dusk").result == "done"
    (summary,) = person.said(Summary)
    assert (summary.state, summary.result) == ("ended early", "open")
    assert "it stood at 'check'" in summary.say
    assert any("ended early by R. Fell: dusk" in note.say for note in person.said(Noted))
    assert exit_code(summary) == 1


def test_a_question_that_nobody_answered_is_told_with_the_result() -> None:
    person = Person(header())
    person.press("done")
    for angle in (-3.0, -3.0, -17.0):  # the wrong sign
        person.read(angle)
    question = person.engine.view().question
    assert question is not None
    person.press("end", by="R. Fell", reason="dusk")
    (summary,) = person.said(Summary)
    assert f"a question is unanswered: {question.say}" in summary.say


def test_what_is_done_to_its_end_is_closed_and_not_ended_early() -> None:
    person = ready()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.step()[0] == "finished"
    answer = person.press("end", by="R. Fell", reason="dusk")
    assert answer.result == "refused"
    assert "'done' closes the record" in answer.say


def test_an_abandoned_job_is_abandoned_whatever_was_read() -> None:
    person = ready()
    person.press("abandon", by="R. Fell", reason="hub cracked")
    (summary,) = person.said(Summary)
    assert summary.result == "abandoned"
    assert exit_code(summary) == 1


def test_a_blade_that_its_watch_saw_change_is_open_until_it_is_read() -> None:
    """Accepting the alarm reads nothing: where the blade stands now is not known."""
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.left(17.0, 120)
    person.left(17.6, 120)
    (alarm,) = person.said(Alarm)
    person.press("acknowledge", id=alarm.id, then="accept", by="R. Fell", reason="seen")
    person.press("done")
    (summary,) = person.said(Summary)
    assert summary.result == "open"
    assert "blade 1 was not read since it may have moved" in summary.say


def test_a_blade_read_since_its_watch_saw_it_change_is_judged_by_that() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.left(17.0, 120)
    person.left(17.6, 120)
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.engine.view().result == "within"


def test_only_watching_judges_nothing_but_an_unanswered_alarm_is_open() -> None:
    head = header(level=[WATCH]).model_copy(update={"procedure": "watch"})
    for moved, result in ((False, None), (True, "open")):
        person = Watcher(head, level="left")
        person.left(17.0, 150)
        if moved:
            person.left(16.2, 150)
        person.press("done")
        (summary,) = person.said(Summary)
        assert summary.result == result


def test_setting_a_blade_again_forgets_what_was_accepted_of_it() -> None:
    person = ready(plan={"rounds": ["check", "final"]})
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    (alarm,) = person.said(Alarm)
    person.press("acknowledge", id=alarm.id, then="accept", by="R. Fell", reason="seen")
    person.press("set", blade=1)
    for _ in range(3):
        person.read(17.0)
    summary = closed(person)
    assert (summary.result, summary.blades[0]["accepted"]) == ("within", [])


def test_the_view_tells_the_result_once_nothing_is_left_to_do() -> None:
    person = ready()
    assert (person.engine.view().result, person.engine.view().spread) == (None, "in")
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.engine.view().result == "within"


def test_a_session_of_an_older_version_still_reads() -> None:
    data = body_to_dict(closed(ready()))
    for key in ("result", "spread", "spread_u95_deg", "say"):
        del data[key]
    old = body_from_dict({**data, "event": "summary"})
    assert isinstance(old, Summary)
    assert (old.result, exit_code(old)) == (None, 0)
    assert "nothing was judged" in sentence(old)
    assert exit_code(None) == 0
    assert isinstance(body_from_dict({"event": "of a later version"}), Unknown)


# --- alarm by result -----------------------------------------------------------------------

BOLTS: dict[str, Any] = {"rounds": ["check", "snug", "torque", "final"]}


def checked(**changes: Any) -> Person:
    """A person whose blades are set and read before tightening, and whose bolts are snug."""
    person = ready(**{"plan": BOLTS, **changes})
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.press("done")
    return person


def test_what_tightening_turned_within_tolerance_and_spread_needs_no_answer() -> None:
    person = checked()
    person.round({"reference": -3.0, 1: 17.2, 2: 17.05})
    verdict = next(one for one in person.said(Verdict) if one.state == "turned")
    assert (verdict.blade, verdict.stage) == (1, "snug")
    assert person.said(Alarm) == []
    assert person.step()[0] == "tighten"
    rows = {row.blade: row for row in person.engine.view().blades}
    assert (rows[1].state, rows[1].tolerance) == ("turned", "in")
    for _ in ("torque", "final"):  # from here on it is held to where it stands
        if person.step()[0] == "tighten":
            person.press("done")
        person.round({"reference": -3.0, 1: 17.2, 2: 17.05})
    assert person.said(Alarm) == []
    assert [v.state for v in person.said(Verdict) if v.blade == 1][-2:] == ["steady", "steady"]
    person.press("done")
    assert person.said(Summary)[-1].result == "within"


def test_the_cause_is_the_bolts_only_where_a_round_before_them_excludes_a_hand() -> None:
    person = checked()
    person.round({"reference": -3.0, 1: 17.2, 2: 17.05})
    (said,) = [one.say for one in person.said(Verdict) if one.state == "turned"]
    assert "turned by tightening (snug): " in said
    other = ready(plan={"rounds": ["snug"]})
    other.press("done")
    other.round({"reference": -3.0, 1: 17.2, 2: 17.05})
    (said,) = [one.say for one in other.said(Verdict) if one.state == "turned"]
    assert "turned by tightening (snug, or touched before it): " in said


@pytest.mark.parametrize(("measured", "probability"), [(True, 0.9), (False, 0.99)])
def test_on_an_assumption_of_how_a_level_seats_a_call_is_ten_times_rarer_wrong(
    measured: bool, probability: float
) -> None:
    settings = dict(LEVEL["settings"])
    if not measured:
        del settings["seating"]
    person = Person(header(level=[{**LEVEL, "settings": settings}]))
    person.up_to_round()
    while person.step()[1] == "reference":
        person.read(-3.0)
    person.read(17.0)
    assert judging._thresholds(person.engine._case).moved_probability == pytest.approx(probability)


def test_a_set_that_is_out_is_one_alarm_with_one_answer() -> None:
    person = checked(target=target(0.3, 0.5))
    person.round({"reference": -3.0, 1: 17.8, 2: 17.75})
    (alarm,) = person.said(Alarm)
    assert (alarm.kind, alarm.blades) == ("out", (1, 2))
    assert alarm.say.startswith("blade 1 out: 0.")
    assert "Setting blade 1 and blade 2 again puts it right" in alarm.say
    person.press("acknowledge", id=alarm.id, then="set-again")
    assert person.step() == ("slacken", 1)
    person.press("done")
    for blade in (1, 1, 1, 2, 2, 2):
        assert person.step()[1] == blade
        person.read(17.0)
    assert person.step()[0] == "tighten"
    assert person.engine.view().label == "snug"


def test_a_spread_that_is_out_is_called_though_each_blade_is_in() -> None:
    person = checked(target=target(2.0, 0.3))
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    (alarm,) = person.said(Alarm)
    assert (alarm.kind, alarm.blades) == ("out", (1,))
    assert alarm.say.startswith("spread out: 0.7")
    assert "out: 0.8" not in alarm.say.partition("spread")[0]


def test_what_was_accepted_as_out_is_not_called_in_every_round() -> None:
    person = checked(target=target(0.3, 3.0))
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    (alarm,) = person.said(Alarm)
    person.press("acknowledge", id=alarm.id, then="accept", by="R. Fell", reason="to be shimmed")
    person.press("done")
    for _ in ("torque", "final"):
        person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    assert len(person.said(Alarm)) == 1
    person.press("done")
    summary = person.said(Summary)[-1]
    assert (summary.result, summary.blades[0]["tolerance"]) == ("out", "out")
    assert summary.blades[0]["accepted"][0]["reason"] == "to be shimmed"


def test_a_blade_that_moved_without_tightening_is_an_alarm_though_it_is_in() -> None:
    person = ready(target=target(2.0, 2.0))
    person.round({"reference": -3.0, 1: 17.5, 2: 17.05})
    (alarm,) = person.said(Alarm)
    assert (alarm.kind, alarm.blade, alarm.blades) == ("moved", 1, ())


def test_setting_again_before_anything_is_tight_slackens_nothing() -> None:
    person = ready(plan=BOLTS)
    person.press("set", blade=2)
    assert person.step() == ("set", 2)


def test_setting_again_at_any_moment_after_tightening_begins_with_slackening() -> None:
    person = checked()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.step()[0] == "tighten"
    person.press("set", blade=2)
    assert person.step() == ("slacken", 2)
    person.press("done")
    rows = {row.blade: row.state for row in person.engine.view().blades}
    assert (rows[1], rows[2]) == ("may have turned", "setting")
    for _ in range(3):
        person.read(17.0)
    assert (person.step()[0], person.engine.view().label) == ("tighten", "snug")


def test_a_session_of_older_rules_was_never_told_to_slacken() -> None:
    old = header(plan=BOLTS).model_copy(update={"rules": 4})
    person = Person(old)
    person.up_to_round()
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.press("done")
    person.round({"reference": -3.0, 1: 17.8, 2: 17.05})
    person.press("acknowledge", id=1, then="set-again")
    assert person.step() == ("set", 1)


@pytest.mark.parametrize(("clamps", "moved"), [([], ["turned"]), ([[1], [2]], ["moved"])])
def test_bolts_that_were_not_slackened_turn_no_blade(
    clamps: list[list[int]], moved: list[str]
) -> None:
    person = checked(plan={**BOLTS, "clamps": clamps}, target=target(2.0, 2.0))
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    person.press("set", blade=2)
    person.press("done")
    row = {one.blade: one for one in person.engine.view().blades}[1]
    assert row.state == ("steady" if clamps else "may have turned")
    for _ in range(3):
        person.read(17.0)
    person.press("done")
    person.round({"reference": -3.0, 1: 17.5, 2: 17.0})
    called = [v.state for v in person.said(Verdict) if v.blade == 1]
    assert called[-1:] == moved
    assert len(person.said(Alarm)) == len(clamps[:1])


def test_a_blade_read_elsewhere_is_not_called_held_until_its_round_is_judged() -> None:
    person = ready(plan={"rounds": ["check", "torque"]})
    person.read(16.2)
    row = person.engine.view().blades[1]
    assert (row.blade, row.state) == (1, "read elsewhere")
    assert person.engine.view().blades[2].state == "held"
