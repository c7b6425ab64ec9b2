"""The order of work as data: own clamps, another manual's order, torque by pass, what is checked off."""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from daemon.session.jobs import load_job
from daemon.workflow.hands import hands_of
from shared.errors import BadInputError
from shared.events import Captured, Judged, Noted, StepChanged, Summary, Verdict
from shared.plan import Plan
from shared.torque import LBF_IN_NM
from tests.daemon.bench import header
from tests.workflow.jobs import Crew

ONE = {"reference_placements": 1, "baseline_placements": 1}
OWN = {
    **ONE,
    "clamps": [[1], [2]],
    "order": "clamp by clamp",
    "rounds": ["snug", "nip", "torque", "final"],
}
RING = {"name": "rim", "count": 6, "torque": 12.0, "unit": "N.m", "passes": [0.5, 1.0]}
HUB = {"name": "hub", "count": 4, "torque": 22.0, "unit": "N.m"}
WRENCH = {"name": "W 3", "least": 5.0, "most": 50.0, "unit": "N.m", "calibrated": "2027-03"}


def crew_of(**plan: Any) -> Crew:
    crew = Crew(header(plan={**ONE, **plan}))
    crew.press("done")
    return crew


def at(crew: Crew, angles: dict[Any, float]) -> None:
    """Read what the step wants, whatever it is: true blade angles."""
    blade = crew.step()[1]
    if blade == "reference":
        crew.on_hub_face()
    else:
        crew.on_blade(blade, angles[blade])


def work(crew: Crew, angles: dict[Any, float]) -> list[tuple[str, Any]]:
    """Do every step until nothing is left or an alarm waits; return the steps."""
    done = []
    while crew.step()[0] not in {"finished", "answer"}:
        stage, blade = crew.step()
        done.append((crew.engine.view().label if stage == "tighten" else stage, blade))
        if blade is None or stage == "slacken":
            assert crew.press("done").result == "done"
        else:
            at(crew, angles)
        assert len(done) < 80
    return done


# --- own clamps ---------------------------------------------------------------------------------


def test_where_each_blade_has_its_own_clamp_it_is_set_snugged_nipped_and_read_before_the_next() -> (
    None
):
    assert work(crew_of(**OWN), {1: 20.0, 2: 20.05}) == [
        ("reference", "reference"),
        *[("set", 1), ("baseline", 1), ("snug 1", None), ("nip 1", None), ("nip 1", 1)],
        *[("set", 2), ("baseline", 2), ("snug 2", None), ("nip 2", None), ("nip 2", 2)],
        *[("torque", None), ("torque", 1), ("torque", 2)],
        *[("final", "reference"), ("final", 1), ("final", 2)],
    ]


def test_a_blade_out_after_its_clamp_is_slackened_and_set_again_and_the_other_clamp_stays_tight() -> (
    None
):
    crew = crew_of(**OWN)
    crew.on_hub_face()
    work_until(crew, "nip 2", {1: 20.0, 2: 20.0})
    angles = {1: 20.0, 2: 21.0}  # the nip turned it out of tolerance
    assert work(crew, angles)[-1][0] == "nip 2" or crew.step()[0] == "answer"
    alarm = crew.engine.view().alarms[0]
    assert (alarm.kind, alarm.blades) == ("out", (2,))
    crew.press("acknowledge", id=alarm.id, then="set-again")
    assert crew.step() == ("slacken", 2)
    crew.press("done")
    again = work(crew, {1: 20.0, 2: 20.0})
    assert again[:5] == [
        ("set", 2),
        ("baseline", 2),
        ("snug 2", None),
        ("nip 2", None),
        ("nip 2", 2),
    ]
    assert ("snug 1", None) not in again
    crew.press("done")
    assert crew.said(Summary)[-1].result == "within"


def test_after_a_clamp_was_tightened_again_the_work_goes_on_where_all_clamps_are_done() -> None:
    """Blade 1 is found out once all bolts have their torque; the other clamp is passed over."""
    crew = crew_of(**{**OWN, "rounds": ["nip", "torque", "final"]})
    crew.on_hub_face()
    work_until(crew, "torque", {1: 20.0, 2: 20.0})
    work(crew, {1: 21.0, 2: 20.0})
    (alarm,) = crew.engine.view().alarms
    crew.press("acknowledge", id=alarm.id, then="set-again")
    assert work(crew, {1: 20.0, 2: 20.0}) == [
        ("slacken", 1),
        *[("set", 1), ("baseline", 1), ("nip 1", None), ("nip 1", 1)],
        *[("torque", None), ("torque", 1), ("torque", 2)],
        *[("final", "reference"), ("final", 1), ("final", 2)],
    ]


