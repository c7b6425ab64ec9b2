"""`stillblade levels`: the commands; what they do is in the room `daemon.levels`."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, TypeGuard

from cyclopts import App

from daemon.cli.options import check
from shared.plain import plainly

if TYPE_CHECKING:
    from daemon.levels.ear import Target
    from daemon.levels.proof import Outcome, Proof
    from daemon.measure.proving.zero import Standard
    from shared.profile import Noise, Seating

levels = App(name="levels", help="What kinds of level there are, what is there, what one says.")


@levels.command(name="list")
def levels_list() -> int:
    """Print every shipped profile."""
    from daemon.levels.kinds import list_kinds

    return list_kinds(plainly(sys.stdout))


@levels.command
def show(name: str) -> int:
    """Print a shipped profile as it is written: a start for your own.

    Parameters
    ----------
    name
        A shipped kind, as `levels list` names them.
    """
    from daemon.levels.kinds import show_kind

    return show_kind(name, plainly(sys.stdout))


@levels.command(name="try")
def try_(profile: str, recording: Path) -> int:
    """Print what a profile makes of a recording: every sample, and what was refused and why.

    Exits with 1 where no sample comes of it.

    Parameters
    ----------
    profile
        A shipped kind, or a profile file.
    recording
        A file that `levels capture` wrote.
    """
    from daemon.levels.kinds import try_out

    return try_out(profile, recording, plainly(sys.stdout))


@levels.command
def scan(*, seconds: float = 5.0) -> int:
    """Print what is on the ports and in the air, with signal strength and a guess at the profile.

    Parameters
    ----------
    seconds
        How long to listen to the air.
    """
    import asyncio

    from daemon.levels import look

    _check_seconds(seconds)
    return asyncio.run(look.scan(plainly(sys.stdout), seconds))


@levels.command
def listen(
    name: str, *, job: Path | None = None, port: str = "", seconds: float | None = None
) -> int:
    """Print a level's raw bytes, decoded numbers, rate and gaps, live.

    Of a Bluetooth address alone: its services and characteristics with their values as they change.

    Parameters
    ----------
    name
        A level of the job; without a job a shipped kind, or a profile file; or a Bluetooth address.
    job
        The job file the level is in.
    port
        Its serial port, or its Bluetooth address.
    seconds
        How long; until stopped where not given.
    """
    from daemon.cli.stops import until_stopped
    from daemon.levels import look
    from drivers.links.where import is_address

    if seconds is not None:
        _check_seconds(seconds)
    if is_address(name) and job is None:
        from daemon.levels.offers import listen_to

        code, _ = until_stopped(listen_to(name, plainly(sys.stdout), seconds))
        return 1 if code is None else code
    level = look.target(name, job, port)
    code, _ = until_stopped(look.listen(level, plainly(sys.stdout), seconds))
    return 1 if code is None else code


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
    from daemon.cli.stops import until_stopped
    from daemon.levels import look

    _check_seconds(seconds)
    found = look.target(name, job, port)
    code, _ = until_stopped(look.capture(found, file, plainly(sys.stdout), seconds, source))
    return 1 if code is None else code


@levels.command
def learn(what: str = "", *, name: str = "learned") -> int:
    """Learn the format of a level that no profile describes, from motions you make with it.

    Writes a profile, the recording with its marks, and a picture. Nothing is sent to the level;
    of a Bluetooth one all that it sends is subscribed. Exits with 1 where nothing was found.

    Parameters
    ----------
    what
        Its serial port, its Bluetooth address, or a recording with its marks beside it; the only
        port where not given.
    name
        Of the files that are written.
    """
    from daemon.levels.unknown import Files, learn_recording

    out, files = plainly(sys.stdout), Files(Path(name))
    if what and Path(what).is_file():
        return learn_recording(Path(what), files, out)
    from daemon.cli.stops import until_stopped
    from daemon.levels.guided import learn_at
    from daemon.levels.typed import Typed

    code, _ = until_stopped(learn_at(what, Typed(sys.stdin), files, out))
    return 1 if code is None else code


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
    from daemon.levels import look, proof

    _check_seconds(seconds)
    level = look.target(name, job, port)
    code = _tried(proof.zero(level, job), seconds).code
    if code == 0 and job is not None:
        from daemon.session.learned import remember_zero
        from daemon.shell.clocks import wall

        today = wall()[:10]
        remember_zero(job.parent, level.entry, today)
        print(f"{today} is kept beside the job as the day on which this was proven")
    return code


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
    from daemon.levels import look, proof

    _check_seconds(seconds)
    known = bar(length, u_length, height, u_height)
    return _tried(proof.standard(look.target(name, job, port), known, job), seconds).code


@levels.command
def noise(name: str, *, job: Path | None = None, port: str = "", seconds: float = 120.0) -> int:
    """Find how a level's samples scatter while it lies still and nobody touches it.

    With a job the answer is kept beside it and used by its sessions. Exit 1 where it did not lie
    still for long enough, 3 without a signal.

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
    from daemon.levels import look, proof

    _check_seconds(seconds)
    level = look.target(name, job, port)
    mode = level.profile.reporting.mode
    check(
        mode == "stream", "NAME", f"it sends {mode}: its scatter cannot be listened to", "a stream"
    )
    outcome = _tried(proof.noise(level, job), seconds)
    if outcome.found is not None and (found := outcome.found.noise) is not None:
        from daemon.shell.clocks import wall

        _keep_noise(level, found.model_copy(update={"date": wall()[:10]}), job)
    return outcome.code


