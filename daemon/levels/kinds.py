"""`stillblade levels list`, `show`, `try`: kinds of level, and what one makes of a recording."""

from pathlib import Path
from typing import TextIO

from drivers import profiles
from drivers.recordings import decoded, from_text
from shared.errors import BadInputError, unread
from shared.job import LevelEntry


def list_kinds(out: TextIO) -> int:
    """Print every shipped profile: kind, what it reports, how it is connected, title."""
    for kind in profiles.names():
        profile = profiles.load(kind)
        print(
            f"{kind:14} {profile.convention:11} {profile.transport.link:11} {profile.title}",
            file=out,
        )
    return 0


def show_kind(kind: str, out: TextIO) -> int:
    """Print a shipped profile as it is written.

    Raises:
        BadInputError: there is none of that kind.
    """
    out.write(profiles.text_of(kind))
    return 0


def try_out(profile: str, recording: Path, out: TextIO) -> int:
    """Print what a profile, a shipped kind or a file, makes of a recording's bytes.

    Returns:
        1 where no angle comes of them.

    Raises:
        BadInputError: no such profile, no recording, or a line of it is damaged.
    """
    entry = LevelEntry(name="level", profile=profile)
    made = profiles.for_level(entry, Path())
    try:
        text = recording.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInputError(
            str(recording),
            "",
            f"cannot be read: {unread(error)}",
            "a file that `levels capture` wrote",
        ) from error
    lines = decoded(made, from_text(text, str(recording)).chunks)
    out.write(lines)
    return 0 if any(line and not line.startswith("#") for line in lines.splitlines()) else 1
