"""The loop every link lives in: use it, say why it ended, wait a little, again, for ever."""

import asyncio
import time
from collections.abc import Awaitable, Callable
from random import Random

from drivers.links.patience import Patience
from drivers.links.sink import Announcer


class LinkDownError(Exception):
    """A link ended or never began. The text is the sentence a person is told."""


async def for_ever(
    once: Callable[[], Awaitable[None]], announcer: Announcer, patience: Patience
) -> None:
    """Run `once` again and again until cancelled; it ends only by LinkDownError.

    The wait between grows with each failure, with jitter, and starts over after a link
    that held for a while.
    """
    random = Random()
    tries = 0
    while True:
        began = time.monotonic()
        try:
            await once()
        except LinkDownError as error:
            announcer.down(str(error))
        tries = 1 if time.monotonic() - began > patience.steady_s else tries + 1
        await asyncio.sleep(patience.wait_s(tries, random))
