"""What the job came to, by tolerance and spread, whatever moved and whatever was accepted."""

from typing import Any

import pytest

from daemon.cli.lines import exit_code, summary_of
from shared.events import Alarm, Judged, Summary, Unknown
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
    assert red["accepted"] == [{"kind": "turned", "by": "R. Fell", "reason": "seen"}]
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
