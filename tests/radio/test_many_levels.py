"""Eight levels at 100 Hz each: nothing lost, nothing doubled, nothing out of order."""

import asyncio

import pytest

from drivers.links import PATIENT
from simulator.radio import Radio
from tests.radio.stage import Stage

pytestmark = pytest.mark.real


async def all_arrive(radio: Radio, seconds: int) -> None:
    stage = Stage(radio, count=8)
    await stage.prepare()
    async with stage.kept(PATIENT):
        await stage.heard.until(lambda: stage.heard.ups() == 8)
        await stage.send(100 * seconds)
        await stage.heard.until(lambda: len(stage.heard.data()) >= 8 * 100 * seconds)
        await asyncio.sleep(0.2)  # whatever is doubled comes now
    assert stage.heard.ups() == 8
    for number in range(8):
        assert stage.numbers(number) == list(range(100 * seconds))


async def test_eight_levels_for_five_seconds(radio: Radio) -> None:
    await all_arrive(radio, 5)


@pytest.mark.long
async def test_eight_levels_for_a_minute(radio: Radio) -> None:
    await all_arrive(radio, 60)
