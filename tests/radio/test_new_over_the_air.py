"""`stillblade new` over the emulated radio: from a level in the air to a first captured reading."""

import asyncio
import sys
from pathlib import Path

import pytest

from simulator.radio import Radio
from simulator.wire.ble_notify import BleNotify
from tests.radio.stage import SERVICES, UUID, VALUES, address
from tests.whole.program import Level, end_all

pytestmark = pytest.mark.real
if sys.platform == "win32":
    collect_ignore = ["test_new_over_the_air.py"]
else:
    from tests.whole.beginning import first_reading, its_level, tried_and_written
    from tests.whole.dialogue import Dialogue


class Air:
    """Carries what a level writes, from its thread to the radio's loop."""

    def __init__(self, radio: Radio) -> None:
        self._radio, self._loop = radio, asyncio.get_running_loop()

    def write(self, data: bytes) -> None:
        self._loop.call_soon_threadsafe(self._radio.feed, address(1), UUID, data)


class LevelInTheAir(Level):
    """Notifies a struct: counter and hundredths."""

    _wire = BleNotify()

    def written(self, angle_deg: float) -> bytes:
        return self._wire.write({"angle": angle_deg})[0][1]


def by_new_alone(level: Level, folder: Path) -> None:
    dialogue = Dialogue(folder, "new", "--air", "2")
    try:
        dialogue.wait_for("level\N{REPLACEMENT CHARACTER}[31m  (sounds like ble-notify)")
        its_level(dialogue, address(1))
        job = tried_and_written(dialogue, level, folder)
        first_reading(job, level)
    finally:
        dialogue.kill()
        end_all()


async def test_from_the_air_to_a_first_captured_reading(radio: Radio, tmp_path: Path) -> None:
    await radio.add_level(address(1), "level\x1b[31m", SERVICES, VALUES)
    level = LevelInTheAir(Air(radio))
    try:
        await asyncio.to_thread(by_new_alone, level, tmp_path)
    finally:
        level.stop()
