"""A level whose format is in no shipped profile: from plug to first captured reading by `new` alone.

Marked long: the motions take as long as a person takes.
"""

import os
import sys
import termios
from collections.abc import Iterator
from pathlib import Path

import pytest

from simulator.line import Line
from simulator.strangers.level import Stranger
from simulator.strangers.speeds import read_at
from tests.levels.stage import SPEEDS, a_level
from tests.whole.program import end_all

if sys.platform == "win32":
    collect_ignore = ["test_new_stranger.py"]
else:
    from tests.whole.stranger_in_hand import InHand, from_plug_to_first_reading

pytestmark = pytest.mark.long


class OnALine(InHand):
    """It streams on a pseudo-terminal."""

    def __init__(self, level: Stranger, line: Line) -> None:
        self._line = line
        self.port = line.open()
        super().__init__(level)

    def put(self, frame: bytes) -> None:
        self._line.write(read_at(frame, self.level.baud, self._speed()))

    def stop(self) -> None:
        super().stop()
        self._line.close()

    def _speed(self) -> int:
        slave = os.open(self.port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
        try:
            return SPEEDS.get(termios.tcgetattr(slave)[5], 230400)
        finally:
            os.close(slave)


@pytest.fixture
def in_hand() -> Iterator[OnALine]:
    made = OnALine(a_level("text", baud=9600), Line("stranger"))
    yield made
    made.stop()
    end_all()


def test_a_stranger_from_plug_to_first_reading(in_hand: OnALine, tmp_path: Path) -> None:
    from_plug_to_first_reading(in_hand, in_hand.port, tmp_path, "--air", "0")
