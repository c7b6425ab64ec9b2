"""A recording: a session's header, inputs and outputs, wherever they were read from."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from shared.errors import BadInputError
from shared.events import Event, Summary
from shared.inputs import Input
from shared.job import Header


@dataclass(slots=True)
class Recording:
    """Everything that is in a session file.

    reach_ns: the session time it is complete up to; deadlines until then have fired.
    damage: what could not be read, in words; empty for a sound file.
    """

    header: Header
    inputs: list[Input] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    reach_ns: int = 0
    damage: list[str] = field(default_factory=list)

    @property
    def finished(self) -> bool:
        """The session has its summary."""
        return bool(self.events) and isinstance(self.events[-1].body, Summary)


SQLITE_MAGIC = b"SQLite format 3\x00"


def read(path: Path, *, salvage: bool = False) -> Recording:
    """Read a session file or its text form, whichever it is.

    Raises:
        BadInputError: missing, not a session, or damaged (unless `salvage`: then what can
            be read is returned and `damage` says what is missing).
    """
    # Imported here because both readers build Recordings.
    from daemon.session import store, text  # noqa: PLC0415

    try:
        with path.open("rb") as file:
            start = file.read(len(SQLITE_MAGIC))
    except OSError as error:
        raise BadInputError(str(path), "", f"cannot be read: {error.strerror}") from error
    if not start:
        raise BadInputError(str(path), "", "the file is empty, so it is not a session")
    reader: Callable[[Path], Recording] = store.read if start == SQLITE_MAGIC else text.read
    recording = reader(path)
    if recording.damage and not salvage:
        raise BadInputError(
            str(path),
            "",
            "the session is damaged: " + "; ".join(recording.damage[:3]),
            "'stillblade text' writes what can still be read",
        )
    return recording
