"""`stillblade levels scan`, `listen`, `capture`: what is there now, what one of them says.

Plain functions: they print to the given stream and return an exit code (0 something was
found or heard, 1 nothing was). The command line wires them.
"""

import asyncio
import contextlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TextIO

from daemon.levels.ear import Ear, Target
from daemon.session.jobs import load_job, resolve_profiles
from drivers import profiles
from drivers.links import PATIENT, Patience, keep
from drivers.links.look import Found, in_the_air, on_the_ports
from drivers.recordings import Recording, chunk_line, decoded, header
from shared.errors import BadInputError, OutsideError
from shared.job import LevelEntry
from shared.profile import LevelProfile

LOOK_S = 0.25
"""Between two looks at whether a level is silent."""


async def scan(out: TextIO, seconds: float = 5.0, patience: Patience = PATIENT) -> int:
    """Print what is on the ports and in the air: name, strength, a guess at the profile.

    Two levels of the same name are two lines: the address tells them apart. Where Bluetooth
    cannot be used the reason is printed with a remedy, and the ports are shown all the same.
    """
    found = await on_the_ports(patience)
    air, trouble = await in_the_air(seconds, patience)
    found += air
    names = [one.name for one in found if one.name]
    for one in found:
        twin = "  (one of several of this name)" if names.count(one.name) > 1 else ""
        print(_found_line(one) + twin, file=out)
    if trouble:
        print(trouble, file=out)
    if not found:
        print("nothing found: plug a level in or switch it on, then scan again", file=out)
    return 0 if found else 1


def _found_line(one: Found) -> str:
    strength = f"{one.rssi:4d} dBm" if one.rssi is not None else "        "
    guess = one.guess or "-"
    return f"{one.where:40} {strength}  {guess:13} {one.name}".rstrip()


def target(name: str, job: Path | None = None, port: str = "", folder: Path = Path()) -> Target:
    """Return the level that is meant.

    name: a level of the job where one is given; else a shipped kind or a profile file.
    port: port or address; where given it replaces the job's.

    Raises:
        BadInputError: no such level or profile, or no port.
    """
    entry, profile = _from_job(name, job) if job else _from_kind(name, folder)
    if port:
        entry = entry.model_copy(update={"port": port})
    if not entry.port:
        raise BadInputError(
            "command line",
            "--port",
            f"it is not known where {name} is",
            "a port or an address; `stillblade levels scan` shows them",
        )
    return Target(entry, profile)


def _from_job(name: str, job: Path) -> tuple[LevelEntry, LevelProfile]:
    loaded = load_job(job)
    entry = next((one for one in loaded.level if one.name == name), None)
    if entry is None:
        names = ", ".join(one.name for one in loaded.level)
        raise BadInputError(str(job), "level", f"no level is called {name!r}", f"one of {names}")
    return entry, resolve_profiles(loaded, job.parent)[name]


def _from_kind(name: str, folder: Path) -> tuple[LevelEntry, LevelProfile]:
    entry = LevelEntry(name="level", profile=name)
    return entry, profiles.for_level(entry, folder)


async def listen(
    level: Target, out: TextIO, seconds: float | None = None, patience: Patience = PATIENT
) -> int:
    """Print raw bytes, decoded numbers, rate and gaps as they come; None = until cancelled.

    A cancel ends it in order, with its summary.

    Raises:
        OutsideError: `out` takes nothing more.
    """
    tell = Told(out)
    ear = Ear(level, tell, keep=False)
    await _hear(level, ear, tell, seconds, patience)
    tell(ear.summary())
    tell.check()
    return 0 if ear.samples else 1


async def capture(
    level: Target,
    path: Path,
    out: TextIO,
    seconds: float = 60.0,
    source: str = "",
    patience: Patience = PATIENT,
) -> int:
    """Record a level's bytes to `path` and the decoded output beside it (`.expected`).

    A cancel, or an `out` that takes nothing more, ends it in order: what was heard is kept.
    source: where it comes from, in the person's own words, for the header.

    Raises:
        BadInputError: the file exists already; nothing is ever overwritten.
        OutsideError: it cannot be written, or `out` takes nothing more.
    """
    recording = Recording(_kept_profile(level), source or "not said")
    expected = _fresh(path)
    tell = Told(out)
    tell(f"recording {level.entry.name} for {seconds:g} s")
    ear = Ear(level, tell, raw=False)
    with _writing(path) as log:
        log.write("\n".join(header(recording)) + "\n")

        failed: list[OSError] = []

        def keep_chunk(number: int) -> None:
            try:
                log.write(chunk_line(ear.chunks[number]) + "\n")
            except OSError as error:
                failed.append(error)  # raised where somebody waits: not in the link's own call

        ear.on_chunk = keep_chunk
        await _hear(level, ear, tell, seconds, patience, failed)
    with _writing(expected) as log:
        log.write(decoded(level.profile, ear.chunks))
    tell(ear.summary())
    tell(f"{path} and {expected.name}: look through them, then contribute both")
    tell.check()
    return 0 if ear.samples else 1


class Told:
    """Prints lines; one that is not taken is noted: a link calls this, and must not fail by it."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self.gone: OSError | None = None
        self.over = asyncio.Event()
        """Set when a line was not taken."""

    def __call__(self, line: str) -> None:
        """Print a line."""
        if self.gone is None:
            try:
                print(line, file=self._out, flush=True)
            except OSError as error:
                self.gone = error
                self.over.set()

    def check(self) -> None:
        """Raise OutsideError where something was not taken."""
        if self.gone is not None:
            raise OutsideError(
                f"standard output takes nothing more: {self.gone.strerror}",
                "give it a terminal, or a file with room",
            )


def _fresh(path: Path) -> Path:
    """Return the name of the decoded output; neither file may exist."""
    expected = path.with_suffix(".expected")
    if path.exists() or expected.exists():
        raise BadInputError(str(path), "", "exists already", "another name")
    return expected


def _kept_profile(level: Target) -> str:
    """Return the shipped kind where the profile is just that, else the whole profile."""
    kind = level.profile.kind
    if kind in profiles.names() and profiles.load(kind) == level.profile:
        return kind
    return level.profile.model_dump_json(exclude_unset=True)


async def _hear(
    level: Target,
    ear: Ear,
    tell: Told,
    seconds: float | None,
    patience: Patience,
    failed: Sequence[OSError] = (),
) -> None:
    """Keep the link and tell of silence, until the time is up, cancelled, or nobody takes it.

    Raises:
        OSError: the first of `failed`.
    """
    with contextlib.suppress(TimeoutError, asyncio.CancelledError):
        async with asyncio.timeout(seconds), asyncio.TaskGroup() as group:
            link = group.create_task(keep(level.entry, level.profile, ear, patience), name="link")
            while not failed and tell.gone is None:
                await asyncio.sleep(LOOK_S)
                ear.look()
            link.cancel()
    if failed:
        raise failed[0]


@contextlib.contextmanager
def _writing(path: Path) -> Iterator[TextIO]:
    try:
        with path.open("x", encoding="utf-8", buffering=1) as log:
            yield log
    except OSError as error:
        kept = path.exists() and path.stat().st_size > 0
        remedy = "what was heard so far is in it" if kept else "nothing was kept: name another file"
        raise OutsideError(f"{path} cannot be written: {error.strerror}", remedy) from error
