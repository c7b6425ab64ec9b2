"""The ways to read the shaft's tilt: the hub face, half a turn apart, both sides of one blade."""

from dataclasses import replace
from typing import Any

import pytest

from daemon.measure.angle.geometry import planar_reading, projection_reading, seat
from daemon.measure.moved.model import Diagnosis, Finding
from daemon.workflow.carry import carried
from daemon.workflow.judging import all_alike
from shared.events import (
    REFERENCE,
    Asked,
    Captured,
    Event,
    Held,
    Noted,
    StepChanged,
    Summary,
    Verdict,
    VerdictState,
)
from shared.sentences import sentence
from tests.daemon.bench import LEVEL, Person, header

TILT = 3.0
ONE_EACH = {"rounds": ["check"], "reference_placements": 1}


def begun(by: str, **changes: Any) -> Person:
    """A job whose reference is read in one way; made safe already."""
    setup = {"reference": by, **changes.pop("setup", {})}
    person = Person(header(setup=setup, **{"plan": ONE_EACH, **changes}))
    person.press("done")
    return person


def half_of(person: Person) -> tuple[Any, int]:
    """Blade and half of the step that was announced last."""
    step = person.said(StepChanged)[-1]
    return step.blade, step.half


def tilt(person: Person) -> float:
    row = next(row for row in person.engine.view().blades if row.blade == REFERENCE)
    assert row.angle_deg is not None
    return row.angle_deg


def on_blade(beta: float, psi: float = 0.0) -> float:
    return planar_reading(seat(beta, TILT, psi))


def set_all(person: Person, angles: tuple[float, ...] = (20.0, 20.05)) -> None:
    for angle in angles:
        for _ in range(3):
            person.read(on_blade(angle))


def test_half_a_turn_takes_the_lean_of_the_face_out() -> None:
    person = begun("half-turn")
    assert half_of(person) == (REFERENCE, 1)
    person.read(-TILT - 0.25)
    assert half_of(person) == (REFERENCE, 2)
    person.read(-TILT + 0.25)
    assert tilt(person) == pytest.approx(TILT, abs=0.03)
    assert any("leans by 0.2" in note.say for note in person.said(Noted))
    set_all(person)
    assert [held.angle_deg for held in person.said(Held)] == pytest.approx([20.0, 20.05], abs=0.05)
    assert half_of(person) == (REFERENCE, 1)
    person.read(-TILT - 0.25)
    assert half_of(person) == (REFERENCE, 2)
    person.read(-TILT + 0.25)
    person.read(on_blade(20.0))
    person.read(on_blade(20.05))
    assert [v.state for v in person.said(Verdict)] == ["steady"] * 3


def test_all_placements_of_a_half_come_before_the_propeller_is_turned() -> None:
    person = begun("half-turn", plan={"rounds": ["check"], "reference_placements": 2})
    halves = []
    for lean in (0.2, 0.2, -0.2, -0.2):
        halves.append(half_of(person)[1])
        person.read(-TILT - lean)
    assert halves == [1, 1, 2, 2]
    assert person.step() == ("set", 1)


def test_a_withdrawn_half_is_asked_for_again() -> None:
    person = begun("half-turn")
    person.read(-TILT - 0.25)
    person.read(-TILT + 0.25)
    person.press("withdraw", id=1, reason="the hub was not at its place")
    assert half_of(person) == (REFERENCE, 1)
    person.read(-TILT - 0.25)
    assert person.step() == ("set", 1)
    assert tilt(person) == pytest.approx(TILT, abs=0.03)


