"""The aircraft tilts while the blades are set; a level taped to the hub may see it."""

import math
from collections.abc import Sequence
from functools import reduce
from typing import Any

import pytest

from daemon.measure.angle.witness import Seen
from daemon.measure.stream.tilts import Tilt
from daemon.workflow.aircraft import SURE_NS, Aircraft
from daemon.workflow.hub import Hub
from shared.events import REFERENCE, Alarm, Asked, Captured, Held, Noted, Verdict
from shared.inputs import NS, Bytes, Link
from tests.daemon.bench import LEVEL, Person, header

HUB: dict[str, Any] = {
    "name": "hub",
    "profile": "nmea-xdr",
    "role": "hub",
    "settings": {
        "convention": "vector",
        "mounting": {"span": "-y"},
        "fields": {role: {"source": role.upper(), "unit": "g"} for role in ("ax", "ay", "az")},
    },
}


class Rigged(Person):
    """A person with a level taped to the hub of an aircraft that may tilt.

    Attributes:
        theta: true tilt of the shaft; turned: where the hub stands; knocked: of the witness.
    """

    theta, turned, knocked = 3.0, 0.0, 0.0
    taped = False

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        super().send(angle_deg, noise_deg)
        if not self.taped:
            return
        up, psi = math.radians(self.theta + self.knocked), math.radians(self.turned)
        axes = {
            "AX": math.cos(up) * math.cos(psi),
            "AY": -math.cos(up) * math.sin(psi),
            "AZ": math.sin(up),
        }
        body = "IIXDR," + ",".join(f"G,{value:.5f},G,{name}" for name, value in axes.items())
        check = reduce(lambda a, b: a ^ b, body.encode(), 0)
        self.put(Bytes("hub", 0, b"$%s*%02X\r\n" % (body.encode(), check), self.t_ns + 1))

    def on_hub(self) -> None:
        self.turned = 0.0
        self.read(-self.theta)

    def on_blade(self, blade: int, truly: float = 20.0) -> None:
        self.turned = 180.0 * (blade - 1)
        self.read(truly - self.theta)

    def work(self, truly: dict[Any, float]) -> None:
        """Read what is asked for until the round, or the job, is over."""
        stage = self.step()[0]
        for _ in range(30):
            now, blade = self.step()
            if now != stage:
                return
            if blade == REFERENCE:
                self.on_hub()
            else:
                self.on_blade(blade, truly[blade])
        raise AssertionError(f"{stage} does not end")


def rigged(hub: bool = True, **tables: Any) -> Rigged:
    person = Rigged(header(level=[LEVEL, HUB] if hub else [LEVEL], **tables))
    if hub:
        person.put(Link("hub", "up", t_ns=person.t_ns + 1))
    person.taped = hub
    person.press("done")
    while person.step()[0] == "reference":
        person.on_hub()
    return person


def cautions(person: Person, part: str) -> int:
    return sum(part in note.say for note in person.said(Noted))


def test_a_tilt_while_setting_sends_the_person_back_to_the_reference() -> None:
    person = rigged()
    for _ in range(3):
        person.on_blade(1)
    assert person.step() == ("set", 2)
    person.on_blade(2)
    person.theta += 0.6
    person.lay(20.0 - person.theta, 80)
    assert cautions(person, "tilted nose-up by 0.60") == 1
    assert person.step() == ("reference", REFERENCE)
    # the level still lies on the blade: it is no reading of the reference
    assert person.press("take").result == "refused"
    assert len(person.said(Captured)) == 6
    person.on_hub()
    person.on_hub()
    assert person.step() == ("baseline", 2)
    for _ in range(2):
        person.on_blade(2)
    assert [held.angle_deg for held in person.said(Held)] == pytest.approx([20.0, 20.0], abs=0.05)
    person.work({1: 20.0, 2: 20.0})
    assert {v.state for v in person.said(Verdict)} == {"steady"}
    assert not person.said(Alarm)


def test_a_witness_that_was_knocked_is_found_out_by_the_reference() -> None:
    person = rigged()
    person.on_blade(1)
    person.knocked = 0.7
    person.lay(17.0, 80)
    assert person.step() == ("reference", REFERENCE)
    person.on_hub()
    person.on_hub()
    assert cautions(person, "does the witness still sit as it was taped") == 1
    assert person.step() == ("baseline", 1)