def work_until(crew: Crew, stage: str, angles: dict[Any, float]) -> None:
    """Do every step before the first reading of a round."""
    for _ in range(60):
        if crew.step()[0] == stage:
            return
        if crew.step()[1] is None:
            crew.press("done")
        else:
            at(crew, angles)
    raise AssertionError(f"{stage} is never read")


def test_a_blade_is_judged_as_turned_by_its_own_clamp_and_by_no_other() -> None:
    crew = crew_of(**OWN)
    work_until(crew, "nip 2", {1: 20.0, 2: 20.0})
    crew.on_blade(2, 20.2)
    crew.on_blade(2, 20.2)
    while crew.step()[0] == "nip 2":
        at(crew, {2: 20.2})
    judged = [v for v in crew.said(Verdict) if v.stage == "nip 2" and v.state != "place again"]
    assert {v.blade for v in judged if v.blade != "reference"} == {2}
    assert judged[-1].state == "turned" or judged[0].state == "turned"
    assert not crew.engine.view().alarms  # in tolerance: the result, not the movement


def test_nobody_is_sent_to_a_blade_again_for_what_decides_nothing() -> None:
    """Turned by the bolts or not: it is in tolerance, and the set in its spread."""
    crew = to_the_bolts(rounds=["torque"])
    crew.press("done")
    steps = work(crew, {1: 20.07, 2: 19.98})
    assert max(Counter(steps).values()) <= 2
    assert not crew.engine.view().alarms
    assert {row.state for row in crew.engine.view().blades[1:]} <= {"held", "steady", "turned"}
    crew.press("done")
    assert crew.said(Summary)[-1].result == "within"


def test_what_bolts_did_to_a_blade_is_no_change_of_the_round_after_it() -> None:
    crew = to_the_bolts(rounds=["torque", "final"])
    crew.press("done")
    work(crew, {1: 20.10, 2: 19.98})
    assert [v.state for v in crew.said(Verdict) if v.stage == "torque"][-2:] == [
        "not known",
        "steady",
    ]
    found = {v.blade: v for v in crew.said(Verdict) if v.stage == "final"}
    assert found[1].state == "steady"
    assert found[1].change_deg == pytest.approx(0.0, abs=0.04)


def after_torque_left_steady(final: float) -> Crew:
    """A blade that torque turned by 0.06, too little to be called; final: where it is read last."""
    crew = to_the_bolts(rounds=["torque", "final"])
    crew.press("done")
    work_until(crew, "final", {1: 20.06, 2: 19.98})
    assert {v.blade: v.state for v in crew.said(Verdict)} == {1: "steady", 2: "steady"}
    work(crew, {1: final, 2: 19.98})
    return crew


@pytest.mark.parametrize(
    ("final", "since"),
    [
        (20.06, 20.0),  # within noise of where it was set
        (20.09, 20.03),  # of midway to where the bolts left it
        (20.12, 20.06),  # of where they left it
    ],
)
def test_what_bolts_turned_unseen_is_not_laid_to_a_hand_afterwards(
    final: float, since: float
) -> None:
    crew = after_torque_left_steady(final)
    [found] = [v for v in crew.said(Verdict) if (v.stage, v.blade) == ("final", 1)]
    assert found.state == "steady"
    assert found.change_deg == pytest.approx(final - since, abs=0.02)


def test_a_blade_knocked_after_the_bolts_is_told_by_where_they_left_it() -> None:
    crew = after_torque_left_steady(20.57)
    [alarm] = crew.engine.view().alarms
    assert (alarm.blade, alarm.kind) == (1, "moved")
    assert alarm.last_good_deg == pytest.approx(20.06, abs=0.02)
    assert "coarser than after torque" in alarm.say


def test_a_blade_near_its_limit_is_read_again_whatever_turned_it() -> None:
    crew = to_the_bolts(rounds=["torque"])
    crew.press("done")
    steps = work(crew, {1: 20.26, 2: 20.2})
    assert len(steps) > 3


# --- another order ---------------------------------------------------------------------------------


