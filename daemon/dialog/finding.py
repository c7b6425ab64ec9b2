"""Finding the level: what is on the ports and in the air, or in a recording; which profile reads it."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from daemon.dialog import understood
from daemon.dialog.asking import Question, Talk
from daemon.dialog.by_motions import LEARN, learned
from daemon.dialog.heard import first_words, heard, now
from daemon.dialog.line_by_line import Lines
from daemon.levels.ear import Ear, Target
from daemon.levels.steps import smallest_step
from daemon.levels.ways import Tempo
from drivers import profiles, recordings
from drivers.links import Patience
from drivers.links.look import Found, guess_on_port, in_the_air, on_the_ports
from drivers.links.where import is_address, is_server
from shared.errors import BadInputError, unread
from shared.job import LevelEntry
from shared.model import laid_over

SCAN_S, LISTEN_S, FIRST_S = 4.0, 1.2, 6.0
"""How long the air is listened to, a port is, and the first number is waited for."""
XDR_ANGLE = re.compile(rb"[Aa],[-+.\d]+,D?,([^,*\r\n]{1,20})")
"""An angle of an XDR sentence (NMEA 0183: type, value, unit, name)."""


@dataclass(slots=True)
class Surroundings:
    """What a look around found, and how one is made.

    Attributes:
        seconds: how long the air is listened to; 0 leaves the air out.
        found: None before the first look.
        guesses: shipped kinds by port; "" where none fits.
        tempo: the clock of motions; None: time as it passes.
    """

    patience: Patience
    seconds: float = SCAN_S
    found: list[Found] | None = None
    guesses: dict[str, str] = field(default_factory=dict)
    tempo: Tempo | None = None

    async def look(self, talk: Talk) -> list[Found]:
        """Look around unless that was done, and print the list."""
        if self.found is None:
            talk.terminal.say("looking at the ports and listening to the air ...")
            self.found = await on_the_ports(self.patience)
            air, trouble = (
                await in_the_air(self.seconds, self.patience) if self.seconds else ([], "")
            )
            self.found += air
            talk.terminal.say(*([f"  {trouble}"] if trouble else []))
        return self.found

    async def guess(self, talk: Talk, where: str) -> str:
        """Return which shipped kind reads what comes from there, "" where none does."""
        known = next((one.guess for one in self.found or [] if one.where == where), "")
        if known or is_address(where):
            return known
        if where not in self.guesses:
            talk.terminal.say(f"listening to {where} ...")
            self.guesses[where] = await guess_on_port(where, self.patience, LISTEN_S)
        return self.guesses[where]


@dataclass(frozen=True, slots=True)
class Meant:
    """What a person named: a place, or a recording of what came from one."""

    where: str = ""
    recording: Path | None = None


async def level(talk: Talk, terminal: Lines, around: Surroundings) -> Target:
    """Ask for the level until it is heard and its numbers are believed."""
    meant = await _meant(talk, around)
    if meant.recording is not None:
        name, settings = _recorded(meant.recording)
        meant = await _meant(talk, around, "Where is that level now?")
    else:
        name, settings = (
            await _profile(talk, await around.guess(talk, meant.where), meant.where),
            {},
        )
        if name == LEARN:
            name = await learned(talk, terminal, meant.where, around.patience, around.tempo)
    entry = LevelEntry(name="level", profile=name, port=meant.where, settings=settings)
    found = entry
    entry = await talk.settled(
        found.model_dump_json(), lambda: _as_it_is(talk, found, around.patience)
    )
    called = await talk.ask(
        Question(
            "level",
            "name of the level",
            "Your name for this level?",
            understood.name_of_level,
            default="level",
        )
    )
    entry = entry.model_copy(update={"name": called})
    return Target(entry, profiles.for_level(entry, Path()))


async def _meant(talk: Talk, around: Surroundings, ask: str = "") -> Meant:
    """Ask which one it is, looking around as often as is wanted."""
    key = "where now" if ask else "where"
    while True:
        found = await around.look(talk)
        meant = await talk.ask(
            Question(
                key,
                "where the level is",
                ask or "Which is your level?",
                lambda text, found=found: _place(text, found),  # type: ignore[misc]
                _listed(found),
            )
        )
        if meant is not None:
            return meant
        talk.unsaid(key)
        around.found = None
        around.guesses.clear()


def _listed(found: Sequence[Found]) -> list[str]:
    lines = [
        f"  {number:2}  {one.where}"
        + (f"  {one.rssi} dBm" if one.rssi is not None else "")
        + (f"  {one.name}" if one.name else "")
        + (f"  (sounds like {one.guess})" if one.guess else "")
        for number, one in enumerate(found, 1)
    ]
    if not lines:
        lines = ["  nothing was found: plug the level in, or switch it on and type scan"]
    return [
        *lines,
        "Type its number, a port, an address or socket://host:port; scan looks again;",
        "or the file of a recording that `stillblade levels capture` made of it.",
    ]


def _place(text: str, found: Sequence[Found]) -> Meant | None:
    """Return what is meant; None: look again."""
    if text.lower() == "scan":
        return None
    if re.fullmatch(r"\d{1,3}", text):
        if not 1 <= int(text) <= len(found):
            raise ValueError(f"There is no number {text} in the list.")
        return Meant(found[int(text) - 1].where)
    text = understood.words(text)
    path = Path(text)
    try:
        if path.is_file():
            _recorded(path)
            return Meant(recording=path)
        there = path.exists()
    except (OSError, ValueError) as error:
        raise ValueError(f"{text!r} cannot be looked at: {error}") from error
    except BadInputError as error:
        raise ValueError(f"{error}.") from error
    port = re.fullmatch(r"COM\d{1,3}", text, re.IGNORECASE)
    if not (there or port or is_address(text) or is_server(text)):
        raise ValueError(f"{text!r} is not there: a number of the list, a port or an address.")
    if path.is_dir():
        raise ValueError(f"{text!r} is a folder.")
    return Meant(text)


def _recorded(path: Path) -> tuple[str, dict[str, Any]]:
    """Return the profile that reads a recording, and its settings.

    Raises:
        BadInputError: no recording, or one that needs a profile of its own.
    """
    try:
        recording = recordings.from_text(path.read_text("utf-8"), str(path))
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(str(path), "", f"cannot be read: {unread(error)}") from error
    if recording.profile not in profiles.names():
        raise BadInputError(
            str(path),
            "profile",
            "it was made with a profile of its own",
            "name the port first, then that profile's file",
        )
    profile = recording.level_profile()
    read = recordings.decoded(profile, recording.chunks).splitlines()
    if not any(line[:1].isdigit() for line in read):
        raise BadInputError(str(path), "", "nothing in it can be read")
    return recording.profile, recording.settings


async def _profile(talk: Talk, guess: str, where: str) -> str:
    """Ask which profile reads the level; a guess is no more than one."""
    kinds = "  ".join(profiles.names())
    can_learn = not is_server(where)
    sounds_like = (f"What comes from {where} sounds like {guess}.",)
    heard_as = sounds_like if guess else _no_kind_fits(where, can_learn=can_learn)

    def read(text: str) -> str:
        if text in profiles.names() or (text == LEARN and can_learn):
            return text
        try:
            path = Path(understood.words(text)).resolve()
            profiles.for_level(LevelEntry(name="level", profile=str(path)), Path())
        except (BadInputError, OSError, ValueError) as error:
            raise ValueError(f"{error}") from error
        return str(path)

    return await talk.ask(
        Question(
            f"profile {where}",
            "profile of the level",
            "Which profile reads it: a kind, or the file of your own?",
            read,
            (*heard_as, f"  {kinds}"),
            default=guess or (LEARN if can_learn else None),
        )
    )


def _no_kind_fits(where: str, *, can_learn: bool) -> tuple[str, ...]:
    """Say what can be done where no shipped profile reads what comes."""
    by_motions = (
        f"{LEARN} finds its format from motions you make with it, about three minutes, and",
        "writes a profile into this folder. If you know the format, name the kind, or",
        "the file of a profile of your own (docs/profiles.md). The kinds:",
    )
    by_hand = (
        "If you know its format, name the kind; or write its profile beside the job:",
        "`stillblade levels show KIND` prints one to begin with, and docs/profiles.md",
        "explains three line by line. The kinds:",
    )
    return (
        f"No shipped profile is sure to read what comes from {where}.",
        *(by_motions if can_learn else by_hand),
    )


async def _as_it_is(talk: Talk, entry: LevelEntry, patience: Patience) -> LevelEntry:
    """Show the level live, and settle what differs on this very instrument."""
    target = Target(entry, profiles.for_level(entry, Path()))

    async def named(ear: Ear) -> LevelEntry:
        await first_words(ear, FIRST_S)
        names = Counter(
            name.decode("ascii", "replace")
            for chunk in ear.chunks
            for name in XDR_ANGLE.findall(chunk.data or b"")
        )
        if entry.profile != "nmea-xdr" or len(names) < 2:
            return entry
        shown = {one: one for one, _ in names.most_common()}
        source = await talk.ask(
            Question(
                f"angle {entry.port}",
                "name of the angle",
                "Which of them is the angle of the level?",
                lambda text: understood.choice(text, shown),
                (f"It sends several angles: {', '.join(shown)}. A heading is none of a level.",),
            )
        )
        return _laid(entry, {"fields": {"angle": {"source": source}}})

    entry = await heard(target, patience, named)
    target = Target(entry, profiles.for_level(entry, Path()))

    async def believed(ear: Ear) -> LevelEntry:
        await first_words(ear, FIRST_S)
        await _moves(talk, ear, entry.port)
        settled = await _convention(talk, ear, target)
        return await _step(talk, ear, settled, target)

    return await heard(target, patience, believed)


async def _moves(talk: Talk, ear: Ear, where: str) -> None:
    """Show the number until the person has seen it follow the level."""

    def read(text: str) -> bool:
        if not understood.yes(text):
            raise ValueError("Then it is another one, or another profile: type back.")
        if not ear.samples:
            raise ValueError(f"No number has come so far.{now(ear)}. Type back to choose again.")
        return True

    await talk.ask(
        Question(
            f"moves {where}",
            "the number follows the level",
            "Tilt the level: does the number follow? yes or no",
            read,
        ),
        lambda: now(ear),
    )


async def _convention(talk: Talk, ear: Ear, level: Target) -> LevelEntry:
    """Ask what a single angle means where the profile is a shipped one, which cannot know."""
    shipped = level.entry.profile in profiles.names()
    if not shipped or "convention" in level.entry.settings or level.profile.convention != "planar":
        return level.entry
    convention = await talk.ask(
        Question(
            f"convention {level.entry.port}",
            "what the angle means",
            "Does the number stay, or does it shrink?",
            lambda text: understood.choice(text, {"stays": "planar", "shrinks": "projection"}),
            (
                "Levels differ in what they call the angle, and a wrong guess costs degrees.",
                "Lay it on something that slopes by 20 to 40 degrees, then roll it sideways by",
                "about 30, its base still up the slope, and watch the number:",
                "     stays     or nearly: the angle in its own plane",
                "     shrinks   by some degrees: the tilt of one axis",
            ),
        ),
        lambda: now(ear),
    )
    if convention == level.profile.convention:
        return level.entry
    fields = level.profile.model_dump(mode="json", exclude_unset=True)["fields"]
    return _laid(level.entry, {"convention": convention, "fields": fields})


async def _step(talk: Talk, ear: Ear, entry: LevelEntry, level: Target) -> LevelEntry:
    """Ask for the last digit that a level of a shipped kind sends; it is seen as the level moves."""
    if entry.profile not in profiles.names() or "resolution_deg" in entry.settings:
        return entry

    def read(text: str) -> float:
        if text != "seen":
            return understood.angle(text, 0.0, 5.0)
        seen = smallest_step(ear.angles)
        if seen is None:
            raise ValueError(
                "It has not been seen yet: tilt the level slowly for a few seconds, or type it."
            )
        return seen

    def now_and_seen() -> str:
        seen = smallest_step(ear.angles)
        return now(ear) + (f"   smallest step {seen:g}" if seen is not None else "")

    step = await talk.ask(
        Question(
            f"step {entry.port}",
            "smallest step",
            "What is its smallest step, degrees?",
            read,
            (
                "What a level rounds away is counted. Tilt it slowly, so that all its digits",
                "run; or type the step that its last digit counts by.",
            ),
            default="seen",
            keep=lambda value: f"{value:g}",
        ),
        now_and_seen,
    )
    return entry if step == level.profile.resolution_deg else _laid(entry, {"resolution_deg": step})


def _laid(entry: LevelEntry, tables: dict[str, Any]) -> LevelEntry:
    return entry.model_copy(update={"settings": laid_over(entry.settings, tables)})
