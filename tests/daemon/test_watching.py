"""Levels left on held blades, in a job and alone; a witness on the hub."""

from typing import Any

import pytest

from daemon.core.engine import Engine
from daemon.measure.stream.tilts import Tilt
from daemon.workflow.hub import Hub
from shared.events import Alarm, Asked, Captured, Cleared, Noted, StepChanged, Summary, Watched
from shared.inputs import NS, Bytes, Link
from shared.job import Header
from tests.daemon.bench import LEVEL, Person, header, sentence
from tests.workflow.jobs import Crew

WATCH: dict[str, Any] = {
    "name": "left",
    "profile": "nmea-xdr",
    "role": "watch",
    "watches": 1,
    "settings": {
        "fields": {"angle": {"source": "LEFT"}},
        "noise": {"sd_deg": 0.02, "n": 1000},
        "seating": {"u_deg": 0.02, "n": 40},
    },
}
HUB: dict[str, Any] = {
    "name": "hub",
    "profile": "nmea-xdr",
    "role": "hub",
    "settings": {"fields": {"angle": {"source": "HUB"}}},
}


class Watcher(Person):
    """A person with a second level that is left somewhere, and talks all the time."""

    background: tuple[str, str, float] | None = None

    def send(self, angle_deg: float, noise_deg: float = 0.0) -> None:
        """Both levels send."""
        super().send(angle_deg, noise_deg)
        if self.background is not None:
            name, source, other = self.background
            shown = other + 0.02 * self._random.gauss(0.0, 1.0)
            self.put(Bytes(name, 0, sentence(shown, source), self.t_ns + 1))

    def left(
        self, angle_deg: float, samples: int, name: str = "left", source: str = "LEFT"
    ) -> None:
        """The other level sends; the one for the blades lies in its box."""
        self.background = (name, source, angle_deg)
        for _ in range(samples):
            self.t_ns += NS // 10
            shown = angle_deg + 0.02 * self._random.gauss(0.0, 1.0)
            self.put(Bytes(name, 0, sentence(shown, source), self.t_ns))


def watched(person: Person) -> list[str]:
    return [one.state for one in person.said(Watched)]


def test_a_blade_that_changes_under_its_watch_is_called_while_others_work() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.left(17.0, 100)
    assert watched(person) == [], "blade 1 is not held yet: anyone may turn it"
    person.up_to_round()
    person.left(17.0, 120)
    person.left(17.6, 120)
    assert watched(person) == ["quiet", "changed"]
    alarm = person.said(Alarm)[-1]
    assert (alarm.blade, alarm.kind) == (1, "changed")
    assert alarm.last_good_deg == pytest.approx(20.0, abs=0.03)
    change = person.said(Watched)[-1]
    assert change.change_deg == pytest.approx(0.6, abs=0.05)
    assert person.step() == ("check", "reference"), "the work in hand goes on"


def test_reading_the_blade_again_clears_the_watchs_alarm() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.left(17.0, 120)
    person.left(17.6, 120)
    person.round({"reference": -3.0, 1: 17.0, 2: 17.05})
    assert person.said(Cleared)[-1].how == "re-reading"
    assert person.step()[0] == "finished"


def test_a_blade_set_again_is_watched_anew() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.left(17.0, 120)
    person.press("set", blade=1)
    person.background = ("left", "LEFT", 17.3)
    for _ in range(3):
        person.read(17.3)
    person.left(17.3, 120)
    assert watched(person) == ["quiet", "quiet"]
    assert not person.said(Alarm)


def test_a_level_that_falls_silent_is_said_and_comes_back() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.left(17.0, 120)
    person.background = None
    person.t_ns += 5 * NS
    person.left(17.0, 150)
    assert "no signal" in watched(person)


def test_watching_alone_asks_for_nothing_and_ends_when_told() -> None:
    head = header(level=[WATCH]).model_copy(update={"procedure": "watch"})
    person = Watcher(head, level="left")
    assert person.step() == ("watch", None)
    person.left(17.0, 150)
    person.left(16.2, 150)
    assert watched(person) == ["quiet", "changed"]
    assert person.engine.view().live.words.startswith("left")
    assert person.press("take").result == "refused"
    assert person.press("done").result == "done"
    assert person.said(Summary)[-1].state == "finished"