RIM_LAST = """
stillblade_procedure = 1
name = "Two rings of bolts"

[plan]
source = "Manual of an invented propeller, revision 2, page 7"
baseline_placements = 1
reference_placements = 1
rounds = [
  { name = "seat", tighten = true, read = "nothing", say = "Seat the halves by hand.", before = ["New washers", "Threads dry"] },
  { name = "hub", tighten = true, torque = ["hub"] },
  { name = "rim", tighten = true, torque = ["rim"], read = "nothing" },
  { name = "last", say = "" },
]
bolts = [
  { name = "hub", count = 4, torque = 22.0, unit = "N.m" },
  { name = "rim", count = 6, torque = 12.0, unit = "N.m", passes = [0.5, 1.0] },
]
"""
JOB = """
stillblade_job = 1
name = "bench"
propeller = { blades = 2, rotation = "clockwise", layout = "tractor", station = "75 % radius" }
target = { angle_deg = 20.0, tolerance_deg = 0.3, spread_deg = 0.3 }
[plan]
procedure = "rim-last.toml"
[[level]]
name = "chord"
profile = "nmea-xdr"
settings = { fields = { angle = { source = "BLADE" } }, noise = { sd_deg = 0.02, n = 1000 }, seating = { u_deg = 0.02, n = 40 } }
"""


def written(folder: Path, procedure: str = RIM_LAST, job: str = JOB) -> Path:
    (folder / "rim-last.toml").write_text(procedure, "utf-8")
    (folder / "job.toml").write_text(job, "utf-8")
    return folder / "job.toml"


def test_a_manual_that_wants_another_order_is_worked_by_its_procedure_file_alone(
    tmp_path: Path,
) -> None:
    job = load_job(written(tmp_path))
    crew = Crew(header(plan=job.plan.model_dump()))
    crew.press("done")
    assert work(crew, {1: 20.0, 2: 20.05}) == [
        ("reference", "reference"),
        *[("set", 1), ("baseline", 1), ("set", 2), ("baseline", 2)],
        *[("check off", None), ("check off", None), ("seat", None)],
        *[("hub", None), ("hub", 1), ("hub", 2)],
        *[("rim", None), ("rim", None), ("last", "reference"), ("last", 1), ("last", 2)],
    ]
    crew.press("done")
    assert crew.said(Summary)[-1].result == "within"
    assert [one.stage for one in crew.said(Judged)] == ["hub", "last"]


def test_what_turned_by_a_round_in_which_nothing_is_read_is_laid_to_that_round(
    tmp_path: Path,
) -> None:
    job = load_job(written(tmp_path))
    crew = Crew(header(plan=job.plan.model_dump()))
    crew.press("done")
    work_until(crew, "last", {1: 20.0, 2: 20.0})
    work(crew, {1: 20.2, 2: 20.0})
    verdict = next(v for v in reversed(crew.said(Verdict)) if v.blade == 1)
    assert (verdict.stage, verdict.state) == ("last", "turned")
    assert "rim" in verdict.say


@pytest.mark.parametrize(
    ("given", "key", "what"),
    [
        ('rounds = ["rims"]', "plan.rounds 1", "not 'rims'"),
        ('rounds = [{ name = "rim", tighten = true, read = "nothing" }]', "plan", "last round"),
        ('rounds = [{ name = "set" }]', "plan.rounds 1", "cannot be called 'set'"),
        ('rounds = [{ name = "a", torque = ["b"] }]', "plan.rounds 1", "tighten is not true"),
        (
            'rounds = [{ name = "a", tighten = true, torque = ["b"] }]',
            "plan",
            "no group of bolts called 'b'",
        ),
        ('rounds = ["snug", "snug"]', "plan", "two rounds are called 'snug'"),
        ('order = "clamp by clamp"', "plan", "at least two sets"),
        ("clamps = [[1], [3]]", "", "a blade the propeller does not have"),
        (
            'bolts = [{ name = "a", count = 4, torque = 9, unit = "N.m", order = [1, 3, 2, 2] }]',
            "plan.bolts 1",
            "each bolt from 1 to 4 once",
        ),
        (
            'bolts = [{ name = "a", count = 4, torque = 9, unit = "N.m", passes = [0.5] }]',
            "plan.bolts 1",
            "rise to 1",
        ),
        (
            (
                'bolts = [{ name = "a", count = 4, torque = 99, unit = "N.m" }]\n'
                'wrench = { name = "W", least = 5, most = 50, unit = "N.m" }'
            ),
            "plan",
            "reaches from 5 to 50",
        ),
        (
            'wrench = { name = "W", least = 5, most = 50, unit = "N.m", adapter_mm = 30 }',
            "plan.wrench",
            "length_mm",
        ),
        ('procedure = "none.toml"', "", "cannot be read"),
    ],
)
def test_a_wrong_procedure_is_refused_with_what_and_where(
    tmp_path: Path, given: str, key: str, what: str
) -> None:
    job = JOB.replace('procedure = "rim-last.toml"', given)
    with pytest.raises(BadInputError) as error:
        load_job(written(tmp_path, job=job))
    assert (error.value.key, what in error.value.problem) == (key, True), str(error.value)


