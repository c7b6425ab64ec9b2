"""A recording: a session's header, inputs and outputs, wherever they were read from."""

from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

from shared.errors import BadInputError
from shared.events import Event, Summary
from shared.inputs import Input
from shared.job import Header


@dataclass(slots=True)
class Recording:
    """Everything that is in a session file.

    inputs: in order of time; of a session file they are read from it in every pass.
    reach_ns: the session time it is complete up to; deadlines until then have fired.
    damage: what could not be read, in words; empty for a sound file.
    notes: what a person should know of a sound file.
    """

    header: Header
    inputs: Collection[Input] = ()
    events: list[Event] = field(default_factory=list)
    reach_ns: int = 0
    damage: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def finished(self) -> bool:
        """The session has its summary."""
        return bool(self.events) and isinstance(self.events[-1].body, Summary)


SQLITE_MAGIC = b"SQLite format 3\x00"
LOOKED_AT = 1024
"""So much of a file is looked at to tell what it is: no text form has a zero byte in it."""


class LeftoverError(BadInputError):
    """A start that was cut short by a full disk or a kill: nothing was ever recorded in it."""

    def __init__(self, where: str) -> None:
        super().__init__(where, "", "it is empty: a start was cut short, so it is not a session")


def read(path: Path, *, salvage: bool = False) -> Recording:
    """Read a session file or its text form, whichever it is.

    Raises:
        BadInputError: missing, not a session, or damaged (unless `salvage`: then what can
            be read is returned and `damage` says what is missing).
        LeftoverError: nothing was ever recorded in it.
    """
    # Imported here because both readers build Recordings.
    from daemon.session import reader, text  # noqa: PLC0415

    try:
        with path.open("rb") as file:
            start = file.read(LOOKED_AT)
            nothing = not any(start) and not any(
                any(part) for part in iter(lambda: file.read(1 << 20), b"")
            )
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    if nothing:
        raise LeftoverError(str(path))
    database = start.startswith(SQLITE_MAGIC) or 0 in start
    recording = reader.read(path) if database else text.read(path)
    if recording.damage and not salvage:
        raise BadInputError(
            str(path),
            "",
            "the session is damaged: " + "; ".join(recording.damage[:3]),
            "'stillblade text' writes what can still be read, 'stillblade run' continues from it",
        )
    return recording
