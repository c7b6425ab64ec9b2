"""An invented level in somebody's hand, in real time, and what `new` asks to be done with it."""

import threading
import time
from abc import ABC, abstractmethod
from pathlib import Path

from daemon.levels.guided import FIRST
from simulator.draws import Draws
from simulator.strangers.level import Stranger
from simulator.strangers.person import Motion, Performer
from tests.whole.beginning import ITS_PROPELLER
from tests.whole.dialogue import Dialogue
from tests.whole.program import Running

SLOPE_ASKED = (("on a level floor", 0.0), ("Lay it on the surface", 90.0))


class InHand(ABC):
    """An invented level that streams while somebody moves it."""

    def __init__(self, level: Stranger) -> None:
        self.level = level
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

    @abstractmethod
    def put(self, frame: bytes) -> None:
        """Send a frame the way it sends; called from its thread."""

    def _stream(self) -> None:
        begun = time.monotonic()
        while not self._stop.wait(1.0 / self.level.rate_hz):
            start_s, at = self._since
            moment = min(self._performer.done.length_s, start_s + time.monotonic() - at)
            pose = self._performer.done.at(moment, self._draws)
            for frame in self.level.frames([(time.monotonic() - begun, pose)]):
                self.put(frame)


def from_plug_to_first_reading(level: InHand, where: str, folder: Path, *words: str) -> None:
    """Answer `new` about a level whose format nobody knows, then run the job."""
    dialogue = Dialogue(folder, "new", *words, COLUMNS="2000")
    try:
        dialogue.say(("Which is your level?", where), ("Which profile reads it", "learn"))
        for asking in FIRST:
            dialogue.wait_for(asking.says)
            begin(dialogue, level, asking.motion, asking.deg)
        dialogue.wait_for("Enter alone when you have none.")
        dialogue.type("90")
        for asked, deg in SLOPE_ASKED:
            dialogue.wait_for(asked)
            begin(dialogue, level, "known", deg)
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
    first_reading(folder / "mine.toml", level)


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