def test_a_wrong_procedure_file_is_named_itself(tmp_path: Path) -> None:
    wrong = RIM_LAST.replace("count = 6", "count = 0")
    with pytest.raises(BadInputError) as error:
        load_job(written(tmp_path, procedure=wrong))
    assert error.value.where.endswith("rim-last.toml")
    assert error.value.key == "plan.bolts 2: count"


# --- torque by pass -------------------------------------------------------------------------------


TORQUED = {"rounds": ["torque"], "bolts": [HUB, RING], "wrench": WRENCH}


def to_the_bolts(**plan: Any) -> Crew:
    crew = crew_of(**plan)
    crew.on_hub_face()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    return crew


def test_torque_is_put_on_group_by_group_and_pass_by_pass_after_a_second_person_read_the_wrench() -> (
    None
):
    crew = to_the_bolts(**TORQUED)
    said = []
    while crew.step()[0] in {"wrench", "tighten"}:
        view = crew.engine.view()
        said.append((view.stage, view.placement, view.placements, view.say))
        crew.press("done")
    assert [one[:3] for one in said] == [
        ("wrench", 1, 1),
        *[("tighten", n, 3) for n in (1, 2, 3)],
    ]
    assert "second person" in said[0][3]
    assert "22.0 N·m" in said[0][3]
    assert "Each of the 4 hub bolts to 22.0 N·m (1 of 3). In this order: 1 3 2 4." in said[1][3]
    assert "the 6 rim bolts to 6.0 N·m" in said[2][3]
    assert "the 6 rim bolts to 12.0 N·m" in said[3][3]
    assert crew.step() == ("torque", "reference")


def test_the_bolts_are_shown_while_the_wrench_is_at_them_and_at_no_other_time() -> None:
    each = {**HUB, "count": 3, "order": [1, 3, 2], "each": True}
    crew = to_the_bolts(rounds=["torque"], bolts=[each, {**RING, "passes": [1.0]}], wrench=WRENCH)
    shown = []
    while (stage := crew.step()[0]) in {"wrench", "tighten"}:
        bolts = crew.engine.view().bolts
        assert bolts is not None
        shown.append((stage, bolts.group, bolts.next, bolts.done, bolts.each, bolts.torque))
        crew.press("done")
    assert shown == [
        ("wrench", "hub", 1, (), False, "22.0 N·m"),
        *[
            ("tighten", "hub", 1, (), True, "22.0 N·m"),
            ("tighten", "hub", 3, (1,), True, "22.0 N·m"),
        ],
        ("tighten", "hub", 2, (1, 3), True, "22.0 N·m"),
        ("tighten", "rim", 1, (), False, "12.0 N·m"),
    ]
    assert crew.step() == ("torque", "reference")
    assert crew.engine.view().bolts is None


def test_one_step_back_takes_the_last_pass_back() -> None:
    crew = to_the_bolts(**TORQUED)
    for _ in range(3):
        crew.press("done")
    assert crew.engine.view().placement == 3
    assert crew.press("back").result == "done"
    assert crew.engine.view().placement == 2


def test_each_bolt_is_a_press_where_that_is_wanted() -> None:
    crew = to_the_bolts(rounds=["torque"], bolts=[{**HUB, "each": True}])
    bolts = []
    while crew.step()[0] == "tighten":
        bolts.append(crew.engine.view().say.split(" of ")[0])
        crew.press("done")
    assert bolts == ["Bolt 1", "Bolt 3", "Bolt 2", "Bolt 4"]


