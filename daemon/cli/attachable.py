"""A session that is shown here can be attached to from elsewhere meanwhile, and is published."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from daemon.cli.options import version
from shared.errors import OutsideError

if TYPE_CHECKING:
    from pathlib import Path

    from daemon.faces.addresses import Address
    from daemon.faces.broker import Publisher
    from daemon.shell.counter import Counter
    from shared.job import Header

log = logging.getLogger(__name__)

PUBLISHED_S = 2.0
"""After the end the broker is given so long to confirm the last events."""


class Beside(Protocol):
    """A face that runs until it is cancelled or the session is over."""

    def run(self) -> Coroutine[Any, Any, None]:
        """Run it."""
        ...


async def unharmed(face: "Beside") -> None:
    """Run a face; one that fails where nobody foresaw it ends alone, and the job goes on.

    Raises:
        OutsideError: it cannot begin, which its person asked for.
    """
    try:
        await face.run()
    except OutsideError:
        raise
    except Exception as error:
        name = type(face).__name__.lower()
        log.exception("%s has failed (%s); the job goes on without it", name, type(error).__name__)


async def attachable(
    desk: "Counter",
    address: "Address",
    session: str,
    shown: Awaitable[None],
    ready: Callable[[], None] | None = None,
    publisher: "Publisher | None" = None,
    others: Sequence["Beside | None"] = (),
) -> None:
    """Let faces attach until what is shown here has ended.

    Args:
        desk: what all faces are given.
        address: where they come to.
        session: which one it is, for a face that attaches again.
        shown: the face of this process.
        ready: called once faces may come. Without it a service that cannot listen is no failure:
            it is said in the log, and what is shown here goes on.
        publisher: publishes the session, where its job names a broker.
        others: run meanwhile, those that are there: a page, sound.

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
        faces = [group.create_task(listen(), name="faces")]
        faces += [
            group.create_task(unharmed(other), name=type(other).__name__)
            for other in others
            if other
        ]
        broker = group.create_task(unharmed(publisher), name="broker") if publisher else None
        await shown
        if broker is not None and publisher is not None:
            await _confirmed(desk, publisher, broker)
        for task in faces:
            task.cancel()


async def _confirmed(desk: "Counter", publisher: "Publisher", task: asyncio.Task[None]) -> None:
    """Give the broker a moment for the last events; what it lacks then is said."""
    from daemon.cli.lines import summary_of

    over = summary_of(desk.since(0)) is not None
    if over:
        await asyncio.wait({task}, timeout=PUBLISHED_S)
    task.cancel()
    if over and publisher.missing:
        log.warning(
            "the broker has not confirmed %d events: stillblade publish, with the session's file",
            publisher.missing,
        )


def publisher_of(desk: "Counter", header: "Header", session: "Path") -> "Publisher | None":
    """Return what publishes a session to the job's broker; None where it names none.

    Raises:
        BadInputError: password or certificate cannot be read.
    """
    broker = header.job.broker
    if broker is None:
        return None
    from daemon.faces.broker import Publisher
    from daemon.faces.mqtt import Access

    if header.procedure != "set":  # beside a job of the same file, not over it
        broker = broker.model_copy(update={"topic": f"{broker.topic}/{header.procedure}"})
    return Publisher(desk, Access(broker, session.absolute().parent), header.session)
