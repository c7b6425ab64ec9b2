"""A level of a format that no profile describes: from plug to a first captured reading, by `new` alone."""

import os
import sys
import termios
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from daemon.levels.guided import FIRST
from simulator.draws import Draws
from simulator.line import Line
from simulator.strangers.level import Stranger
from simulator.strangers.person import Motion, Performer
from simulator.strangers.speeds import read_at
from tests.levels.test_guided import SPEEDS, a_level
from tests.whole.program import Running, end_all

if sys.platform == "win32":
    collect_ignore = ["test_new_stranger.py"]
else:
    from tests.whole.beginning import ITS_PROPELLER
    from tests.whole.dialogue import Dialogue

pytestmark = pytest.mark.long
SLOPE_ASKED = (("on a level floor", 0.0), ("Lay it on the surface", 90.0))


class InHand:
    """An invented level that streams on a pseudo-terminal while somebody moves it, in real time."""

    def __init__(self, level: Stranger, line: Line) -> None:
        self.level, self.line = level, line
        self.port = line.open()
        self._draws = Draws(level.seed, 3)
        self._performer = Performer(self._draws)
        self._since = (0.0, time.monotonic())
        self.move("still", None)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._stream, daemon=True)
        self._thread.start()

    def move(self, motion: Motion, deg: float | None) -> None:
        """Begin a motion; the level then lies as it ends."""
        performance = self._performer.show([(motion, deg)])
        self._since = (performance.asked[-1].start_ns / 1e9, time.monotonic())

    def stop(self) -> None:
        """Fall silent."""
        self._stop.set()
        self._thread.join()
        self.line.close()

    def _stream(self) -> None:
        begun = time.monotonic()
        while not self._stop.wait(1.0 / self.level.rate_hz):
            start_s, at = self._since
            moment = min(self._performer.done.length_s, start_s + time.monotonic() - at)
            pose = self._performer.done.at(moment, self._draws)
            for frame in self.level.frames([(time.monotonic() - begun, pose)]):
                self.line.write(read_at(frame, self.level.baud, self._speed()))

    def _speed(self) -> int:
        slave = os.open(self.port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            return SPEEDS.get(termios.tcgetattr(slave)[5], 230400)
        finally:
            os.close(slave)


@pytest.fixture
def in_hand() -> Iterator[InHand]:
    made = InHand(a_level("text", baud=9600), Line("stranger"))
    yield made
    made.stop()
    end_all()


def test_a_stranger_from_plug_to_first_reading(in_hand: InHand, tmp_path: Path) -> None:
    dialogue = Dialogue(tmp_path, "new", "--air", "0", COLUMNS="2000")
    try:
        dialogue.say(("Which is your level?", in_hand.port), ("Which profile reads it", "learn"))
        for asking in FIRST:
            dialogue.wait_for(asking.says)
            begin(dialogue, in_hand, asking.motion, asking.deg)
        dialogue.wait_for("Enter alone when you have none.")
        dialogue.type("90")
        for words, deg in SLOPE_ASKED:
            dialogue.wait_for(words)
            begin(dialogue, in_hand, "known", deg)
        dialogue.say(
            ("Shall this profile read it?", "yes"),
            ("does the number follow", "yes"),
            ("name for this level", "chord"),
            *[("unproven", "skip")] * 3,
            *ITS_PROPELLER,
            ("Which file", "mine.toml"),
            ("Enter writes it", ""),
        )
        assert dialogue.end() == 0, dialogue.heard
    finally:
        dialogue.kill()
    first_reading(tmp_path / "mine.toml", in_hand)


def begin(dialogue: Dialogue, level: InHand, motion: Motion, deg: float | None) -> None:
    dialogue.wait_for("Enter when you are ready")
    level.move(motion, deg)
    dialogue.type("")
    dialogue.wait_for("done")


def first_reading(job: Path, level: InHand) -> None:
    program = Running(job)
    program.wait_for(event="step", stage="prepare")
    program.press("done")
    program.wait_for(event="step", stage="reference")
    level.move("known", 90.0)  # on the face of the hub it stands upright
    time.sleep(15.0)
    program.press("take")
    captured = program.wait_for(event="captured")
    assert captured["blade"] == "reference"
    program.kill()
