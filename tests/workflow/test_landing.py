"""A level that is laid down and not pressed for: what is taken by itself, and what never is."""

import pytest

from daemon.core.rules import RULES
from daemon.workflow.landing import waited
from shared.events import Captured
from shared.inputs import NS, Command, Link
from tests.daemon.bench import LEVEL, header
from tests.simulated import simulated
from tests.workflow.jobs import HUB, Crew, of_the_hub

PLAN = {"rounds": ["check", "final"], "reference_placements": 1, "baseline_placements": 1}


def crew_of(capture: str = "by itself", rules: int = RULES) -> Crew:
    made = header(plan=PLAN, setup={"capture": capture})
    crew = Crew(made.model_copy(update={"rules": rules}))
    crew.press("done")
    if capture == "by itself":
        crew.turn_over()
    return crew


def lay(crew: Crew, angle: float, away_s: float = 10.0, samples: int = 60) -> bool:
    """Lift, be away, lay down and press nothing; return whether it was taken."""
    before = len(crew.said(Captured))
    crew.carry(round(away_s * 10))
    crew.lay(angle, samples)
    return len(crew.said(Captured)) > before


def to_the_check(capture: str = "by itself", rules: int = RULES) -> Crew:
    """Return a crew that stands before the check, everything set by presses."""
    crew = crew_of(capture, rules)
    crew.on_hub_face()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    assert crew.step() == ("check", 1)
    return crew


def test_in_a_round_what_reads_as_expected_is_taken_and_the_record_says_by_what() -> None:
    crew = to_the_check()
    assert lay(crew, 17.0)
    assert lay(crew, 17.05)
    assert lay(crew, -3.0)
    assert [one.by for one in crew.said(Captured)[-3:]] == ["landing"] * 3


