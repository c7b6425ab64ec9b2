"""No reading is asked for that would change no answer: the usual order, the baseline, the reference."""

from typing import Any

import pytest

from daemon.core.rules import RULES
from shared.events import Captured, Held, Noted, StepChanged, Verdict
from shared.plan import TOOLS_AWAY, Plan
from tests.daemon.bench import header
from tests.simulated import simulated
from tests.workflow.jobs import Crew
from tests.workflow.test_procedure import work

USUAL: dict[str, Any] = {"rounds": [], "baseline_placements": 1}
BLADES = {1: 20.0, 2: 20.05}


def crew_of(rules: int = RULES, **plan: Any) -> Crew:
    head = header(plan={**USUAL, **plan})
    crew = Crew(head.model_copy(update={"rules": rules}))
    crew.press("done")
    return crew


def set_from(crew: Crew, first: float, fresh: float) -> list[Held]:
    """Read the reference, set blade 1, lay the level on it once more: tilts; return what is held."""
    for _ in range(crew.header.job.plan.reference_placements):
        crew.read(-3.0)
    crew.read(first)
    crew.read(fresh)
    return crew.said(Held)


def test_the_usual_order_reads_when_snug_and_when_nobody_works_on_the_bolts_any_more() -> None:
    assert work(crew_of(), BLADES) == [
        *[("reference", "reference")] * 2,
        *[("set", 1), ("baseline", 1), ("set", 2), ("baseline", 2)],
        *[("snug", None), ("snug", 1), ("snug", 2), ("nip", None)],
        *[("torque", None), ("check off", None)],
        *[("torque", "reference"), ("torque", 1), ("torque", 2)],
    ]


def test_tools_are_away_before_a_reading_is_the_final_one() -> None:
    crew = crew_of()
    steps = work(crew, BLADES)
    assert steps.count(("check off", None)) == 1
    said = [step.say for step in crew.said(StepChanged) if step.stage == "check off"]
    assert [say.startswith(TOOLS_AWAY) for say in said] == [True]


def test_with_clamps_of_their_own_each_is_read_after_its_nip() -> None:
    plan = Plan(order="clamp by clamp", clamps=[[1], [2]])
    assert [(one.name, one.read) for one in plan.in_order] == [
        *[("snug 1", "nothing"), ("nip 1", "these"), ("snug 2", "nothing"), ("nip 2", "these")],
        ("torque", "all"),
    ]


def test_a_quiet_job_of_three_blades_takes_at_most_seventeen_readings() -> None:
    """With a measured seating; by a simulated person, without a press."""
    outcome = simulated("hands-free-quiet", 4)
    assert outcome.closing.result == "within"
    assert outcome.closing.readings <= 17


def test_the_reference_is_read_in_between_only_where_a_blade_changed() -> None:
    crew = crew_of()
    work_to(crew, "snug")
    assert crew.step() == ("snug", 1)
    crew.read(17.25)
    crew.read(17.05)
    assert crew.step() == ("snug", 1), "a call wants a second look"
    crew.read(17.25)
    assert crew.step() == ("snug", "reference")


def test_where_everything_changed_alike_the_reference_tells_the_aircraft_from_the_blades() -> None:
    crew = crew_of()
    work_to(crew, "snug")
    for _ in range(12):
        stage, blade = crew.step()
        if stage != "snug":
            break
        crew.read({"reference": -3.6, 1: 16.4, 2: 16.45}[blade])
    states = {v.blade: v.state for v in crew.said(Verdict)}
    assert states == {"reference": "shifted", 1: "steady", 2: "steady"}


def work_to(crew: Crew, stage: str) -> None:
    """Do every step up to the readings of a round."""
    while crew.step()[0] != stage:
        _, blade = crew.step()
        if blade is None:
            crew.press("done")
        else:
            crew.read({"reference": -3.0, 1: 17.0, 2: 17.05}[blade])


def test_a_blade_is_held_to_its_setting_and_one_fresh_placement() -> None:
    [held] = set_from(crew_of(), 17.02, 16.98)
    assert held.angle_deg == pytest.approx(20.0, abs=0.012)
    assert held.lift_effect_deg == pytest.approx(-0.04, abs=0.02)


def test_where_it_is_not_where_it_was_set_another_placement_decides() -> None:
    crew = crew_of()
    assert not set_from(crew, 17.15, 17.0)
    assert "finer than it was set to" in crew.said(Noted)[-1].say
    assert crew.step() == ("baseline", 1)
    crew.read(17.0)
    [held] = crew.said(Held)
    assert held.angle_deg == pytest.approx(20.0, abs=0.02)


def test_the_setting_counts_as_long_as_it_is_not_withdrawn() -> None:
    crew = crew_of()
    set_from(crew, 17.03, 16.97)
    [setting] = [one.id for one in crew.said(Captured) if one.stage == "set"]
    crew.press("withdraw", id=setting, reason="a hand was on it")
    row = {one.blade: one for one in crew.engine.view().blades}[1]
    assert row.state in {"held", "provisional"}
    assert row.angle_deg == pytest.approx(19.97, abs=0.02)


def test_written_placements_are_kept() -> None:
    crew = crew_of(baseline_placements=2)
    assert not set_from(crew, 17.02, 16.98)
    crew.read(16.98)
    assert crew.said(Held)[0].angle_deg == pytest.approx(19.98, abs=0.012)


def test_a_smaller_move_worth_finding_asks_for_more_placements() -> None:
    """As long as those that are left can reach it, and not where none can."""

    def readings(**plan: Any) -> int:
        crew = crew_of(rounds=["check"], **plan)
        work(crew, BLADES)
        return len(crew.said(Captured))

    assert readings() == readings(find_deg=0.3) == readings(find_deg=0.05) < readings(find_deg=0.16)


def test_a_session_of_before_reads_as_much_as_it_did() -> None:
    crew = crew_of(rules=7, rounds=["check", "final"])
    steps = work(crew, BLADES)
    assert ("check", "reference") in steps
    assert ("final", "reference") in steps