def test_both_sides_of_one_blade_give_the_tilt_and_every_blade_angle() -> None:
    person = begun("both-sides")
    person.read(on_blade(18.0))
    first = person.said(Captured)[0]
    assert (first.half, first.blade) == (1, REFERENCE)
    assert first.angle_deg == pytest.approx(18.0 - TILT, abs=0.05)
    person.read(on_blade(18.0, 180.0))
    assert person.said(Captured)[1].angle_deg == pytest.approx(18.0 + TILT, abs=0.05)
    assert tilt(person) == pytest.approx(TILT, abs=0.03)
    set_all(person)
    assert [held.angle_deg for held in person.said(Held)] == pytest.approx([20.0, 20.05], abs=0.05)
    person.read(on_blade(20.0))
    person.read(on_blade(20.0, 180.0))
    person.read(on_blade(20.0))
    person.read(on_blade(20.05))
    person.end()
    assert [v.state for v in person.said(Verdict)] == ["steady"] * 3
    assert person.said(Summary)[0].closure_deg == pytest.approx(0.0, abs=0.05)


def test_a_projection_level_needs_no_sign_of_the_tilt() -> None:
    level = {**LEVEL, "settings": {**LEVEL["settings"], "convention": "projection"}}
    person = begun("both-sides", level=[level], setup={"psi_u_deg": 0.3})
    for psi in (0.0, 180.0):
        person.read(projection_reading(seat(18.0, -TILT, psi)))
    assert tilt(person) == pytest.approx(-TILT, abs=0.05)


def test_the_level_on_the_other_end_is_asked_about_and_never_taken_for_a_tilt() -> None:
    person = begun("both-sides")
    person.read(on_blade(18.0))
    person.read(-on_blade(18.0, 180.0) - 180.0)
    assert len(person.said(Captured)) == 1
    asked = person.said(Asked)
    assert "same end" in asked[-1].say
    person.press("confirm", id=asked[-1].id, sense="reversed")
    assert person.said(Captured)[-1].sense == "reversed"
    assert tilt(person) == pytest.approx(TILT, abs=0.03)


def test_a_level_that_shifted_looks_like_all_blades_and_that_is_said() -> None:
    person = begun("both-sides")
    person.read(on_blade(18.0))
    person.read(on_blade(18.0, 180.0))
    set_all(person)
    shift = 0.6
    angles = iter([on_blade(20.0), on_blade(20.0, 180.0), on_blade(20.0), on_blade(20.05)])
    for angle in angles:
        person.read(angle + shift)
    for _ in range(12):
        if person.step()[0] == "answer":
            break
        blade, half = half_of(person)
        person.read(on_blade(20.05 if blade == 2 else 20.0, 180.0 if half == 2 else 0.0) + shift)
    assert person.step()[0] == "answer"
    assert any("all blades changed alike" in note.say for note in person.said(Noted))


@pytest.mark.parametrize(
    ("second_deg", "state", "alike"),
    [(0.64, "moved", True), (0.36, "moved", True), (0.65, "moved", False), (0.5, "steady", False)],
)
def test_all_alike_are_blades_that_changed_by_one_amount_within_what_a_difference_is_known_to(
    second_deg: float, state: VerdictState, alike: bool
) -> None:
    """Each is known to 0.1: their difference to the root of two of that."""
    findings = (
        Finding(REFERENCE, "steady", 0.0, 0.03, 0.0, None, ""),
        Finding(1, "moved", 0.5, 0.1, 1.0, None, ""),
        Finding(2, state, second_deg, 0.1, 1.0, None, ""),
    )
    assert all_alike(Diagnosis(findings, (), shifted=False, probability_shifted=0.0)) == alike


def test_one_position_of_a_face_that_may_lean_says_so_in_every_budget_but_in_no_change() -> None:
    person = begun("hub-face", setup={"wobble_deg": 0.3}, plan={"rounds": ["check"]})
    person.read(-TILT)
    person.read(-TILT)
    row = next(row for row in person.engine.view().blades if row.blade == REFERENCE)
    lean = next(line for line in row.budget if line.name == "wobble")
    assert lean.u_deg == pytest.approx(0.3 / 2**0.5)
    assert lean.common
    set_all(person)
    assert all(held.u95_deg > 0.3 for held in person.said(Held))
    for angle in (-TILT, on_blade(20.0), on_blade(20.05)):
        person.read(angle)
    assert all(v.u95_deg < 0.2 for v in person.said(Verdict))


