"""No accepted doubt becomes a certainty: what is apart stays wide, in all that hangs on it."""

import random
import re
from dataclasses import replace
from typing import Any

import pytest

from daemon.workflow import judging
from shared.events import (
    REFERENCE,
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
from tests.daemon.bench import LEVEL, Person, header, sentence

UNMEASURED = {key: value for key, value in LEVEL["settings"].items() if key != "seating"}
WIDE = {"angle_deg": 20.0, "tolerance_deg": 0.8, "spread_deg": 0.8}
ACCUSING = {"moved", "turned", "exchanged"}


def level(**settings: Any) -> list[dict[str, Any]]:
    return [LEVEL | {"settings": settings}]


def accept(person: Person, number: int) -> None:
    answer = person.press("acknowledge", id=number, then="accept", by="Ada", reason="looked at it")
    assert answer.result == "done"


def summed_up(person: Person) -> Summary:
    person.end()
    [summary] = person.said(Summary)
    assert isinstance(summary, Summary)
    return summary


def accused(person: Person) -> set[Any]:
    return {alarm.blade for alarm in person.said(Alarm) if alarm.kind in ACCUSING}


class Turns:
    """Reads a round in which some members show one angle and another by turns."""

    def __init__(self, person: Person, **angles: tuple[float, ...]) -> None:
        self.person = person
        self.angles = angles
        self.count: dict[str, int] = {}

    def read(self, most: int = 40) -> None:
        """Read until the round asks for nothing more."""
        stage = self.person.step()[0]
        for _ in range(most):
            now, blade = self.person.step()
            if now != stage or now in {"answer", "finished", "tighten"}:
                return
            name = "reference" if blade == REFERENCE else f"blade_{blade}"
            turn = self.count[name] = self.count.get(name, 0) + 1
            self.person.read(self.angles[name][(turn - 1) % len(self.angles[name])])
        raise AssertionError(f"{stage!r} does not end")


# --- what is assumed is not known ---------------------------------------------------------


def test_the_placements_of_a_level_that_nobody_measured_say_how_well_it_seats() -> None:
    """Baselines 0.26 apart, within six times what is only assumed: they were held to 0.06."""
    person = Person(header(level=level(**UNMEASURED)))
    person.press("done")
    for angle in (-3.0, -3.0, 17.0, 16.88, 17.14):
        person.read(angle)
    [held] = person.said(Held)
    assert held.angle_deg == pytest.approx(20.01, abs=0.03)
    assert held.u95_deg > 0.13, "either placement is within it"


def test_what_one_blade_shows_counts_for_the_next_one() -> None:
    def held_second(*baselines: float) -> float:
        person = Person(header(level=level(**UNMEASURED)))
        person.up_to_round(angles=())
        for angle in (17.0, *baselines, 17.0, 17.0, 17.0):
            person.read(angle)
        return float(person.said(Held)[-1].u95_deg)

    assert held_second(16.9, 17.1) > 1.3 * held_second(17.0, 17.0)


def test_a_measured_level_is_not_widened_by_placements_that_agree() -> None:
    person = Person(header())
    person.up_to_round()
    [first, second] = person.said(Held)
    assert max(first.u95_deg, second.u95_deg) < 0.06


@pytest.mark.parametrize("seed", range(4))
def test_a_hand_that_rests_on_blades_now_and_then_accuses_nobody(seed: int) -> None:
    """Half of the placements are bent by 0.25, under what asks a person; the seat is known."""
    draw = random.Random(seed)
    person = Person(header(plan={"rounds": ["check", "final"]}, target=WIDE), seed=seed)
    person.press("done")
    for _ in range(60):
        stage, blade = person.step()
        if stage in {"answer", "finished"}:
            break
        bent = 0.0 if blade == REFERENCE else draw.choice((0.0, 0.25))
        person.read(-3.0 if blade == REFERENCE else 17.0 + bent)
    assert not accused(person)


def calls(seed: int, settings: dict[str, Any]) -> list[float]:
    """Return how sure every call is in a job whose placements are 0.12 apart, blade 2 by 0.35."""
    draw = random.Random(seed)
    person = Person(header(level=level(**settings), target=WIDE), seed=seed)
    person.press("done")
    for angle in (-3.0, -3.05, *[17.0] * 3, *[17.05] * 3):
        person.read(angle if angle < 0.0 else angle + draw.choice((-0.06, 0.06)))
    now = {REFERENCE: -3.0, 1: 17.0, 2: 17.4}
    while person.step()[0] == "check":
        person.read(now[person.step()[1]] + draw.choice((-0.06, 0.06)))
    return [v.probability for v in person.said(Verdict) if v.state in ACCUSING]


def test_a_level_that_nobody_measured_calls_only_what_is_ten_times_as_sure() -> None:
    """One in ten may be wrong of calls at 0.9, and what it knows of its seating may be wrong too."""
    sure = [chance for seed in range(10) for chance in calls(seed, UNMEASURED)]
    assert len(sure) > 1
    assert min(sure) > 0.99


# --- a disagreement in a round ---------------------------------------------------------------


def test_a_round_in_which_one_member_disagrees_is_judged_for_the_others() -> None:
    """Blade 2 was turned by 0.5; blade 1 is read 0.6 apart however often it is read."""
    person = Person(header(plan={"rounds": ["check", "final"]}, target=WIDE))
    person.up_to_round(angles=(20.0, 20.05))
    Turns(person, reference=(-3.0,), blade_1=(17.3, 16.7), blade_2=(17.55,)).read()
    last = {v.blade: v for v in person.said(Verdict)}
    assert last[2].state == "moved"
    assert last[1].state == "not known"
    assert {(a.blade, a.kind) for a in person.said(Alarm)} == {(1, "not known"), (2, "moved")}
    for alarm in person.said(Alarm):
        accept(person, alarm.id)
    summary = summed_up(person)
    assert summary.called_moved == [2]
    assert summary.blades[0]["u95_deg"] > 0.55


def test_who_disagrees_is_not_asked_for_again_by_what_others_show_and_the_others_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    person = Person(header(plan={"rounds": ["check"]}, target=WIDE))
    person.up_to_round(angles=(20.0, 20.05))
    case = person.engine._case
    found = replace(judging.judge(case), again=(REFERENCE, 1, 2))
    monkeypatch.setattr(judging, "diagnose", lambda *_args, **_more: found)
    assert judging.judge(case, {REFERENCE, 1}).again == (2,)
    assert judging.judge(case).again == (REFERENCE, 1, 2)


def test_an_accepted_disagreement_of_a_blade_widens_it_by_the_whole() -> None:
    """Placements 20.51 and 19.90, accepted: they gave 20.20 +- 0.06, in."""
    person = Person(header(plan={"rounds": ["final"]}, target=WIDE))
    person.up_to_round(angles=(20.0, 20.05))
    Turns(person, reference=(-3.0,), blade_1=(17.51, 16.9), blade_2=(17.05,)).read()
    [alarm] = person.said(Alarm)
    accept(person, alarm.id)
    row = next(one for one in person.engine.view().blades if one.blade == 1)
    assert row.angle_deg == pytest.approx(20.2, abs=0.03)
    assert row.u95_deg is not None
    assert row.u95_deg > 0.58
    assert row.tolerance == "too close to say"
    assert person.said(Verdict)[-1].say.startswith("the placements of blade 1 disagree by 0.6")


def test_an_accepted_disagreement_of_the_reference_is_in_every_angle_and_accuses_nobody() -> None:
    person = Person(header(plan={"rounds": ["final"]}, target=WIDE))
    person.up_to_round(angles=(20.0, 20.05))
    still = {"blade_1": (17.0,), "blade_2": (17.05,)}
    Turns(person, reference=(-3.6, -3.0), **still).read()
    while person.step()[0] == "final":
        Turns(person, reference=(-3.6, -3.0), **still).read()
    assert [(a.blade, a.kind) for a in person.said(Alarm)] == [(REFERENCE, "not known")]
    accept(person, 1)
    assert not accused(person)
    assert all(row["u95_deg"] > 0.5 for row in summed_up(person).blades)


def test_a_flat_blade_on_a_steep_shaft_reads_the_other_way_and_is_not_asked_about() -> None:
    """Finer than the tilt of the shaft, a blade leans backwards: no level was turned round there."""
    person = Person(header(target={**WIDE, "angle_deg": 7.0}))
    person.press("done")
    for _ in range(2):
        person.read(-14.0)
    person.read(7.0 - 14.0)
    assert not person.said(Asked)
    assert person.said(Captured)[-1].angle_deg == pytest.approx(7.0, abs=0.05)


# --- turned under the level, after the reading -----------------------------------------------


def turn_under(person: Person, from_deg: float, to_deg: float) -> None:
    """The level lies on; what it lies on is turned smoothly in half a second, and rests."""
    for part in range(1, 6):
        person.send(from_deg + (to_deg - from_deg) * part / 5.0)
    person.lay(to_deg, 40)


def test_a_blade_turned_under_the_level_in_the_last_round_is_said_at_once() -> None:
    person = Person(header(plan={"rounds": ["final"]}))
    person.up_to_round(angles=(20.0, 20.05))
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.05})
    assert person.step()[0] == "finished"
    turn_under(person, 17.05, 17.55)
    [void] = person.said(Withdrawn)
    assert void.id == person.said(Captured)[-1].id
    said = person.said(Noted)[-1].say
    assert "blade 2 or the aircraft was turned under the level" in said
    assert f"reading {void.id} does not count" in said
    assert person.step() == ("final", 2)
    rows = {row.blade: row.state for row in person.engine.view().blades}
    assert rows[2] == "place again"
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.55})
    assert accused(person) == {2}


