"""A level in the air whose format is in no shipped profile: to a first captured reading by `new` alone.

Marked long: the motions take as long as a person takes.
"""

import asyncio
import sys
from pathlib import Path

import pytest

from simulator.radio import Radio
from simulator.strangers.level import Stranger
from tests.levels.stage import a_level
from tests.radio.stage import address
from tests.whole.program import end_all

pytestmark = [pytest.mark.real, pytest.mark.long]
if sys.platform == "win32":
    collect_ignore = ["test_new_stranger_over_the_air.py"]
else:
    from tests.whole.stranger_in_hand import InHand, from_plug_to_first_reading

SERVICE, UUID = "3ad80001-94c5-4b13-8f57-0d6a3c1e7b29", "3ad80002-94c5-4b13-8f57-0d6a3c1e7b29"
SERVICES = {"180f": ["2a19"], SERVICE: [UUID]}
"""Of no shipped profile."""


class InTheAir(InHand):
    """It notifies what it sends."""

    def __init__(self, level: Stranger, radio: Radio) -> None:
        self._radio, self._loop = radio, asyncio.get_running_loop()
        super().__init__(level)

    def put(self, frame: bytes) -> None:
        for at in range(0, len(frame), 20):
            self._loop.call_soon_threadsafe(self._radio.feed, address(1), UUID, frame[at : at + 20])


async def test_a_stranger_from_the_air_to_first_reading(radio: Radio, tmp_path: Path) -> None:
    await radio.add_level(address(1), "plain", SERVICES, {"2a19": b"\x50"})
    level = InTheAir(a_level("notification"), radio)
    try:
        await asyncio.to_thread(
            from_plug_to_first_reading, level, address(1), tmp_path, "--air", "2"
        )
        written = [await radio.look("written", address(1), uuid=uuid) for uuid in ("2a19", UUID)]
        assert [one["written"] for one in written] == [[], []]
    finally:
        await asyncio.to_thread(level.stop)
        end_all()
