"""`stillblade levels`: the commands; what they do is in `daemon.levels`."""

import asyncio
import sys
from pathlib import Path

from cyclopts import App

levels = App(name="levels", help="What kinds of level there are, what is there, what one says.")


@levels.command(name="list")
def levels_list() -> int:
    """Print every shipped profile."""
    from daemon.levels import list_levels

    return list_levels(sys.stdout)


@levels.command
def scan(*, seconds: float = 5.0) -> int:
    """Print what is on the ports and in the air, with signal strength and a guess at the profile.

    Parameters
    ----------
    seconds
        How long to listen to the air.
    """
    from daemon.levels import scan as scan_levels

    return asyncio.run(scan_levels(sys.stdout, seconds))


@levels.command
def listen(
    name: str, *, job: Path | None = None, port: str = "", seconds: float | None = None
) -> int:
    """Print a level's raw bytes, decoded numbers, rate and gaps, live.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        How long; until stopped where not given.
    """
    from daemon.levels import listen as listen_to
    from daemon.levels import target

    return asyncio.run(listen_to(target(name, job, port), sys.stdout, seconds))


@levels.command
def capture(
    name: str,
    file: Path,
    *,
    job: Path | None = None,
    port: str = "",
    seconds: float = 60.0,
    source: str = "",
) -> int:
    """Record a level's bytes with their decoded output, ready to contribute as a test.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file.
    file
        Where to; the decoded output goes beside it.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        How long.
    source
        Where the recording comes from, in your own words.
    """
    from daemon.levels import capture as capture_level
    from daemon.levels import target

    found = target(name, job, port)
    return asyncio.run(capture_level(found, file, sys.stdout, seconds, source))
