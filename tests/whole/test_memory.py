"""Eight hours through the ordinary service on a clock that is turned by hand: memory stays flat.

What is watched is the number of objects (`sys.getallocatedblocks`) and the resident memory
(proc(5)). The same watch is shown to find two planted leaks: an object, and a kilobyte, a chunk.
"""

import asyncio
import gc
import random
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from daemon.core.engine import Engine
from daemon.session.headers import make_header
from daemon.session.store import Store
from daemon.shell.counter import Counter
from daemon.shell.inbox import Inbox
from daemon.shell.service import Service
from shared.inputs import NS, Command
from tests.daemon.bench import LEVEL, job, sentence

pytestmark = pytest.mark.long

HOURS, RATE_HZ = 8, 2
FROM = 6
"""By then caches of a bounded size are full."""
BLOCKS, AN_EVENT = 3_000, 10
"""So many objects more from then on are no leak, and so many an event, for events are kept so that
a face that comes late hears them all; one object a chunk is 14,400."""
RESIDENT_KIB = 4_000
AT_ONCE = 10
"""Chunks between two turns of the loop."""
WATCH = {**LEVEL, "role": "watch", "watches": 1}


@pytest.fixture(autouse=True)
def _seldom(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commit and draw once a minute: what either costs each time is not what is looked for."""
    monkeypatch.setattr("daemon.shell.service.COMMIT_EVERY_NS", 60 * NS)
    monkeypatch.setattr("daemon.shell.service.VIEW_EVERY_NS", 60 * NS)


def resident_kib() -> int:
    """Return the resident memory of this process."""
    for line in Path("/proc/self/status").read_text("ascii").splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1])
    raise AssertionError("no VmRSS")


def angle_at(second: int, noise: random.Random) -> float | None:
    """Nine minutes it lies, one it is carried; None: a line that is none."""
    if second % 60 == 59:
        return None
    if second // 60 % 10 == 9:
        return noise.uniform(-60.0, 60.0)
    return 17.0 + noise.gauss(0.0, 0.03)


async def worked(folder: Path, procedure: str, told: Callable[[bytes], None]) -> list[list[int]]:
    """Run so many hours; return blocks and resident memory after each. told: every chunk."""
    made = job(level=[WATCH if procedure == "watch" else LEVEL])
    head = make_header(made, folder, session="soak")
    head = head.model_copy(update={"procedure": procedure})
    now_ns, found, noise = 0, [], random.Random(1)
    store = Store.create(folder / "soak.session", head)
    service = Service(Engine(head), store, lambda: now_ns)  # type: ignore[arg-type]

    async def level(inbox: Inbox) -> None:
        nonlocal now_ns
        inbox.up("chord", "")
        for index in range(HOURS * 3600 * RATE_HZ):
            now_ns += NS // RATE_HZ
            angle = angle_at(index // RATE_HZ, noise)
            chunk = b"$rubbish\r\n" if angle is None else sentence(angle)
            told(chunk)
            inbox.bytes("chord", 0, chunk)
            if index % AT_ONCE == 0:
                await caught_up(service)
            if index % (3600 * RATE_HZ) == 3600 * RATE_HZ - 1:
                gc.collect()
                blocks = sys.getallocatedblocks() - AN_EVENT * service.desk.newest
                found.append([blocks, resident_kib()])
        left.set()
        await asyncio.get_running_loop().create_future()

    async def face(desk: Counter) -> None:
        desk.post(Command("safe", "face", 0, "done"))
        await left.wait()

    left = asyncio.Event()
    await service.run([("chord", level)], face)
    return found


async def caught_up(service: Service) -> None:
    """Let the service take what has arrived."""
    while service.inbox._items:  # noqa: ASYNC110 - on a clock turned by hand
        await asyncio.sleep(0)


def grown(found: list[list[int]]) -> tuple[bool, bool]:
    """Return whether objects, and whether memory, grew in the last hours."""
    blocks, kib = (last - then for then, last in zip(found[FROM - 1], found[-1], strict=True))
    said = f"from hour {FROM} to {HOURS}: {blocks:+} objects, {kib:+} KiB\n"
    sys.stdout.write(said)
    return blocks > BLOCKS, kib > RESIDENT_KIB


@pytest.mark.parametrize("procedure", ["set", "watch"])
async def test_memory_is_flat_over_eight_hours(tmp_path: Path, procedure: str) -> None:
    assert grown(await worked(tmp_path, procedure, lambda _: None)) == (False, False)


async def test_an_object_a_chunk_would_be_found(tmp_path: Path) -> None:
    kept: list[bytes] = []
    assert grown(await worked(tmp_path, "watch", kept.append))[0]


async def test_a_kilobyte_a_chunk_would_be_found(tmp_path: Path) -> None:
    kept = bytearray()
    assert grown(await worked(tmp_path, "watch", lambda _: kept.extend(b"x" * 1000)))[1]
