"""A level heard while a person is asked about it."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import TypeVar

from daemon.dialog.asking import TakenBackError
from daemon.levels.ear import Ear, Target
from drivers.links import Patience, keep
from shared.errors import BadInputError

Result = TypeVar("Result")
LOOK_S = 0.1


async def heard(
    level: Target, patience: Patience, work: Callable[[Ear], Awaitable[Result]]
) -> Result:
    """Keep a level's link while something is asked; return what that comes to, or raise what it does."""
    ear = Ear(level, lambda _line: None, raw=False)
    failed: Exception | None = None
    found: list[Result] = []
    async with asyncio.TaskGroup() as group:
        link = group.create_task(keep(level.entry, level.profile, ear, patience), name="link")
        try:
            found.append(await work(ear))
        except (TakenBackError, EOFError, BadInputError) as error:
            failed = error  # not out of the group, which would wrap it
        finally:
            link.cancel()
    if failed is not None:
        raise failed
    return found[0]


async def first_words(ear: Ear, seconds: float) -> bool:
    """Wait until a level is read, or for so many seconds; return whether it is."""
    for _ in range(round(seconds / LOOK_S)):
        if ear.samples:
            return True
        await asyncio.sleep(LOOK_S)
    return False


def now(ear: Ear) -> str:
    """Return what the level says at this moment, in one line."""
    rate = ear.rate_hz()
    if ear.trouble:
        return f"  {ear.trouble}"
    if ear.latest:
        often = f"   {rate:.1f} a second" if rate is not None else ""
        return f"  now: {ear.latest}{often}"
    refused = ear.refused_words()
    if refused:
        return f"  what comes cannot be read: {refused}"
    return "  nothing heard yet" if not ear.chunks else "  bytes come, and no number yet"