def test_a_tilt_in_a_round_is_followed_where_reference_and_witness_agree() -> None:
    person = rigged()
    for blade in (1, 1, 1, 2, 2, 2):
        person.on_blade(blade)
    person.on_hub()
    person.on_blade(1)
    person.theta -= 0.5
    person.lay(20.0 - person.theta, 80)
    assert cautions(person, "tilted nose-down by 0.50") == 1
    assert person.step() == ("check", REFERENCE)
    person.work({1: 20.0, 2: 20.0})
    states = {v.blade: v.state for v in person.said(Verdict)}
    assert states == {REFERENCE: "shifted", 1: "steady", 2: "steady"}
    assert cautions(person, "it was the aircraft") == 1
    assert person.engine._case.hub.tilted is None, "what the witness saw has its answer"
    assert not person.said(Alarm)
    assert person.step()[0] == "finished"
    angles = [row.angle_deg for row in person.engine.view().blades]
    assert angles == pytest.approx([2.5, 20.0, 20.0], abs=0.05)


USUAL: dict[str, Any] = {"rounds": [], "baseline_placements": 1, "reference_placements": 1}


def test_a_tilt_at_the_bolts_has_the_reference_read_in_the_round_that_would_spare_it() -> None:
    person = rigged(plan=USUAL)
    for blade in (1, 1, 2, 2):
        person.on_blade(blade)
    assert person.step()[0] == "tighten"
    person.theta += 0.5
    person.carry(80)
    assert cautions(person, "tilted nose-up by 0.50") == 1
    person.press("done")
    assert person.step() == ("snug", REFERENCE)
    person.work({1: 20.0, 2: 20.0})
    assert {v.blade: v.state for v in person.said(Verdict)}[REFERENCE] == "shifted"
    assert not person.said(Alarm)


def test_a_reading_taken_back_after_a_tilt_is_read_anew_by_the_tilt_that_is() -> None:
    person = rigged(plan=USUAL | {"rounds": ["check"]})
    for blade in (1, 1, 2, 2):
        person.on_blade(blade)
    assert person.step()[0] == "check"
    person.theta += 0.5
    person.carry(80)
    assert cautions(person, "tilted nose-up by 0.50") == 1
    person.press("back")
    assert person.step() == ("reference", REFERENCE)
    person.on_hub()
    assert person.step() == ("baseline", 2)
    person.on_blade(2)
    assert person.said(Held)[-1].angle_deg == pytest.approx(20.0, abs=0.05)
    person.work({1: 20.0, 2: 20.0})
    assert not person.said(Alarm)
    assert {v.state for v in person.said(Verdict) if v.blade != REFERENCE} == {"steady"}


def test_a_moved_blade_is_called_although_the_aircraft_tilted_too() -> None:
    person = rigged()
    for blade in (1, 1, 1, 2, 2, 2):
        person.on_blade(blade)
    person.on_hub()
    person.theta -= 0.5
    person.on_blade(1)
    person.lay(20.0 - person.theta, 80)
    person.work({1: 20.0, 2: 21.0})
    assert person.step()[0] == "answer"
    assert [(a.blade, a.kind) for a in person.said(Alarm)] == [(2, "moved")]


def test_without_a_witness_nobody_is_accused_of_a_shift_between_two_blades() -> None:
    person = rigged(hub=False)
    for _ in range(3):
        person.on_blade(1)
    person.theta += 0.5
    for _ in range(3):
        person.read(20.0 - 3.0)  # set to what the old tilt makes of it
    person.work({1: 20.0, 2: 20.0 + 0.5})
    last = {v.blade: v for v in person.said(Verdict)}
    assert {blade: v.state for blade, v in last.items()} == {
        REFERENCE: "shifted", 1: "steady", 2: "steady",
    }  # fmt: skip
    assert "truly 0.50 coarser" in last[2].say
    alarm = person.said(Alarm)[-1]
    assert alarm.kind == "shifted"
    person.press("acknowledge", id=alarm.id, then="accept", by="A. Wren", reason="a soft tyre")
    assert [(a.blade, a.kind) for a in person.said(Alarm)][-1] == (2, "out")


def test_a_reference_far_from_the_one_before_is_asked_about() -> None:
    person = rigged(hub=False)
    for blade in (1, 1, 1, 2, 2, 2):
        person.on_blade(blade)
    person.read(16.0)
    assert "before it was 3.0" in person.said(Asked)[-1].say
    assert person.step() == ("check", REFERENCE)


