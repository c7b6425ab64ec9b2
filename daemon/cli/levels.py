"""`stillblade levels`: the commands; what they do is in `daemon.levels.look`."""

import asyncio
import sys
from collections.abc import Coroutine
from pathlib import Path
from typing import Any

from cyclopts import App

from shared.plain import plainly

levels = App(name="levels", help="What kinds of level there are, what is there, what one says.")


@levels.command(name="list")
def levels_list() -> int:
    """Print every shipped profile."""
    from daemon.levels.look import list_levels

    return list_levels(plainly(sys.stdout))


@levels.command
def scan(*, seconds: float = 5.0) -> int:
    """Print what is on the ports and in the air, with signal strength and a guess at the profile.

    Parameters
    ----------
    seconds
        How long to listen to the air.
    """
    from daemon.levels.look import scan as scan_levels

    return asyncio.run(scan_levels(plainly(sys.stdout), seconds))


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
    from daemon.levels.look import listen as listen_to
    from daemon.levels.look import target

    return asyncio.run(listen_to(target(name, job, port), plainly(sys.stdout), seconds))


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
    from daemon.levels.look import capture as capture_level
    from daemon.levels.look import target

    found = target(name, job, port)
    return asyncio.run(capture_level(found, file, plainly(sys.stdout), seconds, source))


@levels.command
def zero(name: str, *, job: Path | None = None, port: str = "", seconds: float = 120.0) -> int:
    """Find a level's zero error: laid on one place twice, turned end for end between.

    Exit 1 where it is more than the profile states, 3 without a signal.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        The longest it may take.
    """
    from daemon.levels.look import target
    from daemon.levels.trial import check_seconds
    from daemon.levels.trial import zero as zero_of

    check_seconds(seconds)
    return _once(zero_of(target(name, job, port), plainly(sys.stdout), seconds, job))


@levels.command
def standard(
    name: str,
    *,
    length: float,
    height: float,
    u_length: float = 0.5,
    u_height: float = 0.1,
    job: Path | None = None,
    port: str = "",
    seconds: float = 120.0,
) -> int:
    """Prove a level on a wedge or sine bar of known length and height.

    Exit 1 where the reading does not agree with it, 3 without a signal.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file.
    length
        Length of the standard, along the slope (of a sine bar between its rollers).
    height
        Its height over that length, in the same unit.
    u_length
        Standard uncertainty of the length, in the same unit.
    u_height
        Standard uncertainty of the height, in the same unit.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        The longest it may take.
    """
    from daemon.levels.look import target
    from daemon.levels.trial import bar, check_seconds
    from daemon.levels.trial import standard as prove

    check_seconds(seconds)
    known = bar(length, u_length, height, u_height)
    return _once(prove(target(name, job, port), plainly(sys.stdout), known, seconds, job))


@levels.command
def play(name: str, *, job: Path | None = None, port: str = "", seconds: float = 120.0) -> int:
    """Find the play of a loose blade that the level is strapped to.

    Exit 3 without a signal.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        The longest it may take.
    """
    from daemon.levels.look import target
    from daemon.levels.trial import check_seconds
    from daemon.levels.trial import play as play_of

    check_seconds(seconds)
    return _once(play_of(target(name, job, port), plainly(sys.stdout), seconds, job))


def _once(check: Coroutine[Any, Any, int]) -> int:
    """Run a check; one that is stopped has no answer, so that is not yes."""
    try:
        return asyncio.run(check)
    except KeyboardInterrupt:
        print("stopped: nothing was found", file=sys.stderr)
        return 1