def test_a_blade_set_again_between_two_passes_is_slackened_first() -> None:
    crew = to_the_bolts(**TORQUED)
    for _ in range(2):
        crew.press("done")
    crew.press("set", blade=1)
    assert crew.step() == ("slacken", 1)


def test_the_wrench_is_set_for_its_adapter_and_for_the_prevailing_torque() -> None:
    """Adapter formula: FAA AC 43.13-1B, paragraph 7-40; lbf in: NIST SP 811 (2008), appendix B.8."""
    adapter = {**WRENCH, "length_mm": 250.0, "adapter_mm": 50.0}
    plan = Plan.model_validate(
        {**TORQUED, "wrench": adapter, "bolts": [{**HUB, "torque": 20.0, "prevailing": 4.0}]}
    )
    (first, *_) = hands_of(plan, plan.in_order[0])
    assert first.group is not None
    assert first.group.at(1.0) == 24.0
    assert plan.wrench is not None
    assert plan.wrench.dial(24.0, "N.m") == pytest.approx(24.0 * 250.0 / 300.0)
    assert plan.wrench.dial(24.0 / LBF_IN_NM, "lbf.in") == pytest.approx(20.0)


def test_the_place_among_the_bolts_is_the_same_after_the_session_is_rebuilt() -> None:
    from daemon.core.engine import Engine

    crew = to_the_bolts(**TORQUED)
    crew.press("done")
    crew.press("done")
    again = Engine(crew.header)
    for item in crew.inputs:
        again.feed(item)
    assert again.view() == crew.engine.view()
    assert again.view().placement == 2


# --- read again in between ----------------------------------------------------------------------


def setting_blade_2() -> Crew:
    crew = crew_of(rounds=["check"])
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(1)
    assert crew.step() == ("set", 2)
    return crew


def test_a_held_blade_is_looked_at_in_between_and_the_work_goes_on_where_it_stood() -> None:
    crew = setting_blade_2()
    assert crew.press("look", blade=1).result == "done"
    assert crew.step() == ("look", 1)
    crew.on_blade(1)
    assert crew.step() == ("set", 2)
    assert [v.state for v in crew.said(Verdict)] == ["steady"]
    crew.on_blade(2)
    crew.on_blade(2)
    assert work(crew, {1: 20.0, 2: 20.0}) == [("check", "reference"), ("check", 1), ("check", 2)]


def test_a_blade_found_moved_in_between_is_set_again_and_then_the_next() -> None:
    crew = setting_blade_2()
    crew.press("look", blade=1)
    work(crew, {1: 20.8})
    alarm = crew.engine.view().alarms[0]
    assert (alarm.blade, alarm.kind) == (1, "moved")
    crew.press("acknowledge", id=alarm.id, then="set-again")
    assert work(crew, {1: 20.0, 2: 20.0}) == [
        *[("set", 1), ("baseline", 1), ("set", 2), ("baseline", 2)],
        *[("check", "reference"), ("check", 1), ("check", 2)],
    ]


def test_what_cannot_be_looked_at_is_refused_in_words() -> None:
    crew = crew_of(rounds=["check"])
    assert "nothing is held" in crew.press("look").say
    crew.on_hub_face()
    crew.on_blade(1)
    crew.on_blade(1)
    assert "blade 2 is not held" in crew.press("look", blade=2).say
    assert crew.step() == ("set", 2)


def test_at_the_end_a_blade_is_looked_at_and_what_moved_is_said() -> None:
    crew = to_the_bolts(rounds=["check"])
    work(crew, {1: 20.0, 2: 20.0})
    assert crew.step()[0] == "finished"
    crew.press("look", blade=2)
    work(crew, {2: 20.5})
    assert [alarm.blade for alarm in crew.engine.view().alarms] == [2]


# --- as found ----------------------------------------------------------------------------------------


def test_as_found_everything_is_read_once_before_a_blade_is_set() -> None:
    crew = crew_of(rounds=["check"], as_found=True)
    steps = work(crew, {1: 20.2, 2: 19.4})
    assert steps[:5] == [
        ("reference", "reference"),
        ("found", 1),
        ("found", 2),
        ("set", 1),
        ("baseline", 1),
    ]
    found = crew.said(Judged)[0]
    assert found.stage == "found"
    assert [(row["blade"], row["tolerance"]) for row in found.blades] == [(1, "in"), (2, "out")]
    assert crew.said(Captured)[1].angle_deg == pytest.approx(20.2, abs=0.1)