def test_a_blade_turned_under_the_level_after_its_baseline_is_not_held() -> None:
    person = Person(header())
    person.up_to_round(angles=(20.0,))
    turn_under(person, 17.0, 17.4)
    assert [one.id for one in person.said(Withdrawn)] == [5]
    assert person.step() == ("baseline", 1)


def test_a_reference_that_tilts_under_the_level_after_its_reading_is_read_again() -> None:
    person = Person(header())
    person.press("done")
    person.read(-3.0)
    person.read(-3.0)
    turn_under(person, -3.0, -3.5)
    assert [one.id for one in person.said(Withdrawn)] == [2]
    assert person.step() == (REFERENCE, REFERENCE)


def test_a_blade_that_is_still_being_set_may_turn_after_its_reading() -> None:
    person = Person(header())
    person.up_to_round(angles=())
    person.read(17.0)
    turn_under(person, 17.0, 17.2)
    assert not person.said(Withdrawn)
    assert person.step() == ("baseline", 1)
    said = [note.say for note in person.said(Noted) if "its fresh placements count" in note.say]
    assert len(said) <= 1 == len([note for note in person.said(Noted) if "+0.20" in note.say])


def test_a_level_that_lies_where_it_was_read_gives_no_fresh_reading_after_a_gap() -> None:
    """The line was out for a moment: nobody knows that the level was lifted, as a baseline wants."""
    person = Person(header(plan={"baseline_placements": 1}))
    person.up_to_round(angles=())
    person.read(17.0)
    assert person.step() == ("baseline", 1)
    gap(person)
    person.lay(17.0)
    taken = len(person.said(Captured))
    answer = person.press()
    assert (answer.result, answer.say) == (
        "refused",
        "the signal was gone while it lay there: lift it and place it again",
    )
    assert person.engine.view().live.taken, "the screen says so too"
    assert len(person.said(Captured)) == taken
    person.read(17.0)
    assert person.step() == ("set", 2)