def rests_for_s(crew: Crew) -> float:
    """How long a level that is steady has to lie before it may be taken by itself."""
    case = crew.engine._way.case
    taking = case.takings.get("chord")
    assert taking is not None
    taking.landing.lift(crew.t_ns, read=False)
    taking.landing.rest(crew.t_ns)
    taking.landing.settle(crew.t_ns)
    tenths = [n for n in range(50) if waited(case, taking, case.step, crew.t_ns + n * NS // 10)]
    return tenths[0] / 10.0


@pytest.mark.parametrize(
    ("rules", "first", "held"),
    [(10, 1.5, 1.0), (RULES, 0.5, 0.5)],
)
def test_what_a_hand_turned_lies_longer(rules: int, first: float, held: float) -> None:
    """What bolts hold, and the hub face, do not relax after a hand."""
    assert rests_for_s(crew_of(rules=rules)) == first
    crew = to_the_check(rules=rules)
    assert rests_for_s(crew) == held
    for _ in "12":
        assert lay(crew, 17.0)
    assert crew.step() == ("final", "reference")
    assert rests_for_s(crew) == held
    assert crew.press("set", blade=1).result == "done"
    assert crew.step() == ("set", 1)
    assert rests_for_s(crew) == 2.0


def test_by_press_nothing_is_taken_by_itself() -> None:
    crew = to_the_check("by press")
    assert not lay(crew, 17.0)


def test_under_older_rules_the_first_reference_and_the_last_round_want_a_press() -> None:
    crew = crew_of(rules=10)
    assert not lay(crew, -3.0)
    crew = to_the_check(rules=10)
    for angle in (17.0, 17.0):
        assert lay(crew, angle)
    assert crew.step()[0] == "final"
    assert not lay(crew, -3.0) or crew.said(Captured)[-1].blade == "reference"
    crew.press()
    crew.lay(-3.0, 20)
    assert not lay(crew, 17.0)


@pytest.mark.parametrize(("tilt", "taken"), [(-3.4, True), (-2.6, True), (-3.6, False)])
def test_a_reference_is_expected_within_half_a_degree_of_the_one_before(
    tilt: float, taken: bool
) -> None:
    crew = to_the_check()
    for _ in "12":
        assert lay(crew, 17.0)
    assert crew.step() == ("final", "reference")
    assert lay(crew, tilt) == taken


@pytest.mark.parametrize(("second", "taken"), [(17.3, True), (17.5, False)])
def test_a_fresh_placement_is_expected_within_four_tenths_of_the_setting(
    second: float, taken: bool
) -> None:
    crew = crew_of()
    crew.on_hub_face()
    crew.on_blade(1)
    assert crew.step() == ("baseline", 1)
    assert lay(crew, second) == taken


@pytest.mark.parametrize(("angle", "taken"), [(17.25, True), (17.35, False)])
def test_in_a_round_a_blade_is_expected_within_three_tenths_of_what_it_is_held_to(
    angle: float, taken: bool
) -> None:
    crew = to_the_check()
    assert lay(crew, angle) == taken


@pytest.mark.parametrize("bench", [0.0, 12.0, 18.2])
def test_a_level_on_a_bench_is_not_taken(bench: float) -> None:
    crew = to_the_check()
    assert not lay(crew, bench)
    assert crew.step() == ("check", 1)


def test_the_same_blade_again_is_not_taken_for_the_next() -> None:
    """All blades stand at one angle: only the time in which a propeller is turned tells them apart."""
    crew = to_the_check()
    assert lay(crew, 17.0)
    assert not lay(crew, 17.0, away_s=2.0)
    assert crew.step() == ("check", 2)
    assert crew.press().result == "done"


def test_a_surprise_is_taken_when_a_second_landing_agrees_with_it() -> None:
    crew = to_the_check()
    assert not lay(crew, 17.9)
    assert lay(crew, 17.9, away_s=2.0)
    assert crew.said(Captured)[-1].angle_deg == pytest.approx(20.9, abs=0.1)


def test_a_surprise_that_a_second_landing_contradicts_is_not() -> None:
    crew = to_the_check()
    assert not lay(crew, 17.9)
    assert not lay(crew, 18.6, away_s=2.0)


def test_what_lay_there_when_the_step_came_up_is_not_taken() -> None:
    crew = crew_of()
    crew.carry()
    crew.lay(-3.0, 14)
    crew.press()
    crew.lay(-3.0, 80)  # the reference was taken; the level lies on
    assert len(crew.said(Captured)) == 1


def test_before_anything_was_read_a_blade_may_be_let_go_anywhere_within_the_tolerance() -> None:
    crew = crew_of()
    crew.lay(-3.0, 5)
    assert crew.engine.view().live.near_deg == 0.3
    crew.on_hub_face()
    last = next(row.u95_deg for row in crew.engine.view().blades if row.blade == "reference")
    assert last is not None
    assert crew.engine.view().live.near_deg == pytest.approx(max(0.1, 0.3 - last))


def test_while_setting_a_blade_far_from_its_angle_is_never_taken() -> None:
    crew = crew_of()
    crew.on_hub_face()
    assert not lay(crew, 17.25)
    assert lay(crew, 17.05)
    assert crew.said(Captured)[-1].stage == "set"


def test_it_waits_a_second_longer_than_a_press_would() -> None:
    pressed, waited = to_the_check("by press"), to_the_check()
    for crew in (pressed, waited):
        crew.carry(100)
    for crew in (pressed, waited):
        crew.lay(17.0, 14)
    before = len(waited.said(Captured))
    pressed.press()
    pressed.lay(17.0, 2)
    assert len(pressed.said(Captured)) == before + 1
    assert len(waited.said(Captured)) == before
    waited.lay(17.0, 40)
    assert len(waited.said(Captured)) == before + 1


def test_a_whole_job_needs_a_press_only_where_it_must_be() -> None:
    """By a simulated person that turns the propeller slowly, and presses when nothing comes."""
    outcome = simulated("by-itself", 1)
    assert outcome.closing.result == "within"
    taken = [e.body for e in outcome.recording.events if isinstance(e.body, Captured)]
    presses = [i for i in outcome.recording.inputs if isinstance(i, Command) and i.kind == "take"]
    assert len(presses) <= len(taken) // 2
    assert outcome.recording.events[-1].t_ns < 600 * NS
    by_press = [one.stage for one in taken if one.by == "press"]
    assert by_press[0] == "reference"
    assert "final" not in by_press


@pytest.mark.parametrize(
    ("angle", "away_s", "said", "taken"),
    [
        (17.0, 10.0, "hold still: taken by itself", True),
        (17.9, 10.0, "not as expected: lay it again, or press", False),
        (17.0, 2.0, "the same blade again? turn it over, or press", False),
    ],
)
def test_what_is_said_is_what_is_done(angle: float, away_s: float, said: str, taken: bool) -> None:
    """The words on the screen and the taking go by one limit."""
    crew = to_the_check()
    assert lay(crew, 17.0)
    assert crew.step() == ("check", 2)
    crew.carry(round(away_s * 10))
    words, before = set(), len(crew.said(Captured))
    for _ in range(60):
        crew.lay(angle, 1)
        live = crew.engine.view().live
        if live.motion == "ready" and not live.taken:
            words.add(live.words)
    assert words == {said}
    assert (len(crew.said(Captured)) == before + 1) == taken


def test_where_a_press_is_wanted_it_is_said() -> None:
    crew = to_the_check(rules=10)
    for angle in (17.0, 17.0, -3.0):
        lay(crew, angle)
    crew.carry(100)
    crew.lay(17.0, 30)
    assert crew.step() == ("final", 1)
    assert crew.engine.view().live.words == "ready: press, or lift it and turn it over"


@pytest.mark.parametrize(("rules", "blade_after", "first_after"), [(10, 1.0, 1.5), (11, 0.5, 0.5)])
def test_what_bolts_hold_and_the_hub_face_rest_for_less_and_a_loose_blade_as_ever(
    rules: int, blade_after: float, first_after: float
) -> None:
    """Beyond a good average: no hand has let go of them, so nothing relaxes."""

    def rests(crew: Crew, angle: float) -> float:
        """Lay it; return the seconds from a good average to the reading, or to "lay it again"."""
        crew.carry(100)
        good_ns = 0
        for _ in range(80):
            crew.lay(angle, 1)
            live = crew.engine.view().live
            good_ns = good_ns or (crew.t_ns if live.motion == "ready" else 0)
            if live.taken or live.lacks == "agreement":
                return (crew.t_ns - good_ns) / NS
        return float("nan")

    crew = crew_of(rules=rules)
    assert rests(crew, -3.0) == pytest.approx(first_after, abs=0.15)
    assert lay(crew, -3.0)
    assert lay(crew, 17.0)
    assert rests(crew, 17.0) == pytest.approx(1.0, abs=0.15)  # the fresh placement
    assert lay(crew, 17.0)
    assert lay(crew, 17.0)
    assert crew.step() == ("check", 1)
    assert rests(crew, 17.0) == pytest.approx(blade_after, abs=0.15)


@pytest.mark.parametrize(("rules", "taken"), [(10, True), (11, False)])
def test_while_the_witness_sees_the_hub_turn_nothing_lies_on_a_blade(
    rules: int, taken: bool
) -> None:
    """A bench that leans like the blade, beside a propeller that is turned to it."""
    plan = {**PLAN, "rounds": ["final"]}
    made = header(level=[LEVEL, HUB], plan=plan, setup={"capture": "by itself"})
    crew = Crew(made.model_copy(update={"rules": rules}))
    crew.put(Link("hub", "up", t_ns=crew.t_ns + 1))
    crew.beside["hub"] = lambda: of_the_hub(crew)
    crew.press("done")
    crew.turn_over()
    crew.on_hub_face()
    for blade in (1, 1, 2, 2):
        crew.on_blade(blade)
    crew.carry(100)
    crew.lay(-3.0, 60)
    assert crew.step() == ("final", 1)
    before = len(crew.said(Captured))
    crew.carry(10)
    for _ in range(50):
        crew.turned += 3.0
        crew.lay(17.0, 1)
    assert (len(crew.said(Captured)) > before) == taken