def test_of_two_levels_left_on_blades_the_one_that_changed_is_shown() -> None:
    right = {**WATCH, "name": "right", "watches": 2}
    right["settings"] = {**WATCH["settings"], "fields": {"angle": {"source": "RIGHT"}}}
    head = header(level=[WATCH, right]).model_copy(update={"procedure": "watch"})
    crew = Crew(head, level="left")
    crew.lies("right", 12.0)
    crew.lay(17.0, 150)
    assert crew.engine.view().live.words == "left: quiet"
    crew.lies("right", 12.8)
    crew.lay(17.0, 150)
    live = crew.engine.view().live
    assert live.words == "right: changed"
    assert live.angle_deg == pytest.approx(12.8, abs=0.1)


def turn(person: Watcher, azimuth_deg: float) -> None:
    """The hub stands so; a planar level taped to it shows it."""
    person.left(azimuth_deg, 12, "hub", "HUB")


def test_the_hub_knows_which_blade_is_horizontal() -> None:
    person = Watcher(header(level=[LEVEL, HUB]))
    person.put(Link("hub", "up", t_ns=person.t_ns + 1))
    turn(person, 0.0)
    person.up_to_round(angles=(20.0,))
    turn(person, 180.0)
    for _ in range(3):
        person.read(17.05)
    assert [c.blade for c in person.said(Captured)][-3:] == [2, 2, 2]
    person.read(-3.0)
    assert person.step() == ("check", 1)
    person.read(17.05)
    assert person.said(Captured)[-1].blade == 2, "blade 2 is horizontal, whatever was asked for"
    assert person.step() == ("check", 1)
    person.read(17.05)
    assert "sees blade 2 horizontal" in person.said(Asked)[-1].say
    turn(person, 0.0)
    person.read(17.0)
    assert person.said(Captured)[-1].blade == 1
    steps = [s.blade for s in person.said(StepChanged)]
    assert steps[-1] is None


def test_every_blade_read_ties_the_witness_by_its_own_socket() -> None:
    """Sockets that are not evenly spaced: blade 2 stands 130 degrees behind blade 1."""
    propeller = {"blades": 3, "rotation": "clockwise", "layout": "tractor"}
    uneven = {**propeller, "azimuths_deg": [0.0, 130.0, 240.0], "station": "75 % radius"}
    hub = Hub(header(level=[LEVEL, HUB], propeller=uneven))
    for blade, turned in ((1, 0.0), (2, -130.0), (3, -240.0)):
        for n in range(10):
            hub.push(Tilt(turned, None, None), n)
        hub.tie(blade)
        assert hub.horizontal() == blade
        azimuth = hub.azimuth(blade)
        assert azimuth is not None
        assert azimuth[0] == pytest.approx(0.0, abs=1e-6)


def test_a_replay_watches_the_same() -> None:
    person = Watcher(header(level=[LEVEL, WATCH]))
    person.up_to_round()
    person.left(17.0, 120)
    person.left(17.6, 120)
    engine = Engine(person.header)
    events = [event for item in person.inputs for event in engine.feed(item)]
    assert events == person.events


def only_watching() -> Header:
    return header(level=[LEVEL, WATCH]).model_copy(update={"procedure": "watch"})


@pytest.mark.parametrize("kind", ["take", "back", "again", "name", "set"])
def test_a_watch_only_does_what_a_watch_can(kind: str) -> None:
    """A refusal says so, and what is refused is not offered: pressing `back` undid nothing."""
    person = Watcher(only_watching())
    person.left(17.0, 30)
    answer = person.press(kind, blade=1)
    assert answer.result == "refused"
    assert person.step() == ("watch", None)
    view = person.engine.view()
    assert kind not in view.offers
    assert view.press == "done"


def test_setting_again_is_no_answer_while_only_watching() -> None:
    person = Watcher(only_watching())
    person.left(17.0, 120)
    person.left(17.6, 120)
    [alarm] = person.engine.view().alarms
    assert not alarm.settable
    assert person.press("acknowledge", id=alarm.id, then="set-again").result == "refused"
    assert (
        person.press("acknowledge", id=alarm.id, then="accept", by="A", reason="b").result == "done"
    )


def test_watching_says_that_a_level_on_the_hub_is_no_witness() -> None:
    for level in (HUB, {**HUB, "role": "watch", "watches": 0}):
        alone = header(level=[LEVEL, WATCH, level]).model_copy(update={"procedure": "watch"})
        watcher = Watcher(alone)
        said = [note.say for note in watcher.said(Noted) if "no witness" in note.say]
        assert len(said) == (1 if level is HUB else 0)