@pytest.mark.parametrize(
    ("by_deg", "asked"), [(4.6, False), (-4.6, False), (5.4, True), (-5.4, True)]
)
def test_an_aircraft_may_tilt_by_five_degrees_meanwhile_before_it_is_asked_about(
    by_deg: float, asked: bool
) -> None:
    """No source: what a tail on a trestle or a flat tyre comes to at most is common practice."""
    person = rigged(hub=False)
    person.work({1: 20.0, 2: 20.0})
    for _ in range(6):
        if person.step()[0] == "check":
            break
        person.on_blade(person.step()[1], 20.0)
    person.theta += by_deg
    person.read(-person.theta)
    assert bool(person.said(Asked)) == asked


def looks(turn: float, theta: float) -> list[Seen]:
    return [Seen(turn, theta)] * 10


def test_the_witness_is_held_against_itself_at_the_same_place_only() -> None:
    aircraft = Aircraft()
    for t, (turn, theta) in enumerate([(0, 3.0), (120, 3.9), (240, 2.4), (0, 3.0), (120, 3.9)]):
        assert aircraft.look(looks(turn, theta), t * 60 * NS) is None
        assert aircraft.look(looks(turn, theta), t * 60 * NS + SURE_NS) is None
    assert aircraft.look(looks(240, 2.7), 600 * NS) is None, "someone may lean on the wing"
    assert aircraft.look(looks(240, 2.7), 600 * NS + SURE_NS) == pytest.approx(0.3)
    assert aircraft.look(looks(240, 2.7), 700 * NS) is None, "said once"


def test_a_place_that_is_not_quite_the_same_may_differ_by_the_tape() -> None:
    aircraft = Aircraft()
    assert aircraft.look(looks(0, 3.0), 0) is None
    for second in range(1, 20):
        assert aircraft.look(looks(2.5, 3.15), second * NS) is None


@pytest.mark.parametrize(("change", "said"), [(0.099, False), (0.101, True), (-0.101, True)])
def test_a_tilt_of_a_tenth_is_said_where_the_hub_stands_as_it_stood(
    change: float, said: bool
) -> None:
    aircraft = Aircraft()
    aircraft.look(looks(0, 3.0), 0)
    assert aircraft.look(looks(0, 3.0 + change), NS) is None
    assert (aircraft.look(looks(0, 3.0 + change), NS + SURE_NS) is not None) is said


@pytest.mark.parametrize(("change", "said"), [(0.195, False), (0.21, True)])
def test_a_hub_that_stands_a_little_on_may_differ_by_two_degrees_times_the_sine_of_it(
    change: float, said: bool
) -> None:
    """0.1 + 2 sin 2.9, from the first look on or the later one: a level taped out of square by two degrees."""
    for first, then in ((0.0, 2.9), (2.9, 0.0)):
        aircraft = Aircraft()
        aircraft.look(looks(first, 3.0), 0)
        aircraft.look(looks(then, 3.0 + change), NS)
        found = aircraft.look(looks(then, 3.0 + change), NS + SURE_NS)
        assert (found is not None) is said


@pytest.mark.parametrize(("turn", "same"), [(2.96, True), (2.98, False)])
def test_a_hub_is_at_the_same_place_within_three_uncertainties_of_both_looks(
    turn: float, same: bool
) -> None:
    """A blade is brought to its azimuth within 0.7, both times: 3 sqrt(2) 0.7 is 2.970."""
    aircraft = Aircraft()
    aircraft.look(looks(0, 3.0), 0)
    aircraft.look(looks(turn, 4.0), NS)
    assert (aircraft.look(looks(turn, 4.0), NS + SURE_NS) is not None) is same


def test_a_tilt_has_to_last_and_to_last_without_a_break() -> None:
    aircraft = Aircraft()
    aircraft.look(looks(0, 3.0), 0)
    assert aircraft.look(looks(0, 3.5), 10 * NS) is None
    assert aircraft.look(looks(0, 3.5), 10 * NS + SURE_NS - 1) is None
    aircraft.look(looks(0, 3.0), 16 * NS)  # whoever leaned on it lets go
    assert aircraft.look(looks(0, 3.5), 17 * NS) is None
    aircraft.look(looks(90, 3.0), 18 * NS)  # the hub is turned away
    assert aircraft.look(looks(0, 3.5), 19 * NS) is None
    assert aircraft.look(looks(0, 3.5), 19 * NS + SURE_NS - 1) is None
    assert aircraft.look(looks(0, 3.5), 19 * NS + SURE_NS) == pytest.approx(0.5)