def test_the_words_say_where_the_level_goes() -> None:
    words = {}
    for by in ("hub-face", "half-turn", "both-sides"):
        person = begun(by)
        said = [person.engine.view().say]
        person.read(-TILT if by != "both-sides" else on_blade(18.0))
        words[by] = [*said, person.engine.view().say]
    assert "hub face" in words["hub-face"][0]
    assert "blade 1 horizontal" in words["hub-face"][0]
    assert "half a turn on" in words["half-turn"][1]
    assert "leading edge up" in words["both-sides"][0]
    assert "leading edge down" in words["both-sides"][1]
    assert "same end" in words["both-sides"][1]


def test_where_to_stand_follows_the_side_that_is_read() -> None:
    person = begun("both-sides")
    assert "aircraft's left), leading edge up" in person.engine.view().stand
    person.read(on_blade(18.0))
    assert "aircraft's right), leading edge down" in person.engine.view().stand


@pytest.mark.parametrize("by", ["hub-face", "half-turn", "both-sides"])
def test_a_session_that_goes_on_elsewhere_starts_from_the_same_tilt(by: str) -> None:
    person = begun(by)
    person.read(-1.0 if by != "both-sides" else on_blade(18.5))
    person.press("withdraw", id=1, reason="misplaced")
    if by == "both-sides":
        person.read(on_blade(18.0))
        person.read(on_blade(18.0, 180.0))
    else:
        person.read(-TILT)
        if by == "half-turn":
            person.read(-TILT)
    found = carried(person.events, by)  # type: ignore[arg-type]
    assert found["reference"]["theta_deg"] == pytest.approx(TILT, abs=0.03)
    assert 0.0 < found["reference"]["u_deg"] < 0.1


def test_a_tilt_that_is_carried_over_is_as_unsure_as_both_halves_of_it() -> None:
    """Half the root of the squares of two standard uncertainties; each is half of its 95 %."""
    person = begun("half-turn")
    person.read(-TILT)
    person.read(-TILT)
    first, second = person.said(Captured)
    told = replace(first, half=1, u95_deg=0.06), replace(second, half=2, u95_deg=0.08)
    halves = [Event(n, n, body) for n, body in enumerate(told, 1)]
    assert carried(halves, "half-turn")["reference"]["u_deg"] == pytest.approx(0.025)


def test_the_screen_is_told_when_the_reference_was_read() -> None:
    person = begun("hub-face")
    row = person.engine.view().blades[0]
    assert (row.blade, row.read_ns) == (REFERENCE, None)
    person.read(-TILT)
    taken = next(e for e in person.events if isinstance(e.body, Captured))
    assert person.engine.view().blades[0].read_ns == taken.t_ns


def test_half_a_reference_is_not_told_as_the_tilt() -> None:
    person = begun("half-turn")
    person.read(-TILT - 0.25)
    person.read(-TILT + 0.25)
    told = [sentence(one) or "" for one in person.said(Captured)]
    assert told[0].startswith("reference, first half, read: 3.2")
    assert told[1].startswith("reference, second half, read: 2.7")


def test_of_two_sides_of_a_blade_nobody_says_how_the_hub_face_leans() -> None:
    """They differ by twice the blade's angle; only half a turn of the hub shows its face."""

    def leans(person: Person) -> list[str]:
        return [one.say for one in person.said(Noted) if "lean" in one.say]

    person = begun("both-sides")
    person.read(on_blade(18.0))
    person.read(on_blade(18.0, 180.0))
    assert person.step()[0] == "set"
    assert leans(person) == []
    person = begun("half-turn")
    person.read(-TILT - 0.25)
    person.read(-TILT + 0.25)
    assert len(leans(person)) == 1
    assert "leans by 0.2" in leans(person)[0]
