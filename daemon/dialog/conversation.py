"""The whole conversation: the level, its checks, the propeller, the file; and the writing of it."""

import logging
import os
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from daemon.dialog import finding, understood
from daemon.dialog.asking import Asked, Question, Talk
from daemon.dialog.filed import write_new
from daemon.dialog.finding import Surroundings
from daemon.dialog.hub_and_parts import Recall, nothing_known
from daemon.dialog.line_by_line import Lines
from daemon.dialog.propeller import Tables, propeller
from daemon.dialog.trying import Tried, tried
from daemon.dialog.written import job_text
from daemon.levels.ear import Target
from daemon.session.learned import remember_noise, remember_seating, remember_zero
from drivers import profiles
from shared.errors import BadInputError
from shared.job import Job, LevelEntry
from shared.model import first_problem, laid_over

log = logging.getLogger(__name__)

GREETING = (
    "A new job, from nothing to a file that runs. Nothing is written before the end.",
    "? explains a question, back takes the last answer back, Ctrl-C leaves.",
    "",
    "The manuals of propeller, engine and aircraft come before anything that this",
    "program prints, and work that licensed people must release stays theirs. Do not",
    "touch the propeller for this: it is live until proven otherwise.",
    "",
)


@dataclass(frozen=True, slots=True)
class Made:
    """A job that is ready to be written.

    Attributes:
        path, text: the file.
        level: as the job has it.
        tried: what its checks came to.
    """

    path: Path
    text: str
    level: LevelEntry
    tried: Sequence[Tried]


async def new_job(
    terminal: Lines,
    around: Surroundings,
    job: Path | None,
    day: str,
    recall: Recall = nothing_known,
) -> Path:
    """Ask for a job and write it; return its path.

    job: the file to be written, where that is known already.
    recall: says what is known of a hub.

    Raises:
        EOFError: the answers ended before the job was whole; nothing was written.
        BadInputError, OutsideError: it cannot be written.
    """
    terminal.say(*GREETING)
    talk = Talk(terminal)

    async def conversation(talk: Talk) -> Made:
        level = await finding.level(talk, terminal, around)
        checks = await tried(talk, terminal, level, around.patience)
        tables = await propeller(talk, recall)
        path = job or await _file(talk, tables["name"])
        made = _made(path, tables, level, checks, day)
        await _looked_through(talk, made)
        return made

    made = await talk.run(conversation)
    _write(made, day)
    return made.path


async def _file(talk: Talk, name: str) -> Path:
    def read(text: str) -> Path:
        path = Path(understood.words(text)).expanduser()
        path = path if path.suffix else path.with_suffix(".toml")
        checked(path)
        return path

    question = Question("file", "file", "Which file shall it be?", read, default=_fresh(name))
    return await talk.ask(question)


def _fresh(name: str) -> str | None:
    """Return a file's name for a job of this name; None where there is one already."""
    stem = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "job"
    return f"{stem}.toml" if not Path(f"{stem}.toml").exists() else None


def checked(path: Path) -> None:
    """Refuse a job file that cannot be written anew.

    Raises:
        ValueError: there is one of that name, or no such folder.
    """
    try:
        if path.exists() or path.is_symlink():
            raise ValueError(f"{path} is there already: name another file.")
        if path.suffix != ".toml":
            raise ValueError(f"{path}: the name of a job file ends in .toml.")
        if not path.parent.is_dir():
            raise ValueError(f"There is no folder {path.parent}.")
        if not os.access(path.parent, os.W_OK):
            raise ValueError(f"Nothing may be written in {path.parent}.")
    except OSError as error:
        raise ValueError(f"{path}: {error.strerror}.") from error


def _made(path: Path, tables: Tables, level: Target, checks: Sequence[Tried], day: str) -> Made:
    settings: dict[str, Any] = dict(level.entry.settings)
    for one in checks:
        settings = laid_over(settings, one.found.settings if one.found else {})
    profile = _beside(level.entry.profile, path)
    entry = level.entry.model_copy(update={"settings": settings, "profile": profile})
    said = [_said(one, entry.name, path, day) for one in checks]
    text = job_text(tables, entry.model_dump(), said, day)
    return Made(path, text, entry, checks)


def _beside(profile: str, job: Path) -> str:
    """Return a profile as a job names it: a kind, a path beside the job, or a whole path."""
    if profile in profiles.names():
        return profile
    folder = job.resolve().parent
    return os.path.relpath(profile, folder) if Path(profile).is_relative_to(folder) else profile


def _said(one: Tried, level: str, job: Path, day: str) -> str:
    if one.found is None:
        command = f"stillblade levels {one.name} {level} --job {job.name}"
        return f"{one.name}: UNPROVEN, it was left out; `{command}` proves it"
    corrected = "; taken out below" if one.found.settings else ""
    doubtful = "" if one.found.good else " KEPT ALL THE SAME, though the answer was no"
    return f"{one.name}: {day}: {one.found.lines[0]}{corrected}{doubtful}"


async def _looked_through(talk: Talk, made: Made) -> None:
    """Show every answer until the person has it written.

    Raises:
        TakenBackError: one is taken back.
    """
    asked = list(talk.path)
    wrong = _wrong(made)
    talk.terminal.say("", "This is what you said:", *_numbered(asked))
    talk.terminal.say(*([f"  It is no job yet: {wrong}"] if wrong else []))
    end = (
        "a number takes that answer back" if wrong else "Enter writes it; a number takes that back"
    )
    question = Question("write", "write", end, str, default=None if wrong else "write")
    while True:
        typed = await talk.line(question)
        if typed == "write" and not wrong:
            return
        if re.fullmatch(r"\d{1,3}", typed) and 1 <= int(typed) <= len(asked):
            talk.forget(asked[int(typed) - 1].key)
        talk.terminal.say(f"  {typed!r} is no number of the list.")


def _numbered(asked: Sequence[Asked]) -> list[str]:
    return [f"  {number:2}  {one.label:28} {one.shown}" for number, one in enumerate(asked, 1)]


def _wrong(made: Made) -> str:
    """Return why the text is no job that runs, or ""; what a person typed can be at odds."""
    try:
        job = Job.model_validate(tomllib.loads(made.text))
        for entry in job.level:
            profiles.for_level(entry, made.path.parent)
    except ValidationError as error:
        key, problem, _ = first_problem(error)
        return f"{key}: {problem}"
    except (BadInputError, tomllib.TOMLDecodeError) as error:
        return str(error)
    return ""


def _write(made: Made, day: str) -> None:
    """Write what was learned of the level, then the job: a job that is there has all it says.

    Where that cannot be kept, the job is written all the same: nobody answers it all twice.
    """
    try:
        _keep(made, day)
    except (OSError, BadInputError) as error:
        log.warning("what was tried of the level is not kept: %s", error)
    write_new(made.path, made.text)


def _keep(made: Made, day: str) -> None:
    folder = made.path.parent
    for one in made.tried:
        found = one.found
        if found is None:
            continue
        if one.name == "zero" and (found.good or "fields" in found.settings):
            remember_zero(folder, made.level, day)
        if found.noise is not None:
            remember_noise(folder, made.level, found.noise.model_copy(update={"date": day}))
        if found.seating is not None:
            remember_seating(folder, made.level, found.seating.model_copy(update={"date": day}))
