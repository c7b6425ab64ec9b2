"""`python -m simulator.wire`: every wired kind can be tried without an instrument."""

import asyncio
import sys
from pathlib import Path

import pytest

from drivers import codecs
from simulator.wire.__main__ import KINDS
from tests.drivers.making import profile_of
from tests.drivers.sinks import Heard, kept

ROOT = Path(__file__).parent.parent.parent


@pytest.mark.parametrize("kind", KINDS)
async def test_kind_is_heard_pulled_and_heard_again(kind: str) -> None:
    level = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "simulator.wire", kind, "--rate", "50", cwd=ROOT,
        stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
    )  # fmt: skip
    assert level.stdout is not None
    assert level.stdin is not None
    profile, heard = profile_of(kind), Heard()
    codec = codecs.make(profile)
    try:
        async with asyncio.timeout(30):
            path = (await level.stdout.readline()).decode().strip()
            async with kept(profile, path, heard):
                await heard.until(lambda: len(heard.data()) > 5)
                level.stdin.write(b"pull\n")
                await heard.until(lambda: heard.log[-1][0] == "down")
                level.stdin.write(b"put-back\n")
                await heard.until(lambda: heard.ups() == 2)
                first = len(heard.data())
                await heard.until(lambda: len(heard.data()) > first + 5)
    finally:
        level.stdin.close()
        await level.wait()
    found = [one for data in heard.data() for one in codec.feed(0, data)]
    assert found
    assert all(12.9 < one.values["angle"] < 17.1 for one in found)