def test_a_level_that_was_laid_down_before_a_gap_and_not_read_is_read_after_it() -> None:
    person = Person(header(plan={"baseline_placements": 1}))
    person.up_to_round(angles=())
    person.read(17.0)
    person.carry()
    person.lay(17.0, 5)
    gap(person)
    person.lay(17.0)
    person.press()
    assert person.step() == ("set", 2)


def gap(person: Person) -> None:
    """The line comes down, and up again."""
    for state in ("down", "up"):
        person.t_ns += 2 * NS
        person.put(Link("chord", state, "", "bench", t_ns=person.t_ns))


def test_bolts_that_turn_a_blade_under_a_level_left_on_it_void_no_reading() -> None:
    """The check round would begin anew with half the bolts tight, and accuse a hand."""
    person = Person(header(plan={"rounds": ["check", "snug"]}))
    person.up_to_round(angles=(20.0, 20.05))
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.05})
    assert person.step() == ("tighten", None)
    turn_under(person, 17.05, 17.25)
    assert not person.said(Withdrawn)
    assert person.step() == ("tighten", None)
    [said] = [note.say for note in person.said(Noted) if "under the level" in note.say]
    assert re.match(r"blade 2 was turned under the level by \+0\.(19|20) at the bolts", said)
    person.press("done")
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.25})
    found = [one for one in person.said(Verdict) if one.stage == "snug"][-1]
    assert (found.blade, found.state) == (2, "turned")
    assert not accused(person)


