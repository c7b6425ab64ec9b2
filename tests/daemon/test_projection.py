"""A level that shows one axis of gravity: told, asked, or refused, and never held on a guess."""

from typing import Any

import pytest

from daemon.measure.angle.geometry import projection_reading, seat
from shared.events import Asked, Captured, Held, Noted
from shared.inputs import Link
from tests.daemon.bench import LEVEL, Person, header
from tests.daemon.test_aircraft import HUB, Rigged

ONE_AXIS: dict[str, Any] = {
    **LEVEL,
    "settings": {
        **LEVEL["settings"],
        "convention": "projection",
        "accuracy": {"zero_deg": 0.05},
    },
}
SQUARE = {"psi_u_deg": 0.3, "skew_u_deg": 0.3}


def begun(target: float = 20.0, **setup: Any) -> Person:
    """A job with such a level, made safe already."""
    goal = {"angle_deg": target, "tolerance_deg": 0.3, "spread_deg": 0.3}
    person = Person(header(level=[ONE_AXIS], setup={**SQUARE, **setup}, target=goal))
    person.press("done")
    return person


def hub(theta: float) -> float:
    return projection_reading(seat(0.0, theta))


def blade(beta: float, theta: float, psi: float = 0.0) -> float:
    return projection_reading(seat(beta, theta, psi))


def cautions(person: Person) -> str:
    return " ".join(note.say for note in person.said(Noted) if note.kind == "caution")


def tell(person: Person, nose: str) -> None:
    """Put the level on the hub face, be asked, and say which way the shaft points."""
    person.read(hub(4.0))
    person.press("confirm", id=person.said(Asked)[-1].id, nose=nose)


@pytest.mark.parametrize(("nose", "theta"), [("up", 3.0), ("down", -3.0)])
def test_which_way_the_shaft_points_is_asked_once_and_believed(nose: str, theta: float) -> None:
    person = begun()
    person.read(hub(theta))
    assert person.said(Captured) == []
    asked = person.said(Asked)[-1]
    assert asked.wants == "nose"
    assert person.engine.view().question.wants == "nose"  # type: ignore[union-attr]
    assert person.press("confirm", id=asked.id).result == "refused", "it has to be said which"
    assert person.press("confirm", id=asked.id, nose="sideways").result == "refused"
    assert person.press("confirm", id=asked.id, nose=nose).result == "done"
    assert person.said(Captured)[-1].angle_deg == pytest.approx(theta, abs=0.1)
    person.read(hub(theta))
    for _ in range(3):
        person.read(blade(20.0, theta))
    assert len(person.said(Asked)) == 1
    held = person.said(Held)[-1]
    assert abs(held.angle_deg - 20.0) <= held.u95_deg < 0.3


@pytest.mark.parametrize(("nose", "theta"), [("up", 3.0), ("down", -3.0)])
def test_the_job_can_say_which_way_it_points(nose: str, theta: float) -> None:
    person = begun(nose=nose)
    for _ in range(2):
        person.read(hub(theta))
    for _ in range(3):
        person.read(blade(20.0, theta))
    assert person.said(Asked) == []
    held = person.said(Held)[-1]
    assert abs(held.angle_deg - 20.0) <= held.u95_deg < 0.3


@pytest.mark.parametrize("theta", [4.0, -4.0])
def test_a_witness_on_the_hub_tells(theta: float) -> None:
    person = Rigged(header(level=[ONE_AXIS, HUB], setup=SQUARE))
    person.put(Link("hub", "up", t_ns=person.t_ns + 1))
    person.taped, person.theta = True, theta
    person.press("done")
    person.read(hub(theta))
    assert person.said(Asked) == []
    assert person.said(Captured)[-1].angle_deg == pytest.approx(theta, abs=0.1)


def test_a_witness_that_sees_hardly_any_tilt_tells_nothing() -> None:
    person = Rigged(header(level=[ONE_AXIS, HUB], setup=SQUARE))
    person.put(Link("hub", "up", t_ns=person.t_ns + 1))
    person.taped, person.theta = True, 1.0
    person.press("done")
    person.read(hub(3.0))
    assert person.said(Asked)[-1].wants == "nose"


