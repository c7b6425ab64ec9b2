"""`stillblade attach`: the screen of a service that runs elsewhere on this machine."""

import sys
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from daemon.cli.options import AsJson, Flag, check, version
from shared.errors import BadInputError

if TYPE_CHECKING:
    from daemon.shell.counter import Counter

Reached: TypeAlias = "AbstractAsyncContextManager[Counter]"


def attach(
    address: str = "",
    *,
    broker: Flag = False,
    client: str = "attached",
    headless: Flag = False,
    json_: AsJson = False,
) -> int:
    """Show a running service: `serve`, `run`, `watch` or `demo` in another terminal.

    Whoever attaches sees the present state, and may do what every face may. Leaving ends nothing.
    Exits with 1 where the session ends with any result but "within", with 3 where the service goes
    away before that.

    Parameters
    ----------
    address
        A job file or a socket; needed only where several services run.
    broker
        Over the broker that the job file names, from another machine. What may be done then
        stands in the service's job (may_act).
    client
        The name that the broker and the service know this face by.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    """
    from daemon.cli.stops import until_stopped

    reached = _over_broker(address, client) if broker else _here(address)
    shown, stopped = until_stopped(
        _shown(reached, headless=headless or json_ or not sys.stdout.isatty(), as_json=json_)
    )
    return 0 if stopped or shown is None else shown


def _here(where: str) -> Reached:
    from daemon.faces.addresses import found
    from daemon.faces.attached import attached

    return attached(found(where), version())


def _over_broker(job: str, client: str) -> Reached:
    from daemon.faces.mqtt import Access
    from daemon.faces.subscribed import subscribed
    from daemon.session.jobs import load_job

    check(bool(job), "--broker", "no job file is given", "stillblade attach JOB.toml --broker")
    path = Path(job)
    named = load_job(path).broker
    if named is None:
        raise BadInputError(job, "broker", "is missing", "name the broker: [broker] host = ...")
    return subscribed(Access(named, path.absolute().parent), client)


async def _shown(reached: Reached, *, headless: bool, as_json: bool) -> int:
    """Show it until its session is over or its person leaves; return the exit code."""
    from daemon.cli.lines import exit_code, summary_of
    from daemon.cli.screen import show

    async with reached as desk:
        await show(desk, as_json=as_json, headless=headless, elsewhere=True)
        summary = summary_of(desk.since(0))
        if summary is not None or not desk.closed:
            return exit_code(summary)
    print("the service went away; its session is kept: attach again", file=sys.stderr)
    return 3