def test_an_aircraft_that_tilts_under_the_level_at_the_bolts_is_read_in_the_round_after_them() -> (
    None
):
    """That round would spare the reference, and call every blade out by the tilt of before."""
    person = Person(header(plan={"rounds": ["check", "snug"]}))
    person.up_to_round(angles=(20.0, 20.05))
    person.press("look", blade=REFERENCE)
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.05})
    person.press("look", blade=REFERENCE)
    assert person.step() == ("look", REFERENCE)
    person.read(-3.0)
    assert person.step() == ("tighten", None)
    turn_under(person, -3.0, -3.6)
    assert not person.said(Withdrawn)
    person.press("done")
    assert person.step() == ("snug", REFERENCE)


# --- exchanged ------------------------------------------------------------------------------------


def exchanged() -> Person:
    person = Person(header(plan={"rounds": ["check", "final"]}, target=WIDE))
    person.up_to_round(angles=(20.3, 19.8))
    person.round({REFERENCE: -3.0, 1: 16.8, 2: 17.3})
    return person


def test_exchanged_labels_are_exchanged_back_by_one_answer() -> None:
    person = exchanged()
    alarms = person.said(Alarm)
    assert [(a.blade, a.kind, a.partner) for a in alarms] == [
        (1, "exchanged", 2),
        (2, "exchanged", 1),
    ]
    assert [a.partner for a in person.engine.view().alarms] == [2, 1]
    answer = person.press("acknowledge", id=1, then="exchange", by="Ada")
    assert answer.result == "done"
    assert {(c.alarm, c.how) for c in person.said(Cleared)} == {(1, "exchange"), (2, "exchange")}
    assert len(person.said(Assigned)) == len(
        [c for c in person.said(Captured) if c.stage == "check" and c.blade != REFERENCE]
    )
    assert [v.state for v in person.said(Verdict)[-3:]] == ["steady"] * 3
    person.round({REFERENCE: -3.0, 1: 17.3, 2: 16.8})
    assert len(person.said(Alarm)) == 2, "no cascade"
    angles = [row["angle_deg"] for row in summed_up(person).blades]
    assert angles == pytest.approx([20.3, 19.8], abs=0.04)


def test_accepting_exchanged_numbers_exchanges_nothing() -> None:
    person = exchanged()
    accept(person, 1)
    accept(person, 2)
    assert not person.said(Assigned)
    angles = [row["angle_deg"] for row in summed_up(person).blades]
    assert angles == pytest.approx([19.8, 20.3], abs=0.04)