@levels.command
def seating(name: str, *, job: Path | None = None, port: str = "", seconds: float = 300.0) -> int:
    """Find how well a level finds its seat again: laid on one place five times, lifted between.

    With a job the answer is kept beside it and used by its sessions. Exit 1 where one placement lies
    apart from the others, 3 without a signal.

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
    from daemon.levels import look, proof

    _check_seconds(seconds)
    level = look.target(name, job, port)
    outcome = _tried(proof.seating(level, job), seconds)
    if outcome.found is not None and (found := outcome.found.seating) is not None:
        from daemon.shell.clocks import wall

        _keep_seating(level, found.model_copy(update={"date": wall()[:10]}), job)
    return outcome.code


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
    from daemon.levels import look, proof

    _check_seconds(seconds)
    return _tried(proof.play(look.target(name, job, port), job), seconds).code


KEPT = "it is kept beside the job, and its sessions use it from the next one on"


def _keep_seating(level: "Target", found: "Seating", job: Path | None) -> None:
    """Keep a seating beside the job; without a job say what to write."""
    from daemon.session.learned import remember_seating

    stated = f'seating = {{ u_deg = {found.u_deg:g}, n = {found.n}, date = "{found.date}" }}'
    if _is_used(job, level.profile.seating.n, stated):
        remember_seating(job.parent, level.entry, found)
        print(KEPT)


def _keep_noise(level: "Target", found: "Noise", job: Path | None) -> None:
    """Keep a noise beside the job; without a job say what to write."""
    from daemon.session.learned import remember_noise

    values = f"sd_deg = {found.sd_deg:g}, lag1 = {found.lag1:g}, n = {found.n}"
    if _is_used(job, level.profile.noise.n, f'noise = {{ {values}, date = "{found.date}" }}'):
        remember_noise(job.parent, level.entry, found)
        print(KEPT)


def _is_used(job: Path | None, measured: int, stated: str) -> TypeGuard[Path]:
    """Tell whether sessions of the job will use what was found; say what to write where not.

    measured: of how many the profile's own statement is, which goes before.
    """
    if job is None:
        print(f"to have a job use it, write in it under [level.settings]:\n  {stated}")
        return False
    if measured:
        print(
            "it is not used: the profile or the job states a measured one; in its place write "
            f"under [level.settings]\n  {stated}"
        )
        return False
    return True


def bar(length: float, u_length: float, height: float, u_height: float) -> "Standard":
    """Return the standard that the command line means.

    Raises:
        BadInputError: a size that no wedge or sine bar has.
    """
    from daemon.measure.proving.zero import Standard

    known = Standard(length, u_length, height, u_height)
    check(0.0 < length < float("inf"), "--length", f"{length} is no length", "more than 0")
    inside = 0.0 <= height < length
    check(inside, "--height", f"{height} on a slope of {length}", "0 or more, less than the length")
    for key, value in (("--u-length", u_length), ("--u-height", u_height)):
        small = 0.0 <= value < length
        check(small, key, f"{value} is no uncertainty of it", "0 or more, same unit as the length")
    return known


def _check_seconds(seconds: float) -> None:
    """Refuse a limit that is none."""
    check(0.0 < seconds < float("inf"), "--seconds", f"{seconds} is no limit", "for example 120")


def _tried(proof: "Proof", seconds: float) -> "Outcome":
    """Run a proof; one that is stopped has no answer, so that is not yes."""
    import asyncio

    from daemon.levels.proof import Outcome, run

    try:
        return asyncio.run(run(proof, plainly(sys.stdout), seconds))
    except KeyboardInterrupt:
        print("stopped: nothing was found", file=sys.stderr)
        return Outcome(1)
