"""Every test here runs bleak, unmodified, against the emulated Bluetooth service."""

from collections.abc import AsyncIterator

import pytest

from simulator.radio import Radio


@pytest.fixture
async def radio() -> AsyncIterator[Radio]:
    made = Radio()
    await made.start()
    yield made
    await made.stop()
