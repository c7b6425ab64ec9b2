"""What blades are set to: beside the target only because somebody said so."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.workflow.aim import Turned, alike
from shared.events import Alarm, Judged, Noted, Summary
from tests.daemon.bench import header
from tests.workflow.jobs import Crew
from tests.workflow.test_procedure import ONE, at, crew_of, work, work_until


def known(pulled_deg: float | None = 0.4) -> Crew:
    """Return a crew that stands at blade 1 to be set, and knows what the bolts did last time."""
    head = header(plan={**ONE, "rounds": ["check", "torque"]})
    crew = Crew(head.model_copy(update={"pulled_deg": pulled_deg}))
    crew.press("done")
    crew.on_hub_face()
    return crew


def aims_of(crew: Crew) -> dict[str, float]:
    return {one.at: one.deg for one in crew.engine.view().aims}


def test_where_the_bolts_turned_all_blades_alike_it_asks_and_sets_nothing_by_itself() -> None:
    crew = known()
    view = crew.engine.view()
    assert "turned all blades 0.40 coarser the last time: set them that much finer" in view.say
    assert aims_of(crew) == {"target": 20.0, "off": 19.6}
    crew.carry()
    crew.lay(17.0, 3)
    assert crew.engine.view().live.target_deg == 20.0


def test_aimed_off_the_blades_are_set_and_judged_beside_the_target_until_the_bolts_are_tight() -> (
    None
):
    crew = known()
    assert crew.press("aim", at="off").result == "done"
    work_until(crew, "check", {1: 19.6, 2: 19.6})
    assert not crew.said(Alarm)
    while crew.step()[0] == "check":
        at(crew, {1: 19.6, 2: 19.6})
    assert {row["tolerance"] for row in crew.said(Judged)[-1].blades} == {"in"}
    work(crew, {1: 20.0, 2: 20.0})  # the bolts turned them by what was aimed off
    crew.press("done")
    assert crew.said(Summary)[-1].result == "within"


def test_what_is_over_is_judged_by_the_target_though_no_bolt_was_tight() -> None:
    crew = known()
    crew.press("aim", at="off")
    work_until(crew, "check", {1: 19.6, 2: 19.6})
    while crew.step()[0] == "check":
        at(crew, {1: 19.6, 2: 19.6})
    assert {row["tolerance"] for row in crew.said(Judged)[-1].blades} == {"in"}
    crew.press("abandon", by="Ada", reason="dusk")
    assert {row["tolerance"] for row in crew.said(Summary)[-1].blades} == {"out"}


def test_aimed_off_and_not_turned_by_the_bolts_is_out_by_the_target() -> None:
    crew = known()
    crew.press("aim", at="off")
    work(crew, {1: 19.6, 2: 19.6})
    assert [alarm.kind for alarm in crew.engine.view().alarms] == ["out"]


def test_what_the_bolts_did_in_this_session_is_proposed_when_the_blades_are_set_again() -> None:
    crew = crew_of(rounds=["torque"])
    work_until(crew, "torque", {1: 20.0, 2: 20.0})
    work(crew, {1: 20.6, 2: 20.6})
    (alarm,) = crew.engine.view().alarms
    crew.press("acknowledge", id=alarm.id, then="set-again")
    crew.press("done")
    assert crew.step()[0] == "set"
    aims = aims_of(crew)
    assert aims["off"] == pytest.approx(19.4, abs=0.05)
    assert "coarser the last time" in crew.engine.view().say


def test_from_the_second_blade_on_the_held_ones_may_be_aimed_at() -> None:
    crew = crew_of(rounds=["check"])
    crew.on_hub_face()
    assert not crew.engine.view().aims
    crew.on_blade(1, 20.2)
    crew.on_blade(1, 20.2)
    assert aims_of(crew)["held"] == pytest.approx(20.2, abs=0.05)
    crew.press("aim", at="held")
    assert crew.engine.view().live.target_deg == pytest.approx(20.2, abs=0.05)
    assert any("mean of the blades that are held" in note.say for note in crew.said(Noted))


def test_another_aim_than_is_known_is_refused() -> None:
    crew = known()
    assert "at must be one of target, off" in crew.press("aim", at="moon").say
    assert "while they are set" in Crew(header(plan=ONE)).press("aim", at="off").say


turned = st.dictionaries(
    st.integers(1, 6),
    st.builds(Turned, st.floats(-3, 3), st.floats(0.01, 0.5)),
    min_size=2,
)


@given(turned)
def test_alike_is_said_only_of_what_is_proven_of_each_and_differs_in_none(
    blades: dict[int, Turned],
) -> None:
    found = alike(blades)
    if found is not None:
        assert all(abs(one.deg) > one.u95_deg for one in blades.values())
        assert all(abs(one.deg - found) <= one.u95_deg + 1e-6 for one in blades.values())
        assert all((one.deg > 0) == (found > 0) for one in blades.values())


def test_blades_that_turned_by_one_amount_are_alike() -> None:
    assert alike({1: Turned(0.40, 0.1), 2: Turned(0.44, 0.1), 3: Turned(0.36, 0.1)}) == 0.4
    assert alike({1: Turned(0.40, 0.1), 2: Turned(0.10, 0.1)}) is None
    # exact in binary: each just as far from the mean of 1.5 as is known of it, and no further
    assert alike({1: Turned(1.0, 0.5), 2: Turned(2.0, 0.5)}) == 1.5
    assert alike({1: Turned(1.0, 0.49), 2: Turned(2.0, 0.5)}) is None


def test_what_is_not_known_beyond_its_own_uncertainty_or_under_two_hundredths_is_no_turn() -> None:
    assert alike({1: Turned(0.5, 0.5)}) is None
    assert alike({1: Turned(-0.5, 0.49)}) == -0.5
    assert alike({1: Turned(0.02, 0.01)}) == 0.02
    assert alike({1: Turned(0.019, 0.01)}) is None
    assert alike({}) is None


# --- as found, because somebody said so at the start --------------------------------------------------


def test_a_hub_that_was_set_before_is_proposed_to_be_read_as_found() -> None:
    head = header(plan={**ONE, "rounds": ["check"]}).model_copy(
        update={"earlier": "2026-03-01, within"}
    )
    crew = Crew(head)
    crew.carry(1)
    assert (
        "This hub was set before (2026-03-01, within): read it as found" in crew.engine.view().say
    )
    assert "found" in crew.engine.view().offers
    crew.press("found")
    crew.press("done")
    steps = work(crew, {1: 20.0, 2: 20.0})
    assert steps[:3] == [("reference", "reference"), ("found", 1), ("found", 2)]


def test_once_a_blade_is_set_nothing_is_as_found_any_more() -> None:
    crew = crew_of(rounds=["check"])
    crew.on_hub_face()
    crew.on_blade(1)
    assert crew.press("found").result == "refused"
    assert "found" not in crew.engine.view().offers


def test_what_was_aimed_off_is_said_anew_once_the_bolts_are_slack_again() -> None:
    """The blades that stay are where the bolts left them: they are not judged by an aim of before."""
    crew = known()
    crew.press("aim", at="off")
    work_until(crew, "torque", {1: 19.6, 2: 19.6})
    work(crew, {1: 20.0, 2: 20.7})
    (alarm,) = crew.engine.view().alarms
    crew.press("acknowledge", id=alarm.id, then="set-again")
    crew.press("done")
    assert crew.step() == ("set", 2)
    view = crew.engine.view()
    assert [row.tolerance for row in view.blades if row.blade == 1] == ["in"]
    crew.carry()
    crew.lay(17.0, 3)
    assert crew.engine.view().live.target_deg == 20.0
