"""The emulated radio leaves nothing behind, however whoever started it ends."""

import asyncio
import os
import sys
from pathlib import Path

import pytest

from simulator.radio import Radio

pytestmark = pytest.mark.real
ROOT = Path(__file__).parent.parent.parent

OWNER = """
import asyncio
from simulator.radio import Radio

async def main():
    radio = Radio()
    await radio.start()
    print(radio.address, *radio.pids, flush=True)
    await asyncio.sleep(60)

asyncio.run(main())
"""


def alive(pid: int) -> bool:
    """Tell whether a process exists and is no zombie (a killed owner cannot collect its own)."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


async def gone(pids: list[int]) -> None:
    async with asyncio.timeout(15):
        while any(alive(pid) for pid in pids):  # noqa: ASYNC110 - other people's processes
            await asyncio.sleep(0.05)


async def test_owner_is_killed() -> None:
    owner = await asyncio.create_subprocess_exec(
        sys.executable, "-c", OWNER, cwd=ROOT, stdout=asyncio.subprocess.PIPE
    )
    assert owner.stdout is not None
    async with asyncio.timeout(20):
        line = await owner.stdout.readline()
    pids = [int(one) for one in line.split()[1:]]
    assert len(pids) == 2
    assert all(alive(pid) for pid in pids)
    owner.kill()
    await owner.wait()
    await gone(pids)


async def test_stop_ends_both_and_restores_the_environment() -> None:
    before = os.environ.get("DBUS_SYSTEM_BUS_ADDRESS")
    radio = Radio()
    await radio.start()
    assert os.environ["DBUS_SYSTEM_BUS_ADDRESS"] == radio.address
    pids = radio.pids
    await radio.stop()
    assert os.environ.get("DBUS_SYSTEM_BUS_ADDRESS") == before
    await gone(pids)


async def test_without_the_program_it_says_which(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    with pytest.raises(FileNotFoundError, match="dbus-daemon"):
        await Radio().start()