def test_what_was_told_is_forgotten_with_the_last_reading_it_went_into() -> None:
    person = begun()
    tell(person, "up")
    person.press("withdraw", id=1, reason="it was the other way")
    tell(person, "down")
    assert person.said(Captured)[-1].angle_deg == pytest.approx(-4.0, abs=0.1)


def test_a_tilt_that_may_be_the_level_lying_askew_is_not_taken() -> None:
    person = begun(skew_u_deg=1.0, nose="down")
    person.read(hub(-3.0))
    assert person.said(Captured) == []
    assert "cannot be told from how squarely" in cautions(person)


def test_a_blade_at_the_fold_is_refused_however_often_it_is_pressed() -> None:
    person = begun(target=10.0, nose="up")
    for _ in range(2):
        person.read(hub(12.0))
    assert "no blade can be held with it" in cautions(person)
    for _ in range(4):
        person.read(blade(10.0, 12.0, 1.0))
    person.press("confirm")
    assert len(person.said(Captured)) == 2
    assert person.said(Held) == []
    assert person.step() == ("set", 1)
    assert sum("no blade can be held with it" in n.say for n in person.said(Noted)) == 5


def test_a_blade_that_was_knocked_to_the_fold_is_not_read_there() -> None:
    person = begun(target=14.0, nose="up")
    for _ in range(2):
        person.read(hub(6.0))
    for _ in range(6):
        person.read(blade(14.0, 6.0))
    person.read(hub(6.0))
    read = len(person.said(Captured))
    person.read(blade(8.0, 6.0))
    assert len(person.said(Captured)) == read
    assert "within 4.00 of it the blade could be on either side" in cautions(person)


def test_a_blade_far_from_its_target_is_not_taken_on_anyones_word() -> None:
    person = begun(target=20.0, nose="up")
    for _ in range(2):
        person.read(hub(3.0))
    person.read(blade(50.0, 3.0))
    person.press("confirm")
    assert len(person.said(Captured)) == 2
    assert "-44.0" in cautions(person)


def test_both_sides_of_a_blade_at_the_fold_are_refused_until_it_is_turned_coarser() -> None:
    theta = 12.0
    person = begun(target=20.0, reference="both-sides")
    for _ in range(2):
        person.read(blade(10.0, theta))
    assert person.said(Captured) == []
    assert "turned well coarser" in cautions(person)
    for _ in range(2):
        person.read(blade(34.0, theta))
    for _ in range(2):
        person.read(blade(34.0, theta, 180.0))
    assert [c.angle_deg for c in person.said(Captured)] == pytest.approx(
        [22.0, 22.0, 46.0, 46.0], abs=0.1
    )
    for _ in range(3):
        person.read(blade(20.0, theta))
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.0, abs=0.1)


def test_both_sides_that_fit_another_tilt_as_well_are_asked_about() -> None:
    person = begun(target=10.0, reference="both-sides", skew_u_deg=0.3)
    for _ in range(2):
        person.read(blade(10.0, 3.0))
    person.read(blade(10.0, 3.0, 180.0))
    assert "from 3.0" in person.said(Asked)[-1].say
    assert "plumb line" in person.said(Asked)[-1].say
    assert len(person.said(Captured)) == 2
    person.press("confirm")
    assert person.said(Captured)[-1].angle_deg == pytest.approx(13.0, abs=0.1)


def test_a_blade_that_could_be_on_the_other_side_is_asked_about_once() -> None:
    person = begun(target=10.0, nose="up")
    for _ in range(2):
        person.read(hub(3.0))
    person.read(blade(10.0, 3.0))
    assert "leading edge forward" in person.said(Asked)[-1].say
    person.press("confirm")
    for _ in range(2):
        person.read(blade(10.0, 3.0))
    assert len(person.said(Asked)) == 1
    assert person.said(Held)[-1].angle_deg == pytest.approx(10.0, abs=0.1)


def test_a_target_finer_than_the_shafts_tilt_is_read_on_its_own_side() -> None:
    person = begun(target=-12.0, nose="up")
    for _ in range(2):
        person.read(hub(8.0))
    for _ in range(3):
        person.read(blade(-12.0, 8.0))
    assert person.said(Asked) == []
    assert person.said(Held)[-1].angle_deg == pytest.approx(-12.0, abs=0.1)
    live = person.engine.view().live
    assert live.angle_deg == pytest.approx(-12.0, abs=0.2)