def test_an_exchange_answers_no_other_alarm() -> None:
    person = Person(header(plan={"rounds": ["check"]}))
    person.up_to_round()
    person.round({REFERENCE: -3.0, 1: 17.9, 2: 17.05})
    answer = person.press("acknowledge", id=1, then="exchange", by="Ada")
    assert (answer.result, "exchange" in answer.say) == ("refused", True)


# --- a level that sends on change --------------------------------------------------------------------


def test_a_quiet_level_that_sends_on_change_does_a_whole_job() -> None:
    """Steps of 0.1, and no noise that would change the number of a level at rest."""
    quiet = {
        "fields": {"angle": {"source": "BLADE"}},
        "resolution_deg": 0.1,
        "reporting": {"mode": "on-change"},
    }
    person = Person(header(level=level(**quiet), target=WIDE, plan={"rounds": ["final"]}))

    def lay(angle_deg: float) -> None:
        """Carried, laid down, at rest: then it says nothing more."""
        for _ in range(12):
            person.send(person._random.uniform(-70.0, 70.0))
        for off in (0.4, 0.1, 0.0):
            person.send(angle_deg + off)
        person.t_ns += 6 * NS
        person.press()

    person.press("done")
    for _ in range(30):
        stage, blade = person.step()
        if stage == "finished":
            break
        lay(-3.0 if blade == REFERENCE else 17.0)
    assert person.step()[0] == "finished"
    summary = summed_up(person)
    assert all(row["angle_deg"] == pytest.approx(20.0, abs=0.01) for row in summary.blades)
    assert all(0.05 < row["u95_deg"] < 0.2 for row in summary.blades), "its step leaves so much"


def test_the_silence_of_a_level_on_change_is_no_rest_once_its_line_is_down() -> None:
    settings = UNMEASURED | {"reporting": {"mode": "on-change"}}
    person = Person(header(level=level(**settings)))
    person.put(Bytes("chord", 0, sentence(-3.0), person.t_ns + 1))
    assert person.engine.next_due is not None
    person.engine.advance(60 * NS)
    assert person.engine.next_due is None, "more silence than the longest average tells nothing"


# --- proven zero, and a small tilt turned round ----------------------------------------------------------


def test_a_level_whose_zero_was_not_proven_in_time_is_named() -> None:
    person = Person(header(setup={"zero_days": 30}))
    person.press("done")
    said = [n.say for n in person.said(Noted) if "zero of chord" in n.say]
    assert len(said) == 1
    steps = {s.stage: s.say for s in person.said(StepChanged)}
    assert "zero of chord (last: never) was not proven within the 30 days" in steps["reference"]
    assert "zero of chord" not in steps["prepare"]
    assert summed_up(person).unproven == {"chord": ""}


def test_the_result_names_it_too() -> None:
    person = Person(header(setup={"zero_days": 30}))
    person.up_to_round()
    person.round({REFERENCE: -3.0, 1: 17.0, 2: 17.05})
    summary = summed_up(person)
    assert summary.result == "within"
    assert summary.say.endswith("zero of chord (last: never) not proven within 30 days")


def test_a_proven_zero_is_not_named() -> None:
    settings = LEVEL["settings"] | {"accuracy": {"zero_date": "2026-11-20"}}
    person = Person(header(level=level(**settings), setup={"zero_days": 30}))
    assert summed_up(person).unproven == {}


def test_a_small_tilt_turned_round_is_asked_about() -> None:
    person = Person(header())
    person.up_to_round(tilt_deg=0.3)
    person.read(0.3)
    [asked] = person.said(Asked)
    assert "sign turned" in asked.say
    assert person.press("confirm", id=asked.id, sense="reversed").result == "done"


def test_a_tilt_too_small_to_be_told_from_its_reverse_is_not_asked_about() -> None:
    person = Person(header())
    person.up_to_round(tilt_deg=0.03)
    person.read(0.03)
    assert not person.said(Asked)
