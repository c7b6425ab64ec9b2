"""`stillblade publish`: a recorded session to the broker that its job names."""

from pathlib import Path
from typing import TYPE_CHECKING

from daemon.cli.options import AsJson
from shared.errors import BadInputError, OutsideError

if TYPE_CHECKING:
    from daemon.session.recording import Recording

WITHIN_S = 60.0
"""A broker that has taken nothing more for so long is given up."""


def publish(session: Path, *, json_: AsJson = False) -> int:
    """Publish the events of a finished session to its broker, after an outage at its end.

    Whoever heard some of them already tells them by session and number. Exits with 3 where the
    broker does not confirm all.

    Parameters
    ----------
    session
        A session file or its text form.
    json_
        One JSON object on standard output.
    """
    import json

    from daemon.cli.stops import until_stopped
    from daemon.session.recording import read

    recording = read(session)
    if not recording.finished:
        raise BadInputError(
            str(session), "", "is not finished", "run or serve its job: that publishes it"
        )
    _, stopped = until_stopped(_published(session, session.absolute().parent, recording))
    if stopped:
        return 3
    count = len(recording.events)
    told = {"event": "published", "session": recording.header.session, "events": count}
    print(json.dumps(told) if json_ else f"the broker has confirmed {count} events")
    return 0


async def _published(session: Path, beside: Path, recording: "Recording") -> None:
    """Publish it; raise OutsideError where nothing more is confirmed for a while."""
    import asyncio

    from daemon.faces.broker import Publisher
    from daemon.faces.mqtt import Access
    from daemon.session.replay import rebuilt
    from daemon.shell.counter import Counter, Nobody

    broker = recording.header.job.broker
    if broker is None:
        raise BadInputError(str(session), "job.broker", "is missing: its job names no broker")
    engine, _ = rebuilt(recording)
    desk = Counter(Nobody(), recording.events, engine.view())
    access = Access(broker, beside)
    publisher = Publisher(desk, access, recording.header.session, recorded=True)
    async with asyncio.TaskGroup() as group:
        task = group.create_task(publisher.run(), name="broker")
        missing = publisher.missing
        while not (await asyncio.wait({task}, timeout=WITHIN_S))[0]:
            if publisher.missing == missing:
                task.cancel()
                raise OutsideError(
                    f"the broker lacks {missing} events and confirms none", "try again later"
                )
            missing = publisher.missing
