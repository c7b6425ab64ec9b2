"""The command line. Exit codes: 0 fine, 1 the answer is no, 2 bad input, 3 the world failed."""

import contextlib
import io
import json
import logging
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import App, CycloptsError, Parameter

from daemon.cli.levels import levels
from shared.errors import BadInputError, OutsideError
from shared.plain import plain, plain_lines

if TYPE_CHECKING:
    from daemon.session.recording import Recording
    from daemon.shell.counter import Counter
    from daemon.shell.service import Service

app = App(
    name="stillblade",
    help="Set the blades of a ground-adjustable propeller, and know when a set blade has moved.",
    result_action="return_value",
)

app.command(levels)

AsJson = Annotated[bool, Parameter(name="--json", negative=())]
Flag = Annotated[bool, Parameter(negative=())]


@app.command
def demo(
    *,
    scenario: str = "default",
    seed: int = 2,
    headless: Flag = False,
    fast: Flag = False,
    json_: AsJson = False,
    radio: Flag = False,
    pace: float = 1.0,
    session: Path | None = None,
) -> int:
    """Do the whole job in a simulated hangar.

    Parameters
    ----------
    scenario
        What happens; see the files in simulator/scenarios.
    seed
        What is drawn by chance in it.
    headless
        No screen: sentences, or JSON lines, on standard output.
    fast
        On data time, without the pseudo-terminal: seconds instead of minutes.
    json_
        One JSON object a line on standard output.
    radio
        Over Bluetooth LE, from an emulated radio, instead of a pseudo-terminal.
    pace
        Simulated seconds a second.
    session
        Keep the session in this file.
    """
    _check(0.1 <= pace <= 50, "--pace", f"{pace} is not between 0.1 and 50")
    _check(not (fast and radio), "--radio", "there is no radio on data time: leave --fast out")
    from daemon.cli.demo import demo_fast, demo_live

    if fast:
        return demo_fast(scenario, seed, json_, session)
    return demo_live(scenario, seed, json_, headless, {"pace": pace, "radio": radio}, session)


@app.command
def run(
    job: Path,
    *,
    headless: Flag = False,
    json_: AsJson = False,
    new: Flag = False,
) -> int:
    """Do a job. An unfinished session of the same job is taken up again.

    Parameters
    ----------
    job
        The job file (TOML). Sessions are recorded beside it.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    new
        Begin a new session even if there is an unfinished one.
    """
    from daemon.session.begin import begin, only_one
    from daemon.session.jobs import load_job

    loaded = load_job(job)
    from daemon.cli.screen import until_stopped

    with only_one(job):
        begun = begin(job, loaded, new=new)
        logging.getLogger("stillblade").info("%s: %s", begun.path.name, begun.say)
        until_stopped(_run(begun, as_json=json_, headless=headless or json_))
    return 0


async def _run(begun: Any, *, as_json: bool, headless: bool) -> None:
    from daemon.shell.clocks import SessionClock
    from daemon.shell.service import Service

    clock = SessionClock(begun.reach_ns)
    service = Service(begun.engine, begun.store, clock, begun.before, begun.reach_ns)
    await _serve(service, as_json=as_json, headless=headless)
    if begun.engine.finished:
        from daemon.session.learned import remember

        remember(begun.path.parent, begun.engine.header, service.desk.since(0))
    else:
        print(
            f"{begun.path.name}: not finished; the same command takes it up again",
            file=sys.stderr,
        )


async def _serve(service: "Service", *, as_json: bool, headless: bool) -> None:
    from daemon.cli.screen import show
    from drivers.links import keep

    header = service.engine.header
    links = [
        (entry.name, lambda inbox, e=entry: keep(e, header.profiles[e.name], inbox))
        for entry in header.job.level
    ]

    async def face(desk: "Counter") -> None:
        await show(desk, as_json=as_json, headless=headless or not sys.stdout.isatty())

    await service.run(links, face)


@app.command
def replay(
    session: Path,
    *,
    json_: AsJson = False,
    verify: Flag = False,
) -> int:
    """Replay a session from its recorded inputs.

    Of a damaged session the recorded outputs that are sound are printed, and it exits with 2.

    Parameters
    ----------
    session
        A session file or its text form.
    json_
        One JSON object a line on standard output.
    verify
        Compare with the recorded outputs; exit 1 where they differ.
    """
    from daemon.cli.lines import Printer
    from daemon.session.recording import read
    from daemon.session.replay import replay as replayed_from
    from daemon.session.replay import verify as compare

    recording = read(session, salvage=not verify)
    _say_what_is_wrong(session, recording)
    events = recording.events if recording.damage else replayed_from(recording)
    if not verify:
        printer = Printer(sys.stdout, as_json=json_)
        for event in events:
            printer.tell(event)
        return 2 if recording.damage else 0
    found = compare(recording, events)
    if json_:
        print(json.dumps({"event": "verified", "agrees": found.agrees, "say": found.say}))
    else:
        print(found.say)
    return 0 if found.agrees else 1


@app.command
def text(session: Path) -> int:
    """Write a session's text form (JSON Lines) to standard output.

    Of a damaged session everything that can still be read is written.

    Parameters
    ----------
    session
        A session file or its text form.
    """
    from daemon.session.recording import read
    from daemon.session.text import lines

    recording = read(session, salvage=True)
    for line in lines(recording):
        print(line)
    _say_what_is_wrong(session, recording)
    return 2 if recording.damage else 0


def _say_what_is_wrong(session: Path, recording: "Recording") -> None:
    """Say on standard error what of a session could not be read, or should be known."""
    for damage in recording.damage:
        print(plain(f"{session}: left out: {damage}"), file=sys.stderr)
    for note in recording.notes:
        print(plain(f"{session}: {note}"), file=sys.stderr)


