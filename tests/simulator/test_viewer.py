"""A demo that is played: the viewer's deeds are the hands, and the engine finds what was knocked."""

from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.demo.fast import STEP_NS, stamp
from daemon.session.headers import make_header
from shared.events import Alarm, Body, Captured, Event, StepChanged, Summary, Withdrawn
from shared.hands import Deed
from shared.inputs import ALL_SEEN, NS, Bytes, Command, CommandKind, Link
from simulator.hangar import Chunk, Hangar
from simulator.scenario import load


class Player:
    """Someone at the keys of a played demo, before the ordinary engine on data time."""

    def __init__(self, scenario: str = "quiet") -> None:
        self.hangar = Hangar(load(scenario), 1, played=True)
        self.engine = Engine(make_header(self.hangar.job, Path(), session="played"))
        self.events: list[Event] = []
        self._fresh: list[Event] = []
        self._t_ns = 0
        for level in self.hangar.job.level:
            self._feed(Link(level.name, "up", "", "played"))

    def _feed(self, item: Bytes | Link | Command) -> None:
        self._t_ns = max(self._t_ns + 1, self.hangar.now_ns)
        self._fresh += self.engine.feed(stamp(item, self._t_ns))

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds * NS / STEP_NS)):
            fresh, self._fresh = self._fresh, []
            self.events += fresh
            made = self.hangar.advance(self.hangar.now_ns + STEP_NS, fresh, self.engine.view)
            for item in made:
                assert isinstance(item, Chunk), "nobody presses but the player"
                self._feed(Bytes(item.level, item.channel, item.data))

    def do(self, deed: Deed, seconds: float = 1.5) -> str:
        words = self.hangar.do(deed)
        self.wait(seconds)
        return words

    def press(self, kind: CommandKind, **args: str | float) -> None:
        self._feed(Command(f"press-{self._t_ns}", "player", ALL_SEEN, kind, args))
        self.wait(0.2)

    @property
    def step(self) -> StepChanged:
        return next(e.body for e in reversed(self.events) if isinstance(e.body, StepChanged))

    def count(self, kind: type[Body]) -> int:
        return sum(isinstance(event.body, kind) for event in self.events)

    def read(self) -> None:
        """One step that reads: propeller, level, and where it is set the blade."""
        step = self.step
        self.do("propeller", 3.0)
        self.do("lay")
        if step.stage == "set":
            self.aim()
        before = self.count(Captured)
        self.press("take")
        for _ in range(20):
            self.wait(0.5)
            if self.count(Captured) > before:
                break
        self.do("lift")

    def aim(self) -> None:
        """Turn the blade by the keys until it is as near as a tenth of a degree brings it."""
        for _ in range(60):
            error = self.engine.view().live.error_deg
            assert error is not None
            if abs(error) <= 0.06:
                return
            size = "much " if abs(error) > 1.0 else ""
            self.do("much finer" if size and error > 0 else "finer" if error > 0 else
                    "much coarser" if size else "coarser", 1.0)  # fmt: skip

    def go_on(self) -> None:
        """Whatever the step wants."""
        if self.step.stage in {"prepare", "tighten", "slacken", "finished"}:
            self.press("done")
        elif self.step.stage == "answer":
            alarm = next(e.body for e in reversed(self.events) if isinstance(e.body, Alarm))
            self.press("acknowledge", id=alarm.id, then="set-again")
        else:
            self.read()

    def until(self, stage: str) -> None:
        for _ in range(60):
            if self.step.stage == stage:
                return
            self.go_on()
        raise AssertionError(f"never came to {stage}")

    def finish(self) -> Summary:
        for _ in range(120):
            if isinstance(self.events[-1].body, Summary):
                return self.events[-1].body
            self.go_on()
        raise AssertionError("never ended")


@pytest.fixture
def player() -> Player:
    it = Player()
    it.wait(0.5)
    return it


def test_a_whole_job_is_done_by_keys_and_a_knock_behind_its_back_is_found(player: Player) -> None:
    player.until("check")
    assert "knocked" in player.do("knock")
    summary = player.finish()
    (move,) = player.hangar.truth().moved
    assert summary.called_moved == [move.blade]
    assert summary.result == "within", "it was set again"
    assert player.hangar.finished


def test_the_hands_refuse_what_hands_would(player: Player) -> None:
    assert "nothing is to be read" in player.do("lay")
    assert "need not be turned" in player.do("propeller")
    assert "no blade is in the hands" in player.do("coarser")
    assert "in the hand" in player.do("lift")
    assert "turned over" in player.hangar.do("turn over")
    assert player.hangar.do("lift") == "the hands are busy"
    player.wait(4.0)
    assert "no other blade is held" in player.do("knock")
    player.until("set")
    assert "blade 1 is not horizontal: P turns" in player.do("lay")
    player.do("propeller", 3.0)
    assert "laid down" in player.hangar.do("lay")
    assert player.hangar.do("lift") == "the hands are busy"
    player.wait(2.0)
    assert "take it off first" in player.do("propeller")
    assert "lies already" in player.do("lay")
    assert "O takes it off" in player.do("turn over")


def test_a_blade_turns_by_what_its_key_says(player: Player) -> None:
    player.until("set")
    before = player.hangar.truth().angles_deg[0]
    player.do("much coarser")
    player.do("finer")
    assert player.hangar.truth().angles_deg[0] == pytest.approx(before + 0.9, abs=1e-6)
    assert player.hangar.truth().moved == (), "what the hands mean is no mishap"


def test_nothing_is_done_for_the_player(player: Player) -> None:
    player.wait(90.0)
    assert player.step.stage == "prepare"
    assert player.hangar.truth().stuck == ""


def test_the_hands_of_a_simulated_person_are_not_the_viewers() -> None:
    assert "simulated person" in Hangar(load("quiet"), 1).do("lay")


def test_by_the_level_alone_the_reference_is_read_and_a_reading_is_taken_back() -> None:
    player = Player("hands-free-quiet")
    player.wait(0.5)
    player.press("done")
    assert player.engine.view().turnover == "proof"
    player.do("turn over", 4.0)
    player.do("propeller", 3.0)
    for _ in range(2):
        assert player.count(Captured) == 0
        player.do("lay", 5.0)
        player.do("lift", 2.0)
    first, reading = [e.body for e in player.events if isinstance(e.body, Captured)]
    assert (first.blade, first.by) == (reading.blade, reading.by) == ("reference", "landing")
    assert player.engine.view().turnover == "back"
    player.do("turn over", 4.0)
    assert [e.body.id for e in player.events if isinstance(e.body, Withdrawn)] == [reading.id]