def test_reading_only_ends_with_a_result_and_sets_nothing() -> None:
    head = header(plan=ONE).model_copy(update={"procedure": "read"})
    crew = Crew(head)
    assert crew.engine.view().rounds == ("reference", "found"), "the strip of stages"
    crew.press("done")
    assert work(crew, {1: 20.1, 2: 20.0}) == [
        ("reference", "reference"),
        ("found", 1),
        ("found", 2),
    ]
    crew.press("done")
    summary = crew.said(Summary)[-1]
    assert (summary.state, summary.result) == ("finished", "within")
    assert summary.readings == 3


def test_reading_only_tells_a_blade_that_is_out() -> None:
    head = header(plan=ONE).model_copy(update={"procedure": "read"})
    crew = Crew(head)
    crew.press("done")
    work(crew, {1: 20.1, 2: 18.0})
    crew.press("done")
    assert crew.said(Summary)[-1].result == "out"


# --- a break ------------------------------------------------------------------------------------------


def test_after_half_an_hour_what_is_held_is_read_before_anything_else() -> None:
    crew = setting_blade_2()
    crew.t_ns += 31 * 60 * 10**9
    crew.carry(12)
    crew.lay(17.0, 14)
    assert crew.step() == ("look", "reference")
    assert any("stood still for 31 minutes" in note.say for note in crew.said(Noted))
    assert work(crew, {1: 20.0, 2: 20.0})[:3] == [("look", "reference"), ("look", 1), ("set", 2)]


def test_a_press_after_the_break_means_what_was_on_the_screen_before_and_does_nothing() -> None:
    crew = setting_blade_2()
    crew.t_ns += 45 * 60 * 10**9
    answer = crew.press("take")
    assert (answer.result, crew.step()) == ("stale", ("look", "reference"))


def test_a_break_counts_by_the_wall_clock_when_the_program_did_not_run() -> None:
    from shared.inputs import Clock

    crew = Crew(
        header(plan={**ONE, "rounds": ["check"]}).model_copy(
            update={"started": "2026-05-02T09:00:00+00:00"}
        )
    )
    crew.press("done")
    crew.on_hub_face()
    crew.put(Clock("2026-05-02T09:10:00+00:00", "boot", "resume", crew.t_ns + 1))
    assert crew.step()[0] == "set"
    crew.put(Clock("2026-05-02T11:00:00+00:00", "boot", "resume", crew.t_ns + 1))
    assert crew.step() == ("look", "reference")


def test_a_wall_clock_that_was_put_right_is_no_break() -> None:
    from shared.inputs import Clock

    crew = setting_blade_2()
    crew.put(Clock("2031-01-01T00:00:00+00:00", "boot", "step", crew.t_ns + 1))
    assert crew.step() == ("set", 2)


def test_a_round_that_had_begun_before_the_break_starts_over() -> None:
    crew = to_the_bolts(rounds=["check"])
    crew.on_hub_face()
    crew.on_blade(1)
    assert crew.step() == ("check", 2)
    crew.t_ns += 40 * 60 * 10**9
    crew.carry(12)
    crew.lay(17.0, 14)
    assert crew.step() == ("check", "reference")
    assert any("starts over" in note.say for note in crew.said(Noted))


def test_every_step_of_hands_says_what_to_do() -> None:
    crew = crew_of(
        **{
            **OWN,
            "rounds": [
                "snug",
                "nip",
                {"name": "rim", "tighten": True, "say": "Rim bolts by hand."},
            ],
        }
    )
    work(crew, {1: 20.0, 2: 20.0})
    said = {step.label: step.say for step in crew.said(StepChanged) if step.stage == "tighten"}
    assert said["snug 1"].startswith("Snug the clamp bolts")
    assert "Only the bolts that hold blade 1" in said["snug 1"]
    assert said["rim"] == "Rim bolts by hand. Press when done."