@app.command
def schema(what: Literal["job", "level", "session", "messages"]) -> int:
    """Print the JSON Schema of what the program reads and writes.

    Parameters
    ----------
    what
        job and level: the TOML files; session: a line of the text form; messages: --json.
    """
    from daemon.cli.schemas import schema_of

    print(json.dumps(schema_of(what), indent=2))
    return 0


@app.command
def watch(job: Path, *, headless: Flag = False, json_: AsJson = False, new: Flag = False) -> int:
    """Watch blades that levels were left on: changed, moved, creeping, shaken, lifted.

    A watch that was stopped is taken up again: a blade moved meanwhile is told.

    Parameters
    ----------
    job
        A job file; its levels with role "watch" are used.
    headless
        No screen; commands are read from standard input, one JSON object a line.
    json_
        One JSON object a line on standard output.
    new
        Take the blades as they stand now, whatever was watched before.
    """
    from daemon.cli.screen import until_stopped
    from daemon.cli.watch_blades import watching

    with watching(job, new=new) as begun:
        logging.getLogger("stillblade").info("%s: %s", begun.path.name, begun.say)
        until_stopped(_run(begun, as_json=json_, headless=headless or json_))
    return 0


@app.command
def budget(session: Path, *, json_: AsJson = False) -> int:
    """Show where the uncertainty of every blade angle of a session comes from.

    Parameters
    ----------
    session
        A session file or its text form.
    json_
        One JSON object a line on standard output.
    """
    from daemon.cli.budget_of_blades import budget_command

    return budget_command(session, as_json=json_)


@app.command(name="pitch")
def pitch_(
    angle: float,
    *,
    radius_m: float,
    rpm: float | None = None,
    speed_m_s: float | None = None,
    diameter_m: float | None = None,
    celsius: float = 15.0,
    json_: AsJson = False,
) -> int:
    """Show what a blade angle means: geometric pitch, twist, slip, tip speed, advance ratio.

    Parameters
    ----------
    angle
        Blade angle at the station, degrees.
    radius_m
        Radius of the station, metres.
    rpm
        Turns of the propeller a minute (not of the engine, where a gearbox lies between).
    speed_m_s
        True airspeed, metres a second: with the turns it gives slip and advance ratio.
    diameter_m
        Of the propeller, metres: with the turns it gives tip speed and Mach number.
    celsius
        Temperature of the air.
    json_
        One JSON object a line on standard output.
    """
    from daemon.cli.pitch_of_blade import pitch_command

    return pitch_command(
        angle,
        radius_m,
        rpm=rpm,
        speed_m_s=speed_m_s,
        diameter_m=diameter_m,
        celsius=celsius,
        as_json=json_,
    )


@app.command(name="scenarios")
def scenarios_(*names: str, seeds: int = 5, first: int = 1, json_: AsJson = False) -> int:
    """Run the simulated scenarios and hold what was said against the truth.

    Exit 1 when anything was said that a scenario does not allow.

    Parameters
    ----------
    names
        Which scenarios; all when none is named.
    seeds
        How many seeds of each.
    first
        The first seed.
    json_
        One JSON object a line on standard output.
    """
    from daemon.cli.scenarios import scenarios_command

    return scenarios_command(list(names), seeds, first, as_json=json_)


def _check(good: bool, key: str, problem: str) -> None:
    if not good:
        raise BadInputError("command line", key, problem)


def main(argv: list[str] | None = None) -> int:
    """Run one command; return its exit code."""
    _mend_streams()
    logging.basicConfig(stream=sys.stderr, level=logging.INFO)
    for handler in logging.getLogger().handlers:
        handler.setFormatter(_PlainFormatter("%(levelname)s %(name)s: %(message)s"))
    return max(_command(argv), _flushed())


def _command(argv: list[str] | None) -> int:
    try:
        return int(app(argv, exit_on_error=False, print_error=False) or 0)
    except CycloptsError as error:
        return _failed(error, 2)
    except KeyboardInterrupt:
        return _failed("stopped", 0)
    except (BadInputError, OutsideError, OSError, ExceptionGroup) as error:
        known = _known(error)
        if known is None:
            raise
        return _failed(known, 2 if isinstance(known, BadInputError) else 3)


def _failed(words: object, code: int) -> int:
    with contextlib.suppress(OSError):
        print(f"stillblade: {plain_lines(str(words))}", file=sys.stderr, flush=True)
    return code


def _known(error: Exception) -> Exception | None:
    """Return the error a person can do something about, also out of a group of tasks."""
    if isinstance(error, BadInputError | OutsideError):
        return error
    if isinstance(error, ExceptionGroup):
        found = [_known(inner) for inner in error.exceptions]
        return next((one for one in found if one is not None), None)
    if isinstance(error, OSError):
        where = error.filename or "standard output takes nothing more"
        return OutsideError(f"{where}: {error.strerror or error}")
    return None


def _mend_streams() -> None:
    """A standard stream that was closed takes nothing; every other can write any character."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: PTH123, SIM115
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _flushed() -> int:
    """Write out what standard output still holds; 3 where it takes nothing more."""
    try:
        sys.stdout.flush()
    except OSError as error:
        if isinstance(sys.stdout, io.TextIOWrapper):
            # the interpreter flushes once more as it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return _failed(f"standard output takes nothing more: {error.strerror}", 3)
    return 0


class _PlainFormatter(logging.Formatter):
    """Log lines that no name from outside can break or colour."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - its name
        record.message = plain(record.message)
        return super().formatMessage(record)


if __name__ == "__main__":
    sys.exit(main())
