"""`stillblade attach`: the screen of a service that runs elsewhere on this machine."""

import sys

from daemon.cli.options import AsJson, Flag, version


def attach(address: str = "", *, headless: Flag = False, json_: AsJson = False) -> int:
    """Show a running service: `serve`, `run`, `watch` or `demo` in another terminal.

    Whoever attaches sees the present state, and may do what every face may. Leaving ends nothing.
    Exits with 1 where the session ends with any result but "within", with 3 where the service goes
    away before that.

    Parameters
    ----------
    address
        A job file or a socket; needed only where several services run.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    """
    from daemon.cli.stops import until_stopped

    shown, stopped = until_stopped(
        _shown(address, headless=headless or json_ or not sys.stdout.isatty(), as_json=json_)
    )
    return 0 if stopped or shown is None else shown


async def _shown(where: str, *, headless: bool, as_json: bool) -> int:
    """Show it until its session is over or its person leaves; return the exit code."""
    import asyncio

    from daemon.cli.lines import exit_code, summary_of
    from daemon.cli.screen import show
    from daemon.faces.addresses import found
    from daemon.faces.attached import attached

    address = await asyncio.to_thread(found, where)
    async with attached(address, version()) as desk:
        await show(desk, as_json=as_json, headless=headless)
        summary = summary_of(desk.since(0))
        if summary is not None or not desk.closed:
            return exit_code(summary)
    print("the service went away; its session is kept: attach again", file=sys.stderr)
    return 3