@pytest.mark.parametrize(
    ("started", "later", "minutes"),
    [
        ("2026-05-02T09:00:00+00:00", "2026-05-02T09:40:00+00:00", 40),
        ("2026-12-31T23:50:00Z", "2027-01-01T00:30:00.5Z", 40),
        ("2026-05-02T09:00:00+02:00", "2026-05-02T07:45:00+00:00", 45),
        ("2026-05-02T09:00:00", "2026-05-02T09:45:00", 45),
        ("2026-05-02T09:00:00+00:00", "2026-05-02T09:20:00+00:00", 0),
        ("", "2026-05-02T09:20:00+00:00", 0),
        ("2026-05-02T09:00:00+00:00", "soon", 0),
        ("2026-05-02T09:00:00+00:00", "2026-13-02T19:20:00+00:00", 0),
        ("2026-05-02T09:00:00+00:00", "2026-05-01T09:00:00+00:00", 0),
    ],
)
def test_how_long_nobody_was_there_is_the_difference_of_two_wall_clocks(
    started: str, later: str, minutes: int
) -> None:
    from daemon.workflow.breaks import Breaks

    breaks = Breaks(started)
    breaks.clock(later, 0, stood=True)
    assert breaks.act(0) == minutes * 60


def test_the_age_of_a_reading_is_that_of_the_wall_clock() -> None:
    """Half a session later by its own clock, and two hours by the one on the wall."""
    from shared.inputs import Clock

    started = {"started": "2026-05-02T09:00:00+00:00"}
    crew = Crew(header(plan=ONE).model_copy(update=started))
    crew.press("done")
    crew.on_hub_face()
    before = crew.engine.view()
    assert before.blades[0].read_ns is not None
    crew.put(Clock("2026-05-02T11:00:00+00:00", "boot", "resume", crew.t_ns + 1))
    after = crew.engine.view()
    assert after.blades[0].read_ns is not None
    age_s = (after.t_ns - after.blades[0].read_ns) / 10**9
    assert age_s == pytest.approx(7200.0 - before.blades[0].read_ns / 10**9, abs=1.0)


def test_whoever_takes_over_reads_what_is_held_first() -> None:
    crew = setting_blade_2()
    assert crew.press("relieve").result == "refused"
    assert crew.press("relieve", by="Tomas Quill").result == "done"
    assert crew.step() == ("look", "reference")
    assert sum("Tomas Quill works from here" in note.say for note in crew.said(Noted)) == 1
    assert work(crew, {1: 20.0, 2: 20.0})[:3] == [("look", "reference"), ("look", 1), ("set", 2)]


def test_where_nothing_is_held_whoever_takes_over_is_named_once() -> None:
    crew = crew_of(rounds=["check"])
    step = crew.step()
    assert crew.press("relieve", by="Tomas Quill").result == "done"
    assert crew.step() == step
    assert sum("Tomas Quill works from here" in note.say for note in crew.said(Noted)) == 1


def test_something_more_to_be_looked_at_loses_nothing_of_where_the_work_stood() -> None:
    """Somebody takes over while a blade is looked at, and the reference is wanted first."""
    crew = to_the_bolts(rounds=["check"])
    assert crew.step() == ("check", "reference")
    work(crew, {1: 20.0, 2: 20.0})
    progress = crew.engine._case.progress
    index, passed = progress.index, progress.passed
    progress.look(frozenset({1}))
    progress.look(frozenset({2}))
    assert progress.aside is not None
    assert progress.aside.wanted == {1, 2}
    progress.go_on(begun=False)
    assert progress.round == ""
    assert (progress.index, progress.passed) == (index, passed)


def test_a_turn_by_the_bolts_that_stays_in_doubt_wants_no_answer_where_the_spread_is_close() -> (
    None
):
    crew = to_the_bolts(rounds=["torque"])
    crew.press("done")
    steps = work(crew, {1: 20.13, 2: 19.88})
    assert len(steps) >= 3
    assert not [alarm for alarm in crew.engine.view().alarms if alarm.kind == "not known"]


def test_a_reading_that_falls_after_the_wrench_was_at_the_bolts_is_judged_by_both() -> None:
    """The level still lay on the last blade of the check, and slid when the bolts were snugged."""
    crew = to_the_bolts(rounds=["check", "snug", "final"])
    crew.on_blade(1)
    crew.on_blade(2)
    assert crew.step()[0] == "tighten"
    crew.press("done")
    assert crew.step() == ("snug", 1)
    crew.lay(17.6, 60)
    assert crew.step() == ("check", 2)
    steps = work(crew, {1: 20.0, 2: 20.6})
    assert steps[0] == ("check", 2)
    verdict = next(v for v in reversed(crew.said(Verdict)) if v.blade == 2)
    assert verdict.state == "turned"
    assert "snug, or touched before it" in verdict.say
