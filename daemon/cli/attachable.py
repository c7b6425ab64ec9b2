"""A session that is shown here can be attached to from elsewhere meanwhile."""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING

from daemon.cli.options import version
from shared.errors import OutsideError

if TYPE_CHECKING:
    from daemon.faces.addresses import Address
    from daemon.shell.counter import Counter

log = logging.getLogger(__name__)


async def attachable(
    desk: "Counter",
    address: "Address",
    session: str,
    shown: Awaitable[None],
    ready: Callable[[], None] | None = None,
) -> None:
    """Let faces attach until what is shown here has ended.

    Args:
        desk: what all faces are given.
        address: where they come to.
        session: which one it is, for a face that attaches again.
        shown: the face of this process.
        ready: called once faces may come. Without it a service that cannot listen is no failure:
            it is said in the log, and what is shown here goes on.

    Raises:
        OutsideError: nothing can listen there, and `ready` waits for it.
    """
    from daemon.faces.listening import Listening
    from daemon.faces.wire import Welcome

    listening = Listening(desk, address, Welcome(version(), session))

    async def listen() -> None:
        try:
            await listening.run(ready or (lambda: None))
        except OutsideError as error:
            if ready is not None:
                raise
            log.warning("no other screen can attach: %s", error)

    async with asyncio.TaskGroup() as group:
        faces = group.create_task(listen(), name="faces")
        await shown
        faces.cancel()