def test_after_a_tilt_was_said_the_hub_is_held_to_where_it_stands_and_nothing_older() -> None:
    aircraft = Aircraft()
    for at, turn in enumerate((0, 90)):
        aircraft.look(looks(turn, 3.0), at * NS)
    for at in (10 * NS, 10 * NS + SURE_NS):
        found = aircraft.look(looks(0, 3.5), at)
    assert found == pytest.approx(0.5)
    assert aircraft.look(looks(90, 3.5), 30 * NS) is None, "what was seen there is of before"
    assert aircraft.look(looks(90, 3.5), 30 * NS + SURE_NS) is None
    assert aircraft.look(looks(0, 3.9), 40 * NS) is None
    assert aircraft.look(looks(0, 3.9), 40 * NS + SURE_NS) == pytest.approx(0.4)


def test_a_reference_that_was_read_forgets_what_was_seen_and_since_when() -> None:
    aircraft = Aircraft()
    aircraft.look(looks(0, 3.0), 0)
    aircraft.look(looks(0, 3.5), 10 * NS)
    aircraft.forget()
    assert aircraft.look(looks(0, 3.5), 20 * NS) is None
    assert aircraft.look(looks(0, 3.5), 20 * NS + SURE_NS) is None
    assert aircraft.look(looks(0, 4.0), 30 * NS) is None
    assert aircraft.look(looks(0, 4.0), 30 * NS + SURE_NS) == pytest.approx(0.5)


@pytest.mark.parametrize(("swing", "steady"), [(0.25, True), (0.5, False)])
def test_a_hub_whose_tilt_goes_further_than_three_tenths_is_not_looked_at(
    swing: float, steady: bool
) -> None:
    aircraft = Aircraft()
    now = [Seen(0.0, 3.0 + swing * (k % 2)) for k in range(10)]
    aircraft.look(now, 0)
    later = [Seen(0.0, seen.theta_deg + 1.0) for seen in now if seen.theta_deg is not None]
    aircraft.look(later, NS)
    assert (aircraft.look(later, NS + SURE_NS) is not None) is steady


def test_an_aircraft_that_rocks_is_not_looked_at() -> None:
    aircraft = Aircraft()
    aircraft.look(looks(0, 3.0), 0)
    rocking = [Seen(0.0, 3.0 + 0.5 * (-1) ** k) for k in range(10)]
    for second in range(1, 20):
        assert aircraft.look(rocking, second * NS) is None


class Looked(Aircraft):
    """Counts the looks that it is given."""

    def __init__(self) -> None:
        super().__init__()
        self.given: list[int] = []

    def look(self, now: Sequence[Seen], now_ns: int) -> float | None:
        self.given.append(len(now))
        return super().look(now, now_ns)


def test_the_aircraft_is_looked_at_by_ten_looks_at_a_hub_that_stands_still() -> None:
    hub = Hub(header(level=[LEVEL, HUB]))
    hub.aircraft = looked = Looked()

    def push(psi_deg: float) -> None:
        psi = math.radians(psi_deg)
        hub.push(Tilt(0.0, None, (math.cos(psi), -math.sin(psi), 0.05)), 0)

    for _ in range(9):
        push(0.0)
    assert looked.given == [], "nine are too few, though the hub is known to stand"
    assert hub.theta_deg() is not None
    push(0.0)
    push(0.0)
    assert looked.given == [10, 10]
    for turn in range(1, 12):
        push(5.0 * turn)
    assert looked.given == [10, 10], "it is turned"
    hub.lost()
    push(60.0)
    assert looked.given == [10, 10]


def test_a_session_of_older_rules_goes_back_to_the_reference_when_it_tilts_while_setting() -> None:
    """Under rules 7 the witness's word alone does it; since rules 8 no step goes on by a tilt that was."""
    person = Rigged(header(level=[LEVEL, HUB]).model_copy(update={"rules": 7}))
    person.put(Link("hub", "up", t_ns=person.t_ns + 1))
    person.taped = True
    person.press("done")
    while person.step()[0] == "reference":
        person.on_hub()
    person.on_blade(1)
    person.theta += 0.6
    person.lay(20.0 - person.theta, 80)
    assert cautions(person, "tilted nose-up by 0.60") == 1
    assert person.step() == ("reference", REFERENCE)
