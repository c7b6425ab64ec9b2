"""An aircraft that sways: what was read before that was known, and what hangs on it."""

import math

import pytest

from daemon.measure.angle.budget import Line
from daemon.workflow import baselines
from daemon.workflow.case import Case
from daemon.workflow.ledger import Entry
from shared.events import REFERENCE, Captured, Held, Noted, Verdict
from shared.inputs import NS
from tests.daemon.bench import LEVEL, PERIOD_NS, Person, header
from tests.measure.levels import reading

DEG, HZ, TILT_DEG = 0.2, 0.13, 3.0
SD_DEG = DEG / math.sqrt(2.0)


class Aboard(Person):
    """Works on an aircraft that sways by 0.2, once in 7.7 seconds."""

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        """One sample; the shaft goes up and down."""
        turns = 2.0 * math.pi * HZ * (self.t_ns + PERIOD_NS) / NS
        super().send(angle_deg + DEG * math.sin(turns), noise_deg)

    def place(self) -> None:
        """Lift, hear what is wanted, lay down, press, wait until it is taken, and a little longer."""
        self.carry()
        _, blade = self.step()
        before, angle_deg = len(self.said(Captured)), 0.0 if blade == REFERENCE else 20.0
        self.lay(angle_deg - TILT_DEG, 12)
        self.press()
        for _ in range(110):
            if len(self.said(Captured)) > before:
                break
            self.lay(angle_deg - TILT_DEG, 1)
        self.lay(angle_deg - TILT_DEG, 12)

    def work(self, until: str) -> "Aboard":
        """Do whatever the step wants until a caution says this, or up to a stage of this name."""
        self.press("done")
        for _ in range(60):
            if self.step()[0] == until or any(until in noted.say for noted in self.said(Noted)):
                break
            self.place()
        return self

    @property
    def entries(self) -> list[Entry]:
        """All readings."""
        return self.engine._case.ledger.entries


class Later(Aboard):
    """The wind rises only when somebody says so."""

    calm = True

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        """One sample."""
        if self.calm:
            Person.send(self, angle_deg, noise_deg)
        else:
            super().send(angle_deg, noise_deg)


def sway_of(entry: Entry) -> list[Line]:
    return [line for line in entry.angle.budget.lines if line.name == "sway"]


@pytest.fixture(scope="module")
def known() -> Aboard:
    """Somebody who was just told that it sways, and laid the level down once since."""
    return Aboard(header()).work("sways")


@pytest.fixture(scope="module")
def held() -> Aboard:
    """Somebody who went on from there until all is held."""
    return Aboard(header()).work("check")


def test_it_is_said_with_about_its_size(known: Aboard) -> None:
    say = next(noted.say for noted in known.said(Noted) if "sways" in noted.say)
    by_deg = float(say.split("about ")[1].split()[0])
    assert by_deg == pytest.approx(DEG, rel=0.35)
    assert "the reference is read again first" in say.lower()


def test_what_was_read_before_is_as_unsure_as_the_sway(known: Aboard) -> None:
    *before, since = known.entries
    assert before
    assert not sway_of(since)
    for entry in before:
        (line,) = sway_of(entry)
        assert line.u_deg == pytest.approx(SD_DEG, rel=0.35)


def test_the_reference_is_read_again_before_anything_else(known: Aboard) -> None:
    assert known.step() == ("reference", REFERENCE)
    assert known.engine._case.members.reference.baseline is None


def test_what_is_read_since_knows_of_the_sway(held: Aboard) -> None:
    since = [entry for entry in held.entries if not sway_of(entry)]
    assert len(since) >= 8
    for entry in since:
        true = TILT_DEG if entry.blade == REFERENCE else 20.0
        assert entry.angle.angle_deg == pytest.approx(true, abs=0.16)


def test_everything_hangs_on_the_new_reference(held: Aboard) -> None:
    """A level that lies squarely shows the blade's angle less the tilt."""
    reference = held.engine._case.referred.reference
    assert reference is not None
    assert reference.theta_deg == pytest.approx(TILT_DEG, abs=0.06)
    for entry in held.entries:
        if entry.blade != REFERENCE:
            angle = entry.reading.mean_deg + reference.theta_deg
            assert entry.angle.angle_deg == pytest.approx(angle, abs=0.005)


def test_blades_that_were_placed_before_are_placed_again_as_often_as_planned(held: Aboard) -> None:
    for blade in (1, 2):
        entries = held.engine._case.ledger.of(blade, "baseline", 1)
        assert sum(not sway_of(entry) for entry in entries) >= 2
    assert held.said(Held)[-1].u95_deg < 0.25


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_nobody_is_accused(seed: int) -> None:
    person = Aboard(header(), seed).work("finished")
    said = {verdict.state for verdict in person.said(Verdict)}
    assert said <= {"steady", "not known", "place again"}
    assert said


def test_what_is_held_is_said_anew_once_the_reference_was_read_in_the_sway() -> None:
    person = Later(header())
    person.up_to_round()
    person.calm = False
    for _ in range(40):
        if any("sways" in noted.say for noted in person.said(Noted)):
            break
        person.carry()
        person.lay(-TILT_DEG, 120)  # and nothing is pressed
    assert person.step() == ("reference", REFERENCE)
    before = len(person.said(Held))
    while person.step()[0] == "reference":
        person.place()
    said = {held.blade: held.angle_deg for held in person.said(Held)[before:]}
    shown = {row.blade: row.angle_deg for row in person.engine.view().blades[1:]}
    assert said == pytest.approx(shown, abs=1e-6)


def test_a_sway_that_is_found_to_be_more_widens_further_but_reads_nothing_again() -> None:
    person = Aboard(header()).work("sways")
    case = person.engine._case
    before = [line.u_deg for entry in person.entries for line in sway_of(entry)]
    assert not baselines.sways(case, 0.3)
    now = [line.u_deg for entry in person.entries for line in sway_of(entry)]
    assert len(now) == len(before)
    assert now == pytest.approx([0.3] * len(now))
    assert not baselines.sways(case, 0.1)
    assert [line.u_deg for e in person.entries for line in sway_of(e)] == pytest.approx(now)


def test_a_job_at_rest_has_no_such_line() -> None:
    person = Person(header())
    person.up_to_round()
    assert not any(sway_of(entry) for entry in person.engine._case.ledger.entries)


def test_in_a_blade_off_horizontal_a_sway_counts_as_the_angle_follows_the_level() -> None:
    """A projection level on a level shaft shows sin r = sin b cos psi: db/dr = cos r / (cos b cos psi)."""
    level = {**LEVEL, "settings": {**LEVEL["settings"], "convention": "projection"}}
    referred = Case(header(level=[level]), lambda _: 0).referred
    shown, psi = reading(35.0), 12.0
    angle = referred.of_blade("chord", shown, "normal", (psi, 0.1))
    entry = Entry(1, 1, "check", 1, "chord", shown, "normal", angle, 0, azimuth=(psi, 0.1))
    (line,) = [one for one in referred.swaying(entry, 0.2).budget.lines if one.name == "sway"]
    r, tipped = math.radians(35.0), math.cos(math.radians(psi))
    slope = math.cos(r) / (math.cos(math.asin(math.sin(r) / tipped)) * tipped)
    assert slope > 1.03
    assert line.u_deg == pytest.approx(0.2 * slope, rel=1e-3)
